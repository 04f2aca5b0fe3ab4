"""The run store: nothing lost, nothing run twice, and never a wrong number, whatever happens to the file."""

from __future__ import annotations

import os
import random
import signal
import sqlite3
import subprocess
import sys
import time
import zlib
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

import venue
from venue.errors import InputError, RunError
from venue.scenario.scenario import Scenario
from venue.study import fingerprint as fingerprint_module
from venue.study import store as store_module
from venue.study.codec import key_of, packed, unpacked
from venue.study.observer import Observer
from venue.study.replicate import Bench, Replication, Task
from venue.study.results import SweepResult
from venue.study.store import Store

from ..cli.building import ROOT, SMALL
from .test_workers import check_same_replications as check_same_rows
from .test_workers import small

STRENGTHS = (0.0, 1.0)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "kept" / "replications.sqlite"


def swept(path: Path | None, **more: object) -> SweepResult:
    return venue.sweep(small(), strengths=STRENGTHS, replications=3, seed=7, days=1, store=path, **more)  # type: ignore[arg-type]


@cache
def fresh() -> SweepResult:
    """The sweep without any store."""
    return swept(None)


def check_same(first: SweepResult, second: SweepResult) -> None:
    """Equal to the last bit, machines, hours, accounts and all."""
    assert first.to_dict() == second.to_dict()
    for one, other in zip(first.points, second.points, strict=True):
        for a, b in zip(one.replications, other.replications, strict=True):
            assert packed(a)[2:] and {**vars(a), "seconds": 0, "measured": 0} == {
                **vars(b),
                "seconds": 0,
                "measured": 0,
            }
            np.testing.assert_array_equal(a.measured.hourly, b.measured.hourly)
            np.testing.assert_equal(a.measured.machines, b.measured.machines)
            assert a.measured.left_because == b.measured.left_because


@pytest.fixture
def no_floor(monkeypatch: pytest.MonkeyPatch) -> Callable[[], None]:
    """Call it, and whatever is run from then on is a failure."""

    def fail(bench: Bench, scenario: Scenario, number: int) -> Replication:
        raise AssertionError("it was run")

    return lambda: monkeypatch.setattr(Bench, "run", fail)


def test_what_is_stored_takes_no_simulation_and_has_the_same_bits(path: Path, no_floor: Callable[[], None]) -> None:
    check_same(fresh(), swept(path))
    no_floor()
    check_same(fresh(), swept(path))
    with pytest.raises(RunError, match="it was run"):
        venue.sweep(small(), strengths=STRENGTHS, replications=4, seed=7, days=1, store=path)


def test_a_replication_reads_back_to_the_same_bits() -> None:
    replication = venue.run(small(), replications=1).point.replications[0]
    again = unpacked(packed(replication), replication.task.strength, 0)
    assert packed(again) == packed(replication)
    np.testing.assert_equal(again.measured.venue, replication.measured.venue)


def test_a_key_is_all_that_numbers_depend_on(monkeypatch: pytest.MonkeyPatch) -> None:
    base = small()
    same = [base.change(replications=99), base.change(keep_return_28d=0.01), base.vary(['about="another"'])]
    other = [
        base.change(seed=8), base.change(days=4), base.change(strength=0.5), base.vary(["machines.solo.price=2"]),
        base.vary(['venue.hours.monday="closed"']),
    ]  # fmt: skip
    key = key_of(base.scenario)
    assert {key_of(item.scenario) for item in same} == {key}
    assert len({key, *(key_of(item.scenario) for item in other)}) == 6
    turned = base.scenario.model_copy(update={"machines": dict(reversed(base.scenario.machines.items()))})
    assert key_of(turned) != key
    monkeypatch.setattr("venue.study.codec.fingerprint", lambda: "another program")
    assert key_of(base.scenario) != key


