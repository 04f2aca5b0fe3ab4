"""What people did, as data frames for the tables of a folder: offers by margin, returns, cohorts, weeks, moves."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Any

import pandas as pd

from venue.study.point import Point

Plain = dict[str, Any]

_BY_MARGIN = ("title", "margin", "offers", "taken", "perceived", "true")
_CURVE = ("days", "share", "share_low", "share_high")
_WEEKS = ("week", "warm_up", "visits_per_hour", "credits_per_hour", "suspicion")


def people_frames(points: Sequence[Point], keys: Sequence[str] = ()) -> dict[str, pd.DataFrame]:
    """Tables of what people did, by file name.

    Parameters
    ----------
    keys
        What was swept, in columns of its own before the others; none for a run.
    """

    def frame(rows: Callable[[Point], Iterable[Plain]], columns: tuple[str, ...]) -> pd.DataFrame:
        found = [{**(dict(point.where) if keys else {}), **_flat(row)} for point in points for row in rows(point)]
        return pd.DataFrame(found) if found else pd.DataFrame(columns=[*keys, *columns])

    return {
        "by_margin": frame(lambda point: point.by_margin(), _BY_MARGIN),
        "return_curve": frame(lambda point: map(_share, point.return_curve()), _CURVE),
        "cohorts": frame(_cohorts, ("week", "visitors", *_CURVE)),
        "weeks": frame(lambda point: point.weeks(), _WEEKS),
        "moved_because": frame(_moves, ("reason", "share_of_moves")),
    }


def _flat(row: Plain) -> Plain:
    """A row with each figure's interval in columns beside it."""
    flat: Plain = {}
    for name, value in row.items():
        if isinstance(value, dict):
            flat |= {name: value["mean"], f"{name}_low": value["low"], f"{name}_high": value["high"]}
        else:
            flat[name] = value
    return flat


def _share(row: Plain) -> Plain:
    return {"days": row["days"], "share": {name: row[name] for name in ("mean", "low", "high")}}


def _cohorts(point: Point) -> Iterable[Plain]:
    for cohort in point.cohorts():
        for row in cohort["curve"]:
            yield {"week": cohort["week"], "visitors": cohort["visitors"], **_share(row)}


def _moves(point: Point) -> Iterable[Plain]:
    for reason, share in point.moved_because().items():
        yield {"reason": reason, "share_of_moves": share}
