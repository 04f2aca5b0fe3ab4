"""Week by week: how a venue that opens to people who never heard of it comes to its steady state."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from venue.floor.run import Floor
from venue.study.intervals import estimate
from venue.units import HOUR

DAYS = 7


@dataclass(frozen=True)
class Week:
    """One week of one replication, the first being 1.

    Attributes
    ----------
    warm_up
        Whether any of it belongs to the warm-up.
    visits_per_hour, credits_per_hour
        By open hours of the week; plays count where they began.
    suspicion
        Mean at the end of its visits; NaN if there was none.
    """

    week: int
    warm_up: bool
    visits_per_hour: float
    credits_per_hour: float
    suspicion: float


def week_of(floor: Floor, times: NDArray[np.float64]) -> NDArray[np.int64]:
    """The week of the run in which the day of opening lies that each time belongs to; the small hours count to the
    evening."""
    days = np.array([day.number for day in floor.open_days])
    opens = np.array([day.opens for day in floor.open_days])
    found: NDArray[np.int64] = (days[np.searchsorted(opens, times, side="right") - 1] - floor.first_day) // DAYS + 1
    return found


def week_by_week(floor: Floor, warm_up: int) -> tuple[Week, ...]:
    """All weeks of a run in which the venue opened, those of the warm-up too."""
    hours: dict[int, float] = {}
    for day in floor.open_days:
        week = (day.number - floor.first_day) // DAYS + 1
        hours[week] = hours.get(week, 0.0) + (day.closes - day.opens) / HOUR
    if not hours:
        return ()
    plays, visits = floor.ledger.plays.table(), floor.ledger.visits.table()
    last = max(hours) + 1
    paid = np.bincount(week_of(floor, plays["began"]), plays["credits"], minlength=last)
    came = week_of(floor, visits["arrived"])
    count = np.bincount(came, minlength=last)
    suspicion = np.bincount(came, visits["suspicion"], minlength=last)
    return tuple(
        Week(
            week, (week - 1) * DAYS < warm_up, float(count[week] / open_hours), float(paid[week] / open_hours),
            float(suspicion[week] / count[week]) if count[week] else float("nan"),
        )
        for week, open_hours in sorted(hours.items())
    )  # fmt: skip


def gathered(replications: Sequence[Sequence[Week]]) -> list[dict[str, Any]]:
    """All replications together, as plain data: means with intervals, week by week."""
    rows = []
    for items in zip(*replications, strict=True):
        row: dict[str, Any] = {"week": items[0].week, "warm_up": items[0].warm_up}
        for name in ("visits_per_hour", "credits_per_hour", "suspicion"):
            found = estimate([getattr(item, name) for item in items])
            if found is not None:
                row[name] = found.to_dict()
        rows.append(row)
    return rows
