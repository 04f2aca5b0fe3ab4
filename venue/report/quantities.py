"""Figures on the page and in charts: as many digits as the interval deserves, shares as percentages."""

from __future__ import annotations

import math

from venue.report.figures import decimals, number
from venue.study.intervals import Estimate

_SHARES = {"share", "chance", "ratio"}
_ZERO = 1e-9
# A percentage is shown to a tenth; with its half-width, to a hundredth.
_MOST_PLACES, _MOST_WITH_HALF = 1, 2


def scale_of(unit: str) -> tuple[float, str]:
    """What a value is multiplied by to be shown, and what stands behind it."""
    return (100.0, " %") if unit in _SHARES else (1.0, "")


def places_of(item: Estimate, unit: str = "", most: int = _MOST_PLACES) -> int:
    """Decimals of a mean and its interval as shown; `most` holds for percentages."""
    scale, mark = scale_of(unit)
    half = 0.0 if not _spread(item) else item.half_width * scale
    found = decimals(half, item.mean * scale)
    return min(found, most) if mark else found


def _spread(item: Estimate) -> bool:
    """Whether there is an interval, and more in it than the mean."""
    return not math.isnan(item.low) and item.half_width > _ZERO * abs(item.mean)


def written(value: float, places: int, sign: str = "") -> str:
    """A number with a minus sign that is one."""
    return number(value, places, sign).replace("-", "−")


def shown(item: Estimate, unit: str = "", sign: str = "", places: int | None = None) -> str:
    """A mean in words, with the digits that its interval deserves, or as many as are asked for."""
    scale, mark = scale_of(unit)
    return f"{written(item.mean * scale, places_of(item, unit) if places is None else places, sign)}{mark}"


def both(one: Estimate, other: Estimate, unit: str = "") -> tuple[str, str]:
    """Two means side by side, with the digits that the less sure of them deserves."""
    places = min(places_of(one, unit), places_of(other, unit))
    return shown(one, unit, places=places), shown(other, unit, places=places)


def span(item: Estimate, unit: str = "", sign: str = "") -> str:
    """The interval in words; empty where there is none, or nothing in it but the mean."""
    scale, mark = scale_of(unit)
    if not _spread(item):
        return ""
    places = places_of(item, unit)
    return f"{written(item.low * scale, places, sign)} to {written(item.high * scale, places, sign)}{mark}"


def half(item: Estimate, unit: str = "", sign: str = "") -> str:
    """A mean with half of its interval, like `2.80 ± 0.77`."""
    scale, mark = scale_of(unit)
    if not _spread(item):
        return shown(item, unit, sign)
    places = places_of(item, unit, _MOST_WITH_HALF)
    width = max(item.half_width * scale, 10.0**-places)
    return f"{written(item.mean * scale, places, sign)} ± {width:.{places}f}{mark}"


def difference(item: Estimate, unit: str = "") -> str:
    """A difference with half of its interval: `+2.80 ± 0.77`, and of shares `+1.41 ± 0.20 in a hundred`."""
    scale, mark = scale_of(unit)
    text = half(Estimate(item.mean * scale, item.low * scale, item.high * scale, item.replications), "", "+")
    return f"{text} in a hundred" if mark else text


def percent(value: float, places: int = 1) -> str:
    """A share that has no interval."""
    return f"{written(100 * value, places)} %"
