"""The run store: every finished replication kept at once, in one SQLite file that commands share.

A replication is found again by all that its numbers depend on: the resolved scenario, seed, number, and the program's
version. Each is committed as it comes, so that a study that was stopped, killed or cut off loses at most what was in
flight. Each row carries a checksum; one that does not match is as if it had never been kept.
"""

from __future__ import annotations

import math
import os
import sqlite3
import struct
import time
import zlib
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from venue.errors import InputError, RunError, one_line
from venue.scenario.load import Loaded
from venue.scenario.scenario import Scenario
from venue.study.codec import checksum, key_of, packed, past_key_of, unpacked
from venue.study.fingerprint import fingerprint
from venue.study.past import Past
from venue.study.point import Point
from venue.study.replicate import Replication

_FORMAT = 2
_APPLICATION = 0x76656E75  # "venu", in the header of the file
_PATIENCE = 30.0
# So many results a second are put on disk one by one; where more come, those of so many seconds go there together.
_ONE_BY_ONE = 100
_TOGETHER = 0.1
_IN_USE = (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED)
_NOT_OURS = (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM, sqlite3.SQLITE_AUTH)
_TABLES = {
    "setting": """CREATE TABLE setting (
    id INTEGER PRIMARY KEY, key TEXT UNIQUE NOT NULL, version TEXT NOT NULL, scenario TEXT NOT NULL,
    strength REAL NOT NULL)""",
    "replication": """CREATE TABLE replication (
    setting INTEGER NOT NULL, number INTEGER NOT NULL, result BLOB NOT NULL, checksum BLOB NOT NULL,
    PRIMARY KEY (setting, number))""",
    "past": """CREATE TABLE past (
    key TEXT NOT NULL, number INTEGER NOT NULL, day INTEGER NOT NULL, state BLOB NOT NULL, checksum BLOB NOT NULL,
    PRIMARY KEY (key, number, day)) WITHOUT ROWID""",
    "behind": """CREATE TABLE behind (setting INTEGER PRIMARY KEY, past TEXT NOT NULL)""",
    "study": """CREATE TABLE study (
    id INTEGER PRIMARY KEY, key TEXT UNIQUE NOT NULL, kind TEXT NOT NULL, venue TEXT NOT NULL, source TEXT NOT NULL,
    version TEXT NOT NULL, began REAL NOT NULL, last REAL NOT NULL, wanted INTEGER NOT NULL)""",
    "member": """CREATE TABLE member (
    study INTEGER NOT NULL, place INTEGER NOT NULL, setting INTEGER NOT NULL, name TEXT NOT NULL,
    PRIMARY KEY (study, place)) WITHOUT ROWID""",
}
# A replication takes some kilobytes; bytes that are larger, or unpack to more, are none of ours.
_LARGEST = 1 << 26
# Seconds since 1970 that a calendar has a date for.
_LATEST = 1e11


