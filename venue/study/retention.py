"""Retention: the share of visits followed by another, read off with censoring at the end of the run."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from venue.units import DAY

RETURN_WITHIN = 28 * DAY


def still_away(
    durations: ArrayLike, seen: ArrayLike, at: ArrayLike
) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
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
    durations, seen = np.asarray(durations, dtype=float), np.asarray(seen, dtype=bool)
    from scipy import stats  # slow to import, and needed nowhere else

    sample = stats.CensoredData.right_censored(durations, ~seen)
    curve: np.ndarray[tuple[int, ...], np.dtype[np.float64]] = stats.ecdf(sample).sf.evaluate(
        np.asarray(at, dtype=float)
    )
    return curve


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
    left, next_visit = np.asarray(left, dtype=float), np.asarray(next_visit, dtype=float)
    inside = left < end
    left, next_visit = left[inside], next_visit[inside]
    if not len(left) or end - left.min() < within:
        return float("nan")
    seen = next_visit <= end
    durations = np.where(seen, next_visit, end) - left
    return float(1.0 - still_away(durations, seen, [within])[0])
