"""A folder of results: the resolved scenario, the JSON, a CSV for each table, charts as PNG and SVG, and the manifest
of them all.

The folder is checked and claimed before anything is run, and written in one go afterwards: what is there is whole.
"""

from __future__ import annotations

import fcntl
import json
import os
import shutil
import weakref
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol, TextIO

from venue.errors import Fault, InputError, RunError
from venue.report.drawing import Drawing
from venue.report.manifest import MANIFEST, Manifest
from venue.report.scenario_text import numbers_file
from venue.scenario.load import Loaded

if TYPE_CHECKING:
    from matplotlib.figure import Figure

RESULT, SCENARIO = "result.json", "scenario.toml"
_STAGING, _CLAIM = ".being-written", "claim"


class File(Protocol):
    """A table that becomes a file of its name."""

    @property
    def name(self) -> str:
        """What it is called, without an ending."""

    def to_csv(self) -> str:
        """Its text, safe for spreadsheets."""


Tables = Sequence[File]


class Folder:
    """A place for results, claimed from the start: no other command may write there meanwhile.

    Files are written to a folder next to the place, which takes its name when all are there. The claim is given up with
    the object, or with the program, however it ends.

    Parameters
    ----------
    path
        The folder; made when results are written.
    force
        Whether results of an earlier study in it may be replaced. Nothing else is ever touched.

    Raises
    ------
    InputError
        If the place cannot be used.
    """

    def __init__(self, path: str | Path, *, force: bool = False) -> None:
        self.path = Path(path)
        if not str(path).strip():
            raise InputError("--out: is empty, must be a folder; write it like --out results")
        try:
            self._check(force)
            self._claim()
        except OSError as error:
            raise InputError(f"--out {path}: cannot be used ({error.strerror}); name another folder") from None

    def _check(self, force: bool) -> None:
        path = self.path
        if path.is_symlink() and not path.exists():
            raise InputError(f"--out {path}: is a link to nothing, must be a folder; name another")
        if path.exists() and not path.is_dir():
            raise InputError(f"--out {path}: is a file, must be a folder; name another")
        if path.is_dir() and any(item.name != _STAGING for item in path.iterdir()) and not force:
            raise InputError(f"--out {path}: already holds files; add --force to replace the results in it")
        place = _place(path)
        if not place.is_dir():
            raise InputError(f"--out {path}: {place} is a file, must be a folder; name another")
        if not os.access(place, os.W_OK | os.X_OK):
            raise InputError(f"--out {path}: {place} is not writable; name a folder of your own")

    def _claim(self) -> None:
        """Make the folder that results are gathered in, and lock it: a lock ends with the program that holds it."""
        path = self.path
        made = [above for above in path.absolute().parents if not above.exists()]
        # In the place itself where that is there already: what stands above it may not be one's own.
        self._staging = staging = path / _STAGING if path.is_dir() else path.with_name(f".{path.name}{_STAGING}")
        staging.mkdir(parents=True, exist_ok=True)
        lock = (staging / _CLAIM).open("w")
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
            if not os.path.samestat(os.fstat(lock.fileno()), (staging / _CLAIM).stat()):
                raise FileNotFoundError  # another command has just finished, and took it away
        except OSError:
            lock.close()
            raise InputError(
                f"--out {path}: another command is writing there; wait for it, or name another folder"
            ) from None
        for left in staging.iterdir():  # by a command that was killed
            if left.name != _CLAIM:
                left.unlink()
        self._give_up = weakref.finalize(self, _give_up, lock, staging, made)

    def write(self, result: dict[str, Any], loaded: Loaded, tables: Tables, charts: Mapping[str, Figure]) -> None:
        """Write everything, whole or not at all, and give up the claim.

        Raises
        ------
        RunError
            If the place has become unusable since it was checked.
        """
        staging = self._staging
        try:
            try:
                (staging / SCENARIO).write_text(loaded.to_toml(), encoding="utf-8")
                text = json.dumps(result, allow_nan=False, indent=1)
                (staging / RESULT).write_text(text + "\n", encoding="utf-8")
                with Drawing(charts, staging):
                    for name, text in csv_texts(loaded, tables).items():
                        (staging / f"{name}.csv").write_text(text, encoding="utf-8", newline="")
                self._take(Manifest.of(staging, but=_CLAIM))
            finally:
                self._give_up()
        except OSError as error:
            why = error.strerror or error
            raise RunError(f"--out {self.path}: could not be written ({why}); name another folder") from error

    def _take(self, manifest: Manifest) -> None:
        """Move finished files to their place, and earlier results out of it."""
        path, staging = self.path, self._staging
        for name in (*manifest.files, MANIFEST):
            if (path / name).is_dir():
                raise RunError(f"--out {path}: {name} in it is a folder, must be a file; move it away")
        manifest.write(staging)
        if not path.exists():
            staging.rename(path)
            (path / _CLAIM).unlink()
            return
        # Without a manifest nobody takes what is there for results.
        gone = _earlier(path)
        (path / MANIFEST).unlink(missing_ok=True)
        for name in gone:
            (path / name).unlink(missing_ok=True)
        for name in (*manifest.files, MANIFEST):
            (staging / name).replace(path / name)


def _earlier(path: Path) -> Iterable[str]:
    """Files of the results that stand in a folder, as their manifest has them."""
    try:
        return [name for name in Manifest.read(path).files if not (path / name).is_dir()]
    except (Fault, OSError):
        return []


def _give_up(lock: TextIO, staging: Path, made: Sequence[Path]) -> None:
    """Take away what was made to claim a place, and is not in use."""
    shutil.rmtree(staging, ignore_errors=True)
    lock.close()
    for folder in made:
        try:
            folder.rmdir()
        except OSError:
            break


def csv_texts(loaded: Loaded, tables: Tables) -> dict[str, str]:
    """Every table as CSV by name, with one of the scenario's numbers and their origins; safe for spreadsheets."""
    return {table.name: table.to_csv() for table in (*tables, numbers_file(loaded))}


def _place(path: Path) -> Path:
    """The folder itself, or the nearest thing above it that exists."""
    above = path.absolute()
    while not above.exists():
        above = above.parent
    return above
