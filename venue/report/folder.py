"""A folder of results: the resolved scenario, the JSON, a CSV for each table, charts as PNG and SVG.

The folder is checked before anything is run, and written in one go afterwards: what is there is whole.
"""

from __future__ import annotations

import json
import os
import shutil
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd

from venue.errors import InputError, RunError
from venue.report.drawing import save
from venue.scenario.load import Loaded
from venue.study.measures import MACHINE_MEASURES
from venue.study.results import RunResult, SweepResult, unit_of
from venue.study.title import TitleResult

if TYPE_CHECKING:
    from matplotlib.figure import Figure

# What spreadsheets take for the start of a formula, in plain and in wide letters.
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")


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

    def write(
        self, result: dict[str, Any], loaded: Loaded, tables: Mapping[str, pd.DataFrame], charts: Mapping[str, Figure]
    ) -> None:
        """Write everything, whole or not at all.

        Raises
        ------
        RunError
            If the place has become unusable since it was checked.
        """
        try:
            staging = Path(tempfile.mkdtemp(prefix=".venue-", dir=_place(self.path)))
            try:
                (staging / "scenario.toml").write_text(loaded.to_toml(), encoding="utf-8")
                text = json.dumps(result, allow_nan=False, indent=1)
                (staging / "result.json").write_text(text + "\n", encoding="utf-8")
                for name, table in tables.items():
                    safe_for_spreadsheets(table).to_csv(staging / f"{name}.csv", index=False)
                for name, figure in charts.items():
                    save(figure, staging / name)
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

    @staticmethod
    def sweep_tables(result: SweepResult) -> dict[str, pd.DataFrame]:
        """Tables of a sweep: measures by strength, machines, reasons, take by hour."""
        money = result.loaded.scenario.venue.money
        return {
            "measures": result.measures.reset_index(),
            "machines": pd.DataFrame(
                [
                    {
                        **dict(point.where),
                        "machine": key,
                        "measure": name,
                        "mean": item.mean,
                        "low": item.low,
                        "high": item.high,
                        "unit": unit_of(name, MACHINE_MEASURES[name], money),
                    }
                    for point in result.points
                    for key in result.loaded.scenario.machines
                    for name, item in point.machine_measures(key).items()
                ]
            ),
            "left_because": pd.DataFrame(
                [
                    {**dict(point.where), "reason": reason, "share_of_visits": share}
                    for point in result.points
                    for reason, share in point.left_because().items()
                ],
                columns=[*result.keys, "reason", "share_of_visits"],
            ),
            "by_hour": pd.concat([_by_hour(result.loaded, point) for point in result.points], ignore_index=True),
            **({"trade_off": result.trade_off} if result.front else {}),
        }

    @staticmethod
    def run_tables(result: RunResult) -> dict[str, pd.DataFrame]:
        """Tables of a run: measures, machines, reasons, accounts, take by hour."""
        plain = result.to_dict()
        left = [{"reason": reason, "share_of_visits": share} for reason, share in plain["left_because"].items()]
        return {
            "measures": result.measures.reset_index(),
            "machines": result.machines.reset_index(),
            "left_because": pd.DataFrame(left, columns=["reason", "share_of_visits"]),
            "accounts": pd.DataFrame(plain["accounts"]),
            "by_hour": _by_hour(result.loaded, result.point),
        }

    @staticmethod
    def title_tables(result: TitleResult) -> dict[str, pd.DataFrame]:
        """Tables of a title: headline results, points owed to rules, the final margin."""
        margin = [
            {"strength": item.strength, "margin_points": points, "chance": chance}
            for item in result.headlines
            for points, chance in item.margin.items()
        ]
        return {
            "headline": result.measures.reset_index(),
            "owed_points": result.owed,
            "final_margin": pd.DataFrame(margin),
        }


def _by_hour(loaded: Loaded, point: Any) -> pd.DataFrame:
    hourly = point.hourly()
    return pd.DataFrame(
        [
            {
                **dict(point.where),
                "machines": key,
                "hour_of_day": hour,
                "credits_per_open_hour": hourly[row, hour],
            }
            for row, key in enumerate(loaded.scenario.machines)
            for hour in range(24)
        ]
    )


def safe_for_spreadsheets(table: pd.DataFrame) -> pd.DataFrame:
    """The table with texts that a spreadsheet would take for a formula set behind an apostrophe."""
    texts = table.select_dtypes(include=["object", "string"]).columns
    safe = table.copy()
    for column in texts:
        safe[column] = [
            f"'{text}" if isinstance(text, str) and text.startswith(_FORMULA) else text for text in table[column]
        ]
    return safe


def _place(path: Path) -> Path:
    """The folder itself, or the nearest thing above it that exists."""
    above = path.absolute()
    while not above.exists():
        above = above.parent
    return above