class Store:
    """An open store.

    Parameters
    ----------
    path
        The file; made, with its folder, if it is not there.
    notice
        Told in a sentence when a damaged store was set aside and a new one begun, and when the file is another user's.
    to_read
        Whether it is only looked into: a store that must not be written will do, and none is made.

    Raises
    ------
    InputError
        If the file cannot be used: it is something else, of another format, or must not be written.
    RunError
        If it is locked, or the disk is full.
    """

    def __init__(
        self, path: str | Path, notice: Callable[[str], None] = lambda text: None, *, to_read: bool = False
    ) -> None:
        self.path = Path(path)
        self._notice = notice
        self._to_read = to_read
        self._keys: dict[tuple[int, int], tuple[Scenario, Scenario | None, str]] = {}
        self._past_keys: dict[int, tuple[Scenario, str]] = {}
        try:
            if not to_read:
                self.path.parent.mkdir(parents=True, exist_ok=True)
            self._check_file()
        except OSError as error:
            raise InputError(f"--store {path}: cannot be used ({error.strerror}); name another file") from None
        self._came: deque[float] = deque(maxlen=_ONE_BY_ONE)
        self._waited = 0.0
        self._connection = self._open()

    def _check_file(self) -> None:
        """Refuse what is no store of ours; set aside one that lacks its end."""
        if not self.path.exists():
            return
        if self.path.is_dir():
            raise InputError(f"--store {self.path}: is a folder, must be a file; name one in it")
        if not self.path.is_file():
            raise InputError(f"--store {self.path}: is no plain file; name another")
        if hasattr(os, "getuid") and self.path.stat().st_uid != os.getuid():
            self._notice(f"the store {self.path} is another user's; what it holds is believed: use only what you trust")
        with self.path.open("rb") as file:
            head = file.read(100)
        if not head:
            return
        ours = head[68:72] == _APPLICATION.to_bytes(4, "big")
        if not head.startswith(b"SQLite format 3\0") or not (ours or head[68:72] == bytes(4)):
            raise InputError(f"--store {self.path}: is not a store of replications; name another file")
        size = int.from_bytes(head[16:18], "big")
        pages = int.from_bytes(head[28:32], "big")
        # Without its journal the file must be as long as its head says.
        journal = Path(f"{self.path}-wal")
        journalled = journal.exists() and journal.stat().st_size > 0
        if ours and not journalled and self.path.stat().st_size < pages * (65536 if size == 1 else size):
            if self._to_read:
                raise RunError(f"--store {self.path}: is damaged, it lacks its end; take it away")
            self._set_aside()

    def _set_aside(self) -> None:
        aside = Path(f"{self.path}.damaged")
        self.path.replace(aside)
        for ending in ("-wal", "-shm"):
            Path(f"{self.path}{ending}").unlink(missing_ok=True)
        self._notice(f"the store {self.path} was damaged and is set aside as {aside}; a new one is begun")

    def _open(self) -> sqlite3.Connection:
        with self._told():
            connection = self._connect()
            try:
                connection.execute("PRAGMA trusted_schema = OFF")
                missing = self._missing(connection)
                if missing and self._to_read:
                    raise RunError(f"--store {self.path}: is no whole store; run a study with it")
                if not self._to_read:
                    # A write-ahead log: readers and a writer do not wait for one another, a kill leaves whole rows.
                    _patiently(lambda: connection.execute("PRAGMA journal_mode = WAL"))
                    connection.execute("PRAGMA synchronous = FULL")
                if missing:
                    _patiently(lambda: self._create(connection))
            except BaseException:
                connection.close()
                raise
        return connection

    def _connect(self) -> sqlite3.Connection:
        if not self._to_read:
            return sqlite3.connect(self.path, timeout=_PATIENCE, isolation_level=None)
        # Where nothing may be written beside it, nobody writes to it either.
        fixed = "" if os.access(self.path.absolute().parent, os.W_OK) else "&immutable=1"
        where = f"{self.path.absolute().as_uri()}?mode=ro{fixed}"
        return sqlite3.connect(where, timeout=_PATIENCE, isolation_level=None, uri=True)

    def _missing(self, connection: sqlite3.Connection) -> list[str]:
        """Tables that are not there yet. What is there must be a store's, and nothing else: a view may never end."""
        connection.execute("BEGIN")
        try:
            found = connection.execute("PRAGMA user_version").fetchone()[0]
            there = connection.execute("SELECT name, type, sql FROM sqlite_master WHERE sql IS NOT NULL").fetchall()
        finally:
            connection.execute("COMMIT")
        if found not in (0, _FORMAT) or (found == 0 and there):
            raise InputError(
                f"--store {self.path}: was made by another version of venue (format {found}, this one keeps "
                f"{_FORMAT}); name another file, or take it away"
            )
        for name, kind, made in there:
            if kind != "table" or name not in _TABLES or made.split() != _TABLES[name].split():
                raise InputError(f"--store {self.path}: holds a {kind} {name} that no store of venue has; name another")
        return [name for name in _TABLES if name not in [row[0] for row in there]]

    def _create(self, connection: sqlite3.Connection) -> None:
        """Make what is missing, in one go: other commands may open the same new file now."""
        connection.execute("BEGIN IMMEDIATE")
        try:
            for statement in _TABLES.values():
                connection.execute(statement.replace("CREATE TABLE", "CREATE TABLE IF NOT EXISTS", 1))
            connection.execute(f"PRAGMA application_id = {_APPLICATION}")
            connection.execute(f"PRAGMA user_version = {_FORMAT}")
        except BaseException:
            if connection.in_transaction:
                connection.execute("ROLLBACK")
            raise
        connection.execute("COMMIT")

    @contextmanager
    def _told(self) -> Iterator[None]:
        """SQLite's errors in the words of this program."""
        try:
            yield
        except sqlite3.Error as error:
            raise self._error(error) from error

    def _error(self, error: sqlite3.Error) -> InputError | RunError:
        what, text, code = f"--store {self.path}", str(error), _code(error)
        if code in (sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR):
            return RunError(f"{what}: the disk is full; what was kept stays, make room and the same command goes on")
        if code in _IN_USE:
            return RunError(f"{what}: is locked by another program for {_PATIENCE:g} s; wait, or name another file")
        if code in _NOT_OURS:
            return InputError(f"{what}: cannot be written ({text}); name a file of your own, or say --no-store")
        if code in (sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_CORRUPT):
            return RunError(f"{what}: is damaged ({text}); take it away, and the same command begins a new one")
        return RunError(f"{what}: failed ({text}); name another file, or say --no-store")

    def close(self) -> None:
        """Close the file."""
        self._connection.close()

    # -- replications -------------------------------------------------------------------------------------------------

    def begin(
        self, kind: str, variants: Sequence[tuple[str, Loaded, Scenario | None]], wanted: int, study: int | None = None
    ) -> int:  # fmt: skip
        """Note a study, or what is new of one that was noted; its number.

        Parameters
        ----------
        kind
            What kind of study it is.
        variants
            Its scenarios by name, each with the venue as it is in the time before (None where there is none).
        wanted
            How many replications it wants.
        study
            Its number, if it was begun with some of these variants.
        """
        keys = [self._key(loaded.scenario, today) for _, loaded, today in variants]
        first, now = variants[0][1], time.time()
        with self._told(), self._writing() as cursor:
            for key, (_, loaded, today) in zip(keys, variants, strict=True):
                cursor.execute(
                    "INSERT OR IGNORE INTO setting (key, version, scenario, strength) VALUES (?, ?, ?, ?)",
                    (key, fingerprint(), loaded.to_toml(), loaded.scenario.study.strength),
                )
                if today is not None:
                    cursor.execute(
                        "INSERT OR IGNORE INTO behind (setting, past) SELECT id, ? FROM setting WHERE key = ?",
                        (self._past_key(today), key),
                    )
            if study is None:
                name = " ".join([kind, *keys])
                cursor.execute(
                    "INSERT OR IGNORE INTO study (key, kind, venue, source, version, began, last, wanted) "
                    "VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
                    (name, kind, first.scenario.venue.name, one_line(first.source), fingerprint(), now, now, wanted),
                )
                study = int(cursor.execute("SELECT id FROM study WHERE key = ?", (name,)).fetchone()[0])
            cursor.execute("UPDATE study SET last = ?, wanted = max(wanted, ?) WHERE id = ?", (now, wanted, study))
            cursor.executemany(
                "INSERT OR IGNORE INTO member (study, place, setting, name) "
                "SELECT ?, ?, id, ? FROM setting WHERE key = ?",
                [(study, place, one_line(variants[place][0]), key) for place, key in enumerate(keys)],
            )
        return study

    @contextmanager
    def _writing(self) -> Iterator[sqlite3.Cursor]:
        cursor = self._connection.cursor()
        cursor.execute("BEGIN IMMEDIATE")
        try:
            yield cursor
        except BaseException:
            if self._connection.in_transaction:
                cursor.execute("ROLLBACK")
            raise
        cursor.execute("COMMIT")

    def _key(self, scenario: Scenario, today: Scenario | None = None) -> str:
        """Key of a scenario, and of the venue as it is in the time before, worked out once."""
        pair = id(scenario), id(today)
        if pair not in self._keys:
            behind = "" if today is None else self._past_key(today)
            self._keys[pair] = scenario, today, key_of(scenario, behind)
        return self._keys[pair][2]

    def _past_key(self, today: Scenario) -> str:
        if id(today) not in self._past_keys:
            self._past_keys[id(today)] = today, past_key_of(today)
        return self._past_keys[id(today)][1]

    def read_past(self, today: Scenario, numbers: Sequence[int], day: int) -> dict[int, Past]:
        """What lies behind a venue by the number of the replication, up to a day: those that are there and whole."""
        key = self._past_key(today)
        with self._told():
            rows = self._connection.execute(
                "SELECT number, state, checksum FROM past WHERE key = ? AND day = ? AND number BETWEEN ? AND ?",
                (key, day, min(numbers), max(numbers)),
            ).fetchall()
        found = {}
        for number, state, mark in rows:
            if number in numbers and checksum(f"{key} {day}", number, state) == mark:
                with suppress(ValueError, struct.error):
                    found[number] = Past.unpacked(state, number)
        return found

    def keep_past(self, today: Scenario, past: Past) -> None:
        """Keep what lies behind a venue."""
        key, state = self._past_key(today), past.packed()
        with self._told():
            self._connection.execute(
                "INSERT OR REPLACE INTO past (key, number, day, state, checksum) VALUES (?, ?, ?, ?, ?)",
                (key, past.replication, past.day, state, checksum(f"{key} {past.day}", past.replication, state)),
            )

    def read(
        self, scenario: Scenario, numbers: Sequence[int], today: Scenario | None = None
    ) -> dict[int, Replication]:  # fmt: skip
        """Stored replications of a variant, those of the numbers asked for that are there and whole.

        Parameters
        ----------
        today
            The venue as it is in the time before; None where there is none.
        """
        if not numbers:
            return {}
        key = self._key(scenario, today)
        with self._told():
            rows = self._connection.execute(
                "SELECT number, result, checksum FROM replication JOIN setting ON setting.id = setting "
                "WHERE key = ? AND number BETWEEN ? AND ?",
                (key, min(numbers), max(numbers)),
            ).fetchall()
        wanted = set(numbers)
        return _whole(key, scenario.study.strength, (row for row in rows if row[0] in wanted))

    def keep(self, scenario: Scenario, replication: Replication, today: Scenario | None = None) -> None:
        """Keep a replication; when this returns it is on disk, and a kill cannot touch it.

        Where more than a hundred come in a second, the disk is waited for every tenth of a second, and a power cut may
        cost those since.
        """
        key, number, kept = self._key(scenario, today), replication.task.replication, packed(replication)
        with self._told():
            self._connection.execute(f"PRAGMA synchronous = {'FULL' if self._must_wait() else 'NORMAL'}")
            self._connection.execute(
                "INSERT OR REPLACE INTO replication (setting, number, result, checksum) "
                "SELECT id, ?, ?, ? FROM setting WHERE key = ?",
                (number, kept, checksum(key, number, kept), key),
            )

    def _must_wait(self) -> bool:
        """Whether to wait for the disk with the result that has come, and so for all before it."""
        now = time.monotonic()
        crowded = len(self._came) == _ONE_BY_ONE and now - self._came[0] < 1.0
        self._came.append(now)
        if crowded and now - self._waited < _TOGETHER:
            return False
        self._waited = now
        return True

    # -- what is there ------------------------------------------------------------------------------------------------

    def studies(self) -> list[KeptStudy]:
        """Every study noted, the one used last first."""
        with self._told():
            rows = self._connection.execute(
                "SELECT study.id, kind, venue, source, study.version, began, last, wanted, "
                "(SELECT count(*) FROM member WHERE member.study = study.id), "
                "(SELECT count(*) FROM replication "
                " WHERE setting IN (SELECT setting FROM member WHERE member.study = study.id)) "
                "FROM study ORDER BY last DESC, study.id DESC"
            ).fetchall()
        return [self._study(row) for row in rows]

    def _study(self, row: tuple[Any, ...]) -> KeptStudy:
        """A study as the store has it, each value of its kind: SQLite keeps any value in any column."""
        number, kind, venue, source, version, began, last, wanted, settings, kept = row
        if not (
            all(isinstance(word, str) for word in (kind, venue, source, version))
            and all(isinstance(value, float) and 0.0 <= value <= _LATEST for value in (began, last))
            and isinstance(wanted, int)
        ):
            raise self._damaged(number)
        return KeptStudy(number, kind, venue, source, version, began, last, wanted, settings, kept)

    def _damaged(self, study: int) -> RunError:
        return RunError(f"--store {self.path}: is damaged (study {study}); take it away, or prune that study")

    def settings(self, study: int) -> list[tuple[str, Point]]:
        """Settings of a study by name, with the whole replications that are kept of each."""
        with self._told():
            rows = self._connection.execute(
                "SELECT name, setting.id, key, strength FROM member JOIN setting ON setting.id = member.setting "
                "WHERE study = ? ORDER BY place",
                (study,),
            ).fetchall()
            found = []
            for name, setting, key, strength in rows:
                if not (isinstance(name, str) and isinstance(strength, float) and math.isfinite(strength)):
                    raise self._damaged(study)
                kept = self._connection.execute(
                    "SELECT number, result, checksum FROM replication WHERE setting = ? ORDER BY number", (setting,)
                )
                found.append((name, Point(strength, tuple(_whole(key, strength, kept).values()))))
        return found

    def prune(self, studies: Sequence[int]) -> int:
        """Forget studies, and the replications that no other study holds; how many replications that were."""
        with self._told():
            with self._writing() as cursor:
                for study in studies:
                    cursor.execute("DELETE FROM member WHERE study = ?", (study,))
                    cursor.execute("DELETE FROM study WHERE id = ?", (study,))
                cursor.execute("DELETE FROM setting WHERE id NOT IN (SELECT setting FROM member)")
                gone = cursor.execute("DELETE FROM replication WHERE setting NOT IN (SELECT id FROM setting)").rowcount
                cursor.execute("DELETE FROM behind WHERE setting NOT IN (SELECT id FROM setting)")
                cursor.execute("DELETE FROM past WHERE key NOT IN (SELECT past FROM behind)")
            self._connection.execute("VACUUM")
            self._connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        return gone


