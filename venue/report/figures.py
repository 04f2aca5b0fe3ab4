"""Numbers as people read them: as many digits as the interval deserves."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence

from venue.study.intervals import Estimate

_MOST_DECIMALS = 4
_NOUGHT = 1e-9


def decimals(half_width: float, value: float) -> int:
    """Decimals to show, so that the half-width has two significant digits (or, unknown, the value three)."""
    size, digits = (half_width, 2) if half_width > 0 else (abs(value), 3)
    if not math.isfinite(size) or size == 0.0:
        return 2
    return min(max(digits - 1 - math.floor(math.log10(size)), 0), _MOST_DECIMALS)


def number(value: float, places: int, sign: str = "") -> str:
    """A number with fixed decimals, never a minus before nothing; a dash where there is none."""
    if math.isnan(value):
        return "-"
    # Adding nought takes the sign off what rounds to nought.
    return f"{round(value, places) + 0.0:{sign}.{places}f}"


def column(items: Sequence[Estimate | None]) -> list[str]:
    """Cells of one column, like `81.3 ± 1.2`, all with the decimals that the middle one of their intervals deserves.

    A mean without any spread stands alone, as does the mean of a single replication.
    """
    known = [item for item in items if item is not None]
    widths = [item.half_width for item in known if item.half_width > _NOUGHT * abs(item.mean)]
    size = statistics.median(widths) if widths else 0.0
    middle = statistics.median(abs(item.mean) for item in known) if known else 0.0
    places = decimals(size, middle)
    return ["-" if item is None else _cell(item, places) for item in items]


def _cell(item: Estimate, places: int) -> str:
    if math.isnan(item.low):
        return number(item.mean, places)
    if item.half_width <= _NOUGHT * abs(item.mean):
        whole = abs(item.mean - round(item.mean)) <= _NOUGHT * abs(item.mean)
        return f"{item.mean:.0f}" if whole else number(item.mean, places)
    # An interval is never shown as nought.
    half = max(item.half_width, 10.0**-places)
    return f"{number(item.mean, places)} ± {half:.{places}f}"


def with_half(item: Estimate, sign: str = "") -> str:
    """A mean with half of its interval, like `1.42 ± 0.52`."""
    places = decimals(item.half_width, item.mean)
    return f"{number(item.mean, places, sign)} ± {max(item.half_width, 10.0**-places):.{places}f}"


def interval(item: Estimate) -> tuple[str, str]:
    """Mean and interval as texts, `81.3` and `80.1 to 82.5`."""
    if math.isnan(item.low):
        return number(item.mean, decimals(0.0, item.mean)), "one replication"
    places = decimals(item.half_width, item.mean)
    return number(item.mean, places), f"{number(item.low, places)} to {number(item.high, places)}"
