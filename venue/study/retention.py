"""Retention: the share of visits followed by another, read off with censoring at the end of the run."""

from __future__ import annotations

import math
import warnings
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from venue.study.intervals import LEVEL, Estimate, estimate
from venue.units import DAY

Values = NDArray[np.float64]

RETURN_WITHIN = 28 * DAY
# Days after a visit at which curves are read off.
CURVE_DAYS = (*range(1, 29), 35, 42, 49, 56, 70, 84, 112, 140, 168, 252, 364)
COHORT_DAYS = (1, 2, 3, 5, 7, 10, 14, 21, 28, 42, 56, 84)


@dataclass(frozen=True)
class Curve:
    """Share of visits followed by another within so many days, as far as anybody was in sight for so long.

    Attributes
    ----------
    days
        Days after the visit.
    share, low, high
        Kaplan-Meier estimate at each, with its 95 % interval (exponential Greenwood); NaN where it has none.
    """

    days: tuple[float, ...]
    share: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]


NO_CURVE = Curve((), (), (), ())


@dataclass(frozen=True)
class Cohort:
    """First-time visitors of one week, the first being 1, and when they came again."""

    week: int
    visitors: int
    curve: Curve


def _product_limit(durations: ArrayLike, seen: ArrayLike) -> Any:
    from scipy import stats  # slow to import, and needed nowhere else

    lost = ~np.asarray(seen, dtype=bool)
    return stats.ecdf(stats.CensoredData.right_censored(np.asarray(durations, dtype=float), lost)).sf


def still_away(durations: ArrayLike, seen: ArrayLike, at: ArrayLike) -> Values:
    """Kaplan-Meier chance that nothing has happened by the times `at` (Kaplan & Meier 1958, JASA 53).

    Parameters
    ----------
    durations
        Time until the event, or until sight of it was lost.
    seen
        True where the event was seen, False where it was censored.
    at
        Times, in the unit of `durations`. Beyond the longest duration the curve stays at its last value.
    """
    found: Values = _product_limit(durations, seen).evaluate(np.asarray(at, dtype=float))
    return found


def still_away_between(
    durations: ArrayLike, seen: ArrayLike, at: ArrayLike, level: float = LEVEL
) -> tuple[Values, Values, Values]:
    """The same with its interval: estimate, low and high at each of the times; parameters as in `still_away`.

    The interval is Greenwood's, taken on the scale ln(-ln S), which keeps it between 0 and 1 (Kalbfleisch & Prentice,
    The Statistical Analysis of Failure Time Data, ch. 1, location from memory). It has no width before the first event,
    and is NaN where the estimate is 0.
    """
    times = np.asarray(at, dtype=float)
    curve = _product_limit(durations, seen)
    with np.errstate(all="ignore"), warnings.catch_warnings():
        # Where the estimate is 0 there is no such interval, and scipy says so on the way.
        warnings.simplefilter("ignore", RuntimeWarning)
        between = curve.confidence_interval(level, method="log-log")
        return curve.evaluate(times), between.low.evaluate(times), between.high.evaluate(times)


def _in_sight(left: ArrayLike, next_visit: ArrayLike, end: float) -> tuple[Values, NDArray[np.bool_]]:
    """Time from each visit to the next or to the end of sight, and whether the next was seen."""
    left, next_visit = np.asarray(left, dtype=float), np.asarray(next_visit, dtype=float)
    inside = left < end
    left, next_visit = left[inside], next_visit[inside]
    seen = next_visit <= end
    return np.where(seen, next_visit, end) - left, seen


def returned_within(left: ArrayLike, next_visit: ArrayLike, end: float, within: float = RETURN_WITHIN) -> float:
    """Share of visits followed by another within a time; NaN if the run was too short to tell.

    Parameters
    ----------
    left
        When each visit ended, in seconds.
    next_visit
        When the same person came again, in seconds; infinite if they did not before the end.
    end
        End of observation, in seconds.
    """
    durations, seen = _in_sight(left, next_visit, end)
    if not len(durations) or end - np.min(left) < within:
        return float("nan")
    return float(1.0 - still_away(durations, seen, [within])[0])


def return_curve(left: ArrayLike, next_visit: ArrayLike, end: float, days: Sequence[int] = CURVE_DAYS) -> Curve:
    """Return by day after the visit; parameters as in `returned_within`. Empty where nothing was in sight."""
    durations, seen = _in_sight(left, next_visit, end)
    told = [day for day in days if len(durations) and day * DAY <= durations.max()]
    if not told:
        return NO_CURVE
    away, low, high = still_away_between(durations, seen, np.array(told) * DAY)
    return Curve(tuple(told), *(tuple((1.0 - part).tolist()) for part in (away, high, low)))


def cohorts(visits: NDArray[np.void], weeks: NDArray[np.int64], end: float) -> tuple[Cohort, ...]:
    """Return of the first-time visitors of each week.

    Parameters
    ----------
    visits
        Rows of all visits, those of the warm-up too.
    weeks
        The week that each arrived in.
    end
        End of observation, in seconds.
    """
    first = visits["visit"] == 0
    visits, weeks = visits[first], weeks[first]
    found = []
    for week in np.unique(weeks):
        mine = visits[weeks == week]
        curve = return_curve(mine["left"], mine["next_visit"], end, COHORT_DAYS)
        if curve.days:
            found.append(Cohort(int(week), len(mine), curve))
    return tuple(found)


def gathered(curves: Iterable[Curve]) -> list[dict[str, Any]]:
    """One curve from those of all replications, as plain data.

    The interval is Student's t over replications; with one replication, that of its own curve, which takes visits for
    independent of each other.
    """
    curves = list(curves)
    rows: list[dict[str, Any]] = []
    for day in sorted({day for curve in curves for day in curve.days}):
        places = [(curve, curve.days.index(day)) for curve in curves if day in curve.days]
        found = estimate([curve.share[place] for curve, place in places])
        if found is None:
            continue
        if len(curves) == 1:
            ((curve, place),) = places
            found = Estimate(found.mean, curve.low[place], curve.high[place], 1)
        rows.append({"days": day, **found.to_dict()})
    return rows


def gathered_cohorts(replications: Sequence[Sequence[Cohort]]) -> list[dict[str, Any]]:
    """Cohorts of all replications together, as plain data; visitors are the mean over replications."""
    rows = []
    for week in sorted({cohort.week for found in replications for cohort in found}):
        mine = [cohort for found in replications for cohort in found if cohort.week == week]
        visitors = math.fsum(cohort.visitors for cohort in mine) / len(replications)
        rows.append({"week": week, "visitors": visitors, "curve": gathered(cohort.curve for cohort in mine)})
    return rows
