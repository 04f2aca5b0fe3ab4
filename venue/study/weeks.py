"""Week by week: how a venue that opens to people who never heard of it comes to its steady state."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from venue.floor.run import Floor
from venue.study.intervals import estimate
from venue.study.money import WEEKLY, weekly
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
    open_hours
        Hours for which the venue was open.
    take_per_week, operator_share_per_week, site_share_per_week, profit_per_week
        Money of all machines in it, as in `venue.study.money`; of a part week so much less.
    """

    week: int
    warm_up: bool
    visits_per_hour: float
    credits_per_hour: float
    suspicion: float
    open_hours: float = math.nan
    take_per_week: float = math.nan
    operator_share_per_week: float = math.nan
    site_share_per_week: float = math.nan
    profit_per_week: float = math.nan


def week_of(floor: Floor, times: NDArray[np.float64]) -> NDArray[np.int64]:
    """The week of the run in which the day of opening lies that each time belongs to; the small hours count to the
    evening."""
    days = np.array([day.number for day in floor.open_days])
    opens = np.array([day.opens for day in floor.open_days])
    found: NDArray[np.int64] = (days[np.searchsorted(opens, times, side="right") - 1] - floor.first_day) // DAYS + 1
    return found


def week_by_week(floor: Floor, warm_up: int, money: float = 1.0) -> tuple[Week, ...]:
    """All weeks of a run in which the venue opened, those of the warm-up too.

    Parameters
    ----------
    warm_up
        Days at the start that measures leave out.
    money
        For each credit.
    """
    hours: dict[int, float] = {}
    for day in floor.open_days:
        week = (day.number - floor.first_day) // DAYS + 1
        hours[week] = hours.get(week, 0.0) + (day.closes - day.opens) / HOUR
    if not hours:
        return ()
    plays, visits = floor.ledger.plays.table(), floor.ledger.visits.table()
    last = max(hours) + 1
    began = week_of(floor, plays["began"])
    paid = np.bincount(began, plays["credits"], minlength=last)
    earned = _earned(floor, plays, began, last, money)
    came = week_of(floor, visits["arrived"])
    count = np.bincount(came, minlength=last)
    suspicion = np.bincount(came, visits["suspicion"], minlength=last)
    return tuple(
        Week(
            week, (week - 1) * DAYS < warm_up, float(count[week] / open_hours), float(paid[week] / open_hours),
            float(suspicion[week] / count[week]) if count[week] else float("nan"), open_hours,
            *earned[:, week].tolist(),
        )
        for week, open_hours in sorted(hours.items())
    )  # fmt: skip


def _earned(
    floor: Floor, plays: NDArray[np.void], weeks: NDArray[np.int64], last: int, money: float
) -> NDArray[np.float64]:  # fmt: skip
    """Take, operator's and site owner's shares and profit of all machines by week: shape (4, weeks)."""
    found = np.zeros((len(WEEKLY), last))
    site = floor.scenario.venue
    for row in floor.rows:
        mine = plays["machines"] == row.number
        for week, credits in enumerate(np.bincount(weeks[mine], plays["credits"][mine], minlength=last).tolist()):
            those = [day for day in floor.open_days if (day.number - floor.first_day) // DAYS + 1 == week]
            machine = floor.counted(row, those)
            each = weekly(machine, site, int(credits), money, 1.0)
            found[:, week] += [machine.count * each[name] for name in WEEKLY]
    return found


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
