"""Whether something still moves from week to week, judged over independent replications.

Weeks of one replication depend on each other, in a way that nobody knows. So each replication is summed up by one
number, the slope of the straight line through its weeks, and these numbers, which are independent, go into Student's t
(summary measures: Matthews, Altman, Campbell & Royston 1990, "Analysis of serial measurements in medical research",
BMJ 300). For normal numbers the chance of a false alarm is what it is said to be, whatever the dependence in time. That
something has settled is not concluded from the lack of an alarm: the interval of the change must lie within bounds
(Schuirmann 1987, two one-sided tests, J. Pharmacokinet. Biopharm. 15).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from venue.study.findings import Settled
from venue.study.intervals import Estimate, estimate

LEVEL = 0.95
# Invented: the fewest weeks that a line is put through.
LEAST_WEEKS = 4


@dataclass(frozen=True)
class Trend:
    """How something went over some weeks.

    Attributes
    ----------
    state
        "moving" where the change surely is not nil, "settled" where it surely is within bounds, "unclear" where neither
        is sure, "too short" where there are too few weeks or replications.
    change
        From the first of the weeks to the last, by the straight lines, with its interval; None where it is too short.
    first, last
        Those weeks, the first counted being 1.
    """

    state: Settled
    change: Estimate | None
    first: int
    last: int


def trend(values: NDArray[np.float64], within: float, *, level: float = LEVEL, first: int = 1) -> Trend:
    """Judge the change over the weeks given.

    Parameters
    ----------
    values
        One row for each replication, one column for each week.
    within
        Change, either way, that counts as none.
    level
        Of the interval by which it moves; less than 1 by the chance of a false alarm.
    first
        Number of the first week.
    """
    replications, weeks = values.shape
    last = first + weeks - 1
    if weeks < LEAST_WEEKS or replications < 2:
        return Trend("too short", None, first, last)
    along = np.arange(weeks) - (weeks - 1) / 2
    changes = (values @ (along / (along @ along)) * (weeks - 1)).tolist()
    found, narrow = estimate(changes, level), estimate(changes, 2 * LEVEL - 1)
    if found is None or narrow is None:
        return Trend("too short", None, first, last)
    state: Settled = "unclear"
    if found.low > 0 or found.high < 0:
        state = "moving"
    elif max(-narrow.low, narrow.high) <= within:
        state = "settled"
    return Trend(state, found, first, last)


def later_half(values: NDArray[np.float64]) -> tuple[NDArray[np.float64], int]:
    """The later half of the weeks, and the number of its first: what came before may have been on its way."""
    begin = values.shape[1] // 2
    return values[:, begin:], begin + 1