def _code(error: sqlite3.Error) -> int:
    """SQLite's primary result code: the low byte of an extended one; 0 for an error of the Python module itself."""
    return getattr(error, "sqlite_errorcode", 0) & 0xFF


def _patiently(work: Callable[[], object]) -> None:
    """Do what SQLite refuses at once, without waiting, while another program does the same."""
    until = time.monotonic() + _PATIENCE
    while True:
        try:
            work()
            return
        except sqlite3.OperationalError as error:
            if _code(error) not in _IN_USE or time.monotonic() > until:
                raise
            time.sleep(0.02)


def _whole(key: str, strength: float, rows: Iterable[tuple[int, bytes, bytes]]) -> dict[int, Replication]:
    """Replications by number, of the rows (number, bytes, checksum) that are what was kept."""
    found = {}
    for number, kept, mark in rows:
        if isinstance(kept, bytes) and len(kept) <= _LARGEST and checksum(key, number, kept) == mark:
            try:
                found[number] = unpacked(kept, strength, number)
            except (ValueError, KeyError, TypeError, RecursionError, struct.error, zlib.error):
                continue
    return found


@dataclass(frozen=True)
class KeptStudy:
    """A study in the store: times in seconds since 1970, replications wanted and kept."""

    number: int
    kind: str
    venue: str
    source: str
    version: str
    began: float
    last: float
    wanted: int
    settings: int
    kept: int

    @property
    def current(self) -> bool:
        """Whether it was made by this very program, and so would be used again."""
        return self.version == fingerprint()