def test_another_program_is_not_served_old_numbers(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    swept(path)
    monkeypatch.setattr("venue.study.codec.fingerprint", lambda: "another program")
    counted: list[tuple[int, int]] = []
    swept(path, progress=lambda done, total: counted.append((done, total)))
    assert counted[0] == (1, 6)


# -- killed, and gone on with -----------------------------------------------------------------------------------------

SLOW = SMALL.replace("= 4, from", "= 25, from").replace("days = 4", "days = 6")


def killed_and_resumed(folder: Path, kills: int, workers: str) -> None:
    """A sweep killed without warning at random moments, then finished, prints what one prints that was left alone."""
    (folder / "slow.toml").write_text(SLOW)
    words = ["sweep", "slow.toml", "--strengths", "0,2", "--replications", "12", "--workers", workers, "--json"]
    command = [sys.executable, "-m", "venue", *words]
    surroundings = {**os.environ, "PYTHONPATH": str(ROOT)}
    whole = subprocess.run([*command, "--no-store"], cwd=folder, env=surroundings, capture_output=True, check=True)
    surroundings["VENUE_STORE"] = str(folder / "kept.sqlite")
    moment = random.Random(int(workers))
    struck = 0
    for _ in range(kills):
        child = subprocess.Popen(command, cwd=folder, env=surroundings, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        try:
            child.wait(timeout=moment.uniform(0.8, 2.5))
        except subprocess.TimeoutExpired:
            child.send_signal(signal.SIGKILL)
            struck += 1
        child.communicate(timeout=60)
        assert child.returncode in (0, -signal.SIGKILL)
    assert struck
    last = subprocess.run(command, cwd=folder, env=surroundings, capture_output=True, check=True)
    assert last.stdout == whole.stdout and not last.stderr
    assert not orphans(folder)


def orphans(folder: Path) -> list[str]:
    """Processes still at work in a folder after a moment to end."""
    for _ in range(50):
        found = []
        for process in Path("/proc").glob("[0-9]*"):
            try:
                if (process / "cwd").readlink() == folder and "State:\tZ" not in (process / "status").read_text():
                    found.append(process.name)
            except OSError:
                continue
        if not found:
            return []
        time.sleep(0.1)
    return found


@pytest.mark.slow
@pytest.mark.parametrize("workers", ["1", "2"])
def test_killed_at_twenty_random_moments_and_resumed(tmp_path: Path, workers: str) -> None:
    killed_and_resumed(tmp_path, 20, workers)


def test_an_interrupt_says_what_is_kept(path: Path) -> None:
    def stop(done: int, total: int) -> None:
        if done == 4:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt) as caught:
        swept(path, progress=stop)
    assert (caught.value.kept, caught.value.total, caught.value.store) == (4, 6, str(path))  # type: ignore[attr-defined]
    begun: list[int] = []

    class Beginning(Observer):
        def begun(self, kept: int, total: int) -> None:
            begun.append(kept)

    check_same(fresh(), swept(path, progress=Beginning()))
    assert begun == [4]


@pytest.mark.slow
def test_two_commands_at_once(tmp_path: Path) -> None:
    (tmp_path / "slow.toml").write_text(SLOW)
    surroundings = {**os.environ, "PYTHONPATH": str(ROOT), "VENUE_STORE": str(tmp_path / "kept.sqlite")}
    command = [sys.executable, "-m", "venue", "run", "slow.toml", "--replications", "8", "--workers", "1", "--json"]
    both = [
        subprocess.Popen(command, cwd=tmp_path, env=surroundings, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        for _ in range(2)
    ]
    (first, first_words), (second, second_words) = (child.communicate(timeout=60) for child in both)
    assert (first_words, second_words) == (b"", b"")
    assert first == second
    store = Store(tmp_path / "kept.sqlite")
    assert [(item.kept, item.wanted) for item in store.studies()] == [(8, 8)]
    store.close()


@pytest.mark.parametrize(("rate", "waits"), [(99, 300), (1000, 102)])
def test_the_disk_is_waited_for_each_time_unless_hundreds_come_in_a_second(
    path: Path, monkeypatch: pytest.MonkeyPatch, rate: int, waits: int
) -> None:
    """Three hundred results at so many a second; of a thousand a second the first hundred, then one every 0.1 s."""
    replication, loaded = fresh().points[1].replications[0], small().change(strength=1.0)
    store, now = Store(path), 1000.0
    store.begin("run", [("strength 1", loaded, None)], 300)
    monkeypatch.setattr(store_module.time, "monotonic", lambda: now)
    waited = []
    for number in range(300):
        store.keep(loaded.scenario, replace(replication, task=Task(1.0, number)))
        waited.append(store._connection.execute("PRAGMA synchronous").fetchone()[0] == 2)
        now += 1.0 / rate
    assert sum(waited) == pytest.approx(waits, abs=1)
    assert all(any(waited[start : start + rate // 10 + 1]) for start in range(200))
    assert store.studies()[0].kept == 300
    store.close()


# -- a replication that fails, a file that is not what it was ---------------------------------------------------------


def test_a_replication_that_fails_leaves_the_others_kept(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    run = Bench.run

    def fails(bench: Bench, scenario: Scenario, number: int) -> Replication:
        if number == 1 and scenario.study.strength == 1.0:
            raise ZeroDivisionError("made to fail")
        return run(bench, scenario, number)

    with monkeypatch.context() as patch:
        patch.setattr(Bench, "run", fails)
        with pytest.raises(RunError, match="seed 7: ZeroDivisionError: made to fail; the others are kept; to see it"):
            swept(path)
    done: list[int] = []
    check_same(fresh(), swept(path, progress=lambda count, total: done.append(count)))
    assert done == [6]


def test_a_row_that_was_changed_is_run_again(path: Path) -> None:
    swept(path)
    with sqlite3.connect(path) as connection:
        one, two = connection.execute("SELECT setting, number, result, checksum FROM replication LIMIT 2").fetchall()
        # The results of two replications swapped: whole, but not what they say they are.
        for (setting, number, _, _), (_, _, result, mark) in ((one, two), (two, one)):
            connection.execute("UPDATE replication SET result = ?, checksum = ? WHERE setting = ? AND number = ?",
                               (result, mark, setting, number))  # fmt: skip
    done: list[int] = []
    check_same(fresh(), swept(path, progress=lambda count, total: done.append(count)))
    assert done == [5, 6]


@pytest.mark.parametrize("share", [0.3, 0.6, 0.95])
def test_a_truncated_store_is_set_aside_and_begun_anew(path: Path, share: float) -> None:
    swept(path)
    size = path.stat().st_size
    with path.open("r+b") as file:
        file.truncate(int(size * share))
    told: list[str] = []

    class Listening(Observer):
        def noted(self, text: str) -> None:
            told.append(text)

    check_same(fresh(), swept(path, progress=Listening()))
    assert told == [f"the store {path} was damaged and is set aside as {path}.damaged; a new one is begun"]
    assert Path(f"{path}.damaged").stat().st_size == int(size * share)


def test_a_store_overwritten_in_the_middle_gives_no_wrong_number(path: Path) -> None:
    swept(path)
    for place in (4096, 9000, 20000):
        with path.open("r+b") as file:
            file.seek(place)
            file.write(os.urandom(600))
        try:
            found = swept(path)
        except RunError as error:
            assert "is damaged" in str(error)
        else:
            check_same(fresh(), found)


@pytest.mark.parametrize("content", [b"about = 'a scenario'", b"SQLite format 3", b"\0" * 4096])
def test_a_file_that_is_no_store_is_left_alone(path: Path, content: bytes) -> None:
    path.parent.mkdir()
    path.write_bytes(content)
    with pytest.raises(InputError, match="is not a store of replications; name another file"):
        swept(path)
    assert path.read_bytes() == content


def test_a_database_of_somebody_else_is_left_alone(path: Path) -> None:
    path.parent.mkdir()
    with sqlite3.connect(path) as connection:
        connection.execute("CREATE TABLE mine (x)")
    with pytest.raises(InputError, match="was made by another version of venue"):
        swept(path)
    with sqlite3.connect(path) as connection:
        assert connection.execute("SELECT name FROM sqlite_master").fetchall() == [("mine",)]


@pytest.mark.parametrize("found", [1, 7])
def test_a_store_of_another_format(path: Path, found: int) -> None:
    swept(path)
    connection = sqlite3.connect(path)
    connection.execute(f"PRAGMA user_version = {found}")
    connection.close()
    content = path.read_bytes()
    with pytest.raises(InputError, match=rf"\(format {found}, this one keeps 2\); name another file, or take it away"):
        swept(path)
    assert path.read_bytes() == content


def test_a_locked_store(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    swept(path)
    monkeypatch.setattr(store_module, "_PATIENCE", 0.1)
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    with pytest.raises(RunError, match="is locked by another program for 0.1 s"):
        venue.run(small(), replications=1, seed=99, store=path)
    other.execute("ROLLBACK")
    other.close()


def test_places_that_cannot_hold_a_store(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="is a folder, must be a file"):
        swept(tmp_path)
    (tmp_path / "file").write_text("x")
    with pytest.raises(InputError, match="cannot be used"):
        swept(tmp_path / "file" / "kept.sqlite")


def test_a_store_that_must_not_be_written(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Root writes whatever it likes, so that SQLite is told to behave as it does for others."""
    swept(path)
    connect = sqlite3.connect
    monkeypatch.setattr(
        store_module.sqlite3, "connect", lambda file, **more: connect(f"file:{file}?mode=ro", uri=True, **more)
    )
    with pytest.raises(InputError, match="cannot be written"):
        venue.run(small(), replications=1, seed=99, store=path)


@pytest.mark.skipif(os.geteuid() != 0, reason="needs leave to mount")
def test_a_full_disk(tmp_path: Path) -> None:
    place = tmp_path / "small"
    place.mkdir()
    mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=140k", "tmpfs", str(place)], capture_output=True)
    if mounted.returncode:
        pytest.skip("cannot mount here")
    try:
        with pytest.raises(RunError, match="the disk is full; what was kept stays"):
            venue.run(small(), replications=150, seed=3, days=1, store=place / "kept.sqlite")
    finally:
        subprocess.run(["umount", str(place)], check=True)


def test_a_disk_that_fills_up(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The same where nothing may be mounted: SQLite's own limit on pages stands for the disk."""
    swept(path)
    opened = Store._open

    def cramped(store: Store) -> sqlite3.Connection:
        connection = opened(store)
        connection.execute("PRAGMA max_page_count = 1")  # as many as there are
        return connection

    with monkeypatch.context() as patch:
        patch.setattr(Store, "_open", cramped)
        with pytest.raises(RunError, match="the disk is full; what was kept stays"):
            venue.run(small(), replications=40, seed=3, days=1, store=path)
    check_same(fresh(), swept(path))


# -- what is kept -----------------------------------------------------------------------------------------------------


def test_studies_are_listed_shown_and_pruned(path: Path) -> None:
    swept(path)
    venue.run(small(), strength=1.0, replications=3, seed=7, days=1, store=path)
    store = Store(path)
    run, sweep = store.studies()
    assert (run.kind, run.settings, run.kept, run.wanted, run.current) == ("run", 1, 3, 3, True)
    assert (sweep.kind, sweep.settings, sweep.kept, sweep.wanted) == ("sweep", 2, 6, 6)
    names, points = zip(*store.settings(sweep.number), strict=True)
    assert names == ("strength 0", "strength 1")
    assert points[1].measures() == fresh().points[1].measures()
    assert store.prune([sweep.number]) == 3  # the run holds the others
    assert [item.kind for item in store.studies()] == ["run"]
    assert store.prune([run.number]) == 3
    assert store.studies() == []
    store.close()


def test_rows_are_neither_kept_nor_taken_from_the_store(path: Path) -> None:
    swept(path)
    with_rows = swept(path, rows=True)
    check_same_rows(list(with_rows.points[0].replications), list(swept(None, rows=True).points[0].replications))


def test_the_fingerprint_covers_every_package_that_makes_numbers() -> None:
    # Tables, charts and commands make none.
    folder = Path(fingerprint_module.__file__).parents[1]
    packages = {item.parent.name for item in folder.glob("*/__init__.py")}
    assert packages - {"report", "cli"} == set(fingerprint_module._PARTS)


def test_a_new_store_opened_by_many_at_once(tmp_path: Path) -> None:
    path = tmp_path / "new.sqlite"
    code = "import sys; from venue.study.store import Store\nfor n in range(5): Store(sys.argv[1] + str(n)).close()"
    children = [
        subprocess.Popen([sys.executable, "-c", code, str(path)], stderr=subprocess.PIPE, text=True, cwd=ROOT)
        for _ in range(3)
    ]
    assert [child.communicate(timeout=120)[1] for child in children] == [""] * 3


def foreign(path: Path, statement: str, *values: object) -> None:
    """Do something to a store that venue would not."""
    with sqlite3.connect(path) as connection:
        connection.execute(statement, values)
    connection.close()


@pytest.mark.parametrize(
    "statement",
    [
        "ALTER TABLE study RENAME TO elsewhere",
        "CREATE VIEW more AS WITH RECURSIVE n(x) AS (SELECT 1 UNION ALL SELECT x FROM n) SELECT x FROM n",
        "CREATE TRIGGER turn AFTER INSERT ON study BEGIN DELETE FROM study; END",
        "CREATE TABLE more (x)",
    ],
)
def test_what_is_more_than_a_store_is_refused(path: Path, statement: str) -> None:
    Store(path).close()
    foreign(path, statement)
    for to_read in (False, True):
        with pytest.raises(InputError, match="that no store of venue has; name another"):
            Store(path, to_read=to_read)


def test_what_unpacks_to_more_than_a_replication_is_none() -> None:
    bomb = zlib.compress(b'{"venue": [' + b"1," * (1 << 24) + b"1]}", level=9)
    assert len(bomb) < 1 << 18
    with pytest.raises(ValueError, match="more is packed into it than any replication has"):
        unpacked(bomb, 1.0, 0)


def test_a_store_that_may_only_be_read_is_listed(path: Path) -> None:
    venue.run(small(), store=path, replications=1)
    (before,) = Store(path).studies()
    content = path.read_bytes()
    store = Store(path, to_read=True)
    assert store.studies() == [before]
    with pytest.raises((InputError, RunError)):
        store.prune([before.number])
    store.close()
    assert path.read_bytes() == content


@pytest.mark.parametrize(
    "column, value", [("began", float("inf")), ("last", "soon"), ("venue", b"\xff"), ("wanted", "x")]
)
def test_values_of_another_kind_are_a_damage(path: Path, column: str, value: object) -> None:
    venue.run(small(), store=path, replications=1)
    foreign(path, f"UPDATE study SET {column} = ?", value)
    with pytest.raises(RunError, match=r"is damaged \(study 1\)"):
        Store(path, to_read=True).studies()


def test_a_device_is_no_store() -> None:
    with pytest.raises(InputError, match="--store /dev/null: is no plain file; name another"):
        Store("/dev/null")


def test_the_store_of_another_user_is_told(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    Store(path).close()
    told: list[str] = []
    Store(path, told.append).close()
    assert told == []
    monkeypatch.setattr(os, "getuid", lambda: 12345)
    Store(path, told.append).close()
    assert told == [f"the store {path} is another user's; what it holds is believed: use only what you trust"]
