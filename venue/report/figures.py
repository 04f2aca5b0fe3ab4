"""Numbers as people read them: as many digits as the interval deserves."""

from __future__ import annotations

import math

from venue.study.intervals import Estimate

_MOST_DECIMALS = 4


def decimals(half_width: float, value: float) -> int:
    """Decimals to show, so that the half-width has two significant digits (or, unknown, the value three)."""
    size, digits = (half_width, 2) if half_width > 0 else (abs(value), 3)
    if not math.isfinite(size) or size == 0.0:
        return 2
    return min(max(digits - 1 - math.floor(math.log10(size)), 0), _MOST_DECIMALS)


def number(value: float, places: int) -> str:
    """A number with fixed decimals; a dash where there is none."""
    return "-" if math.isnan(value) else f"{value:.{places}f}"


def with_spread(item: Estimate | None) -> str:
    """Mean and half-width of the interval, like `81.3 ± 1.2`; the mean alone where one run cannot tell."""
    if item is None:
        return "-"
    if math.isnan(item.low):
        return number(item.mean, decimals(0.0, item.mean))
    places = decimals(item.half_width, item.mean)
    return f"{item.mean:.{places}f} ± {item.half_width:.{places}f}"


def interval(item: Estimate) -> tuple[str, str]:
    """Mean and interval as texts, `81.3` and `80.1 to 82.5`."""
    if math.isnan(item.low):
        return number(item.mean, decimals(0.0, item.mean)), "one replication"
    places = decimals(item.half_width, item.mean)
    return number(item.mean, places), f"{item.low:.{places}f} to {item.high:.{places}f}"
