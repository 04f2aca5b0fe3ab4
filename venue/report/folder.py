"""A folder of results: the resolved scenario, the JSON, a CSV for each table, charts as PNG and SVG.

The folder is checked before anything is run, and written in one go afterwards: what is there is whole.
"""

from __future__ import annotations

import json
import os
import shutil
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from venue.errors import InputError, RunError
from venue.report.drawing import Drawing
from venue.report.scenario_text import numbers_file
from venue.scenario.load import Loaded

if TYPE_CHECKING:
    from matplotlib.figure import Figure

RESULT, SCENARIO = "result.json", "scenario.toml"


class File(Protocol):
    """A table that becomes a file of its name."""

    @property
    def name(self) -> str:
        """What it is called, without an ending."""

    def to_csv(self) -> str:
        """Its text, safe for spreadsheets."""


Tables = Sequence[File]


class Folder:
    """A place for results.

    Parameters
    ----------
    path
        The folder; made when results are written.
    force
        Whether files of an earlier study in it may be replaced. Nothing else is ever touched.

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
        except OSError as error:
            raise InputError(f"--out {path}: cannot be used ({error.strerror}); name another folder") from None

    def _check(self, force: bool) -> None:
        path = self.path
        if path.is_symlink() and not path.exists():
            raise InputError(f"--out {path}: is a link to nothing, must be a folder; name another")
        if path.exists() and not path.is_dir():
            raise InputError(f"--out {path}: is a file, must be a folder; name another")
        if path.is_dir() and any(path.iterdir()) and not force:
            raise InputError(f"--out {path}: already holds files; add --force to write beside and over them")
        place = _place(path)
        if not place.is_dir():
            raise InputError(f"--out {path}: {place} is a file, must be a folder; name another")
        if not os.access(place, os.W_OK | os.X_OK):
            raise InputError(f"--out {path}: {place} is not writable; name a folder of your own")

    def write(self, result: dict[str, Any], loaded: Loaded, tables: Tables, charts: Mapping[str, Figure]) -> None:
        """Write everything, whole or not at all.

        Raises
        ------
        RunError
            If the place has become unusable since it was checked.
        """
        try:
            staging = Path(tempfile.mkdtemp(prefix=".venue-", dir=_place(self.path)))
            try:
                (staging / SCENARIO).write_text(loaded.to_toml(), encoding="utf-8")
                text = json.dumps(result, allow_nan=False, indent=1)
                (staging / RESULT).write_text(text + "\n", encoding="utf-8")
                with Drawing(charts, staging):
                    for name, text in csv_texts(loaded, tables).items():
                        (staging / f"{name}.csv").write_text(text, encoding="utf-8", newline="")
                self._take(sorted(staging.iterdir()))
            finally:
                shutil.rmtree(staging, ignore_errors=True)
        except OSError as error:
            why = error.strerror or error
            raise RunError(f"--out {self.path}: could not be written ({why}); name another folder") from error

    def _take(self, files: list[Path]) -> None:
        """Move finished files to their place, over files of the same names and over nothing else."""
        for file in files:
            if (self.path / file.name).is_dir():
                raise RunError(f"--out {self.path}: {file.name} in it is a folder, must be a file; move it away")
        self.path.mkdir(parents=True, exist_ok=True)
        for file in files:
            file.replace(self.path / file.name)


def csv_texts(loaded: Loaded, tables: Tables) -> dict[str, str]:
    """Every table as CSV by name, with one of the scenario's numbers and their origins; safe for spreadsheets."""
    return {table.name: table.to_csv() for table in (*tables, numbers_file(loaded))}


def _place(path: Path) -> Path:
    """The folder itself, or the nearest thing above it that exists."""
    above = path.absolute()
    while not above.exists():
        above = above.parent
    return above
