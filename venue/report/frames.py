"""Results of runs and sweeps as data frames, for the tables of a folder."""

from __future__ import annotations

import math
from typing import Any

import pandas as pd

from venue.floor.rows_kept import UNITS
from venue.report.people_frames import people_frames
from venue.scenario.load import Loaded
from venue.study.registry import MACHINE_MEASURES
from venue.study.results import RunResult, SweepResult, unit_of


def sweep_frames(result: SweepResult) -> dict[str, pd.DataFrame]:
    """Tables of a sweep: measures by strength, machines, reasons, take by hour, people."""
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
        **people_frames(result.points, result.keys),
        **({"trade_off": result.trade_off} if result.front else {}),
    }


def run_frames(result: RunResult) -> dict[str, pd.DataFrame]:
    """Tables of a run: measures, machines, reasons, accounts, take by hour, people."""
    plain = result.to_dict()
    left = [{"reason": reason, "share_of_visits": share} for reason, share in plain["left_because"].items()]
    return {
        "measures": result.measures.reset_index(),
        "machines": result.machines.reset_index(),
        "left_because": pd.DataFrame(left, columns=["reason", "share_of_visits"]),
        "accounts": pd.DataFrame(plain["accounts"]),
        "by_hour": _by_hour(result.loaded, result.point),
        **people_frames(result.points),
    }


def row_frames(result: RunResult) -> dict[str, pd.DataFrame]:
    """Every play, visit and offer of a run that kept its rows; the head of a column names its unit.

    Cells are empty where there is nothing to tell: the result of a contest that was left, a next visit that never came.
    """
    heads = {column: f"{column}_{unit}" for column, unit in UNITS.items()}
    return {
        name: frame.replace(math.inf, math.nan).rename(columns=heads)
        for name, frame in (("plays", result.plays), ("visits", result.visits), ("offers", result.offers))
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
