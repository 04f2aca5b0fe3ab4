"""What a change brings in the weeks after it: the next 4, 13 and 26, and whether what it brings still changes.

A venue answers a change slowly: who was put off comes no more, who was won over comes again, and people learn. So what
is best over a month need not be best over half a year. Settings are compared in pairs, replication by replication, over
the same weeks from the day of the change.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from venue.study.findings import Drift, Horizon, Over
from venue.study.intervals import paired
from venue.study.plain import Interval
from venue.study.point import Point
from venue.study.registry import TAKE
from venue.study.trend import later_half, trend

WEEKS = (4, 13, 26)
# Invented: a change of a difference, as a share of the take, that nobody would call a change.
_STEADY = 0.02


def weekly_values(point: Point, measure: str, whole: int) -> NDArray[np.float64]:
    """A measure in each of the first whole weeks, one row for each replication."""
    return np.array(
        [[getattr(week, measure) for week in item.measured.weeks if week.week <= whole] for item in point.replications]
    )


def over_first(point: Point, measure: str, weeks: int) -> list[float]:
    """A measure over the first weeks in each replication: what is by the open hour is weighed by open hours."""
    found = []
    for item in point.replications:
        those = [week for week in item.measured.weeks if week.week <= weeks]
        hours = [week.open_hours if measure.endswith("_per_hour") else 1.0 for week in those]
        values = [getattr(week, measure) for week in those]
        total = math.fsum(hours)
        found.append(math.fsum(map(math.prod, zip(values, hours, strict=True))) / total if total else math.nan)
    return found


def horizons(
    points: Sequence[Point], allowed: Sequence[int], recommended: int | None, *, days: int, level: float,
    measure: str = TAKE,
) -> tuple[Horizon, ...]:  # fmt: skip
    """Which setting is best over the first weeks after the change, for as many of them as the run is long.

    Parameters
    ----------
    allowed
        Places of the settings that may be chosen.
    recommended
        The one that is recommended for the whole run; None where none is.
    days
        Length of the run.
    level
        Of the interval of a difference; high enough that those of all settings hold together.
    """
    found = []
    for weeks in (number for number in WEEKS if 7 * number <= days and allowed):
        values = [over_first(point, measure, weeks) for point in points]
        best = max(allowed, key=lambda place: float(np.mean(values[place])))
        behind = None
        if recommended is not None and recommended != best:
            common = min(len(values[best]), len(values[recommended]))
            item = paired(values[best][:common], values[recommended][:common], level)
            behind = None if item is None else Interval.of(item)
        found.append(Horizon(weeks=weeks, best=best, behind=behind, agrees=behind is None or behind.sign in (0, None)))
    return tuple(found)


def over_weeks(point: Point, other: Point, *, days: int, measure: str = TAKE) -> tuple[Over, ...]:
    """The first point less the second over the first weeks after the change, for as many of them as the run is long."""
    common = min(len(point.replications), len(other.replications))
    found = []
    for weeks in (number for number in WEEKS if 7 * number <= days):
        first, second = (over_first(item, measure, weeks)[:common] for item in (point, other))
        item = paired(first, second)
        if item is not None:
            found.append(Over(weeks=weeks, difference=Interval.of(item)))
    return tuple(found)


def drift(point: Point, other: Point, *, days: int, level: float, measure: str = TAKE) -> Drift:
    """Whether the difference of two settings still changes from week to week, over the later half of the run."""
    whole = days // 7
    common = min(len(point.replications), len(other.replications))
    first, second = (weekly_values(item, measure, whole)[:common] for item in (point, other))
    if first.size == 0 or first.shape != second.shape or not np.isfinite(first - second).all():
        return Drift(state="too short")
    differences, begin = later_half(first - second)
    found = trend(differences, _STEADY * abs(float(second.mean())), level=level, first=begin)
    change = None if found.change is None else Interval.of(found.change)
    return Drift(state=found.state, change=change, first=found.first, last=found.last)
