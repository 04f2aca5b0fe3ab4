"""Numbers as people read them: as many digits as the interval deserves, shares as percentages."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence

from venue.study.intervals import Estimate
from venue.study.registry import Measure

_MOST_DECIMALS = 4
_ZERO = 1e-9


def decimals(half_width: float, value: float) -> int:
    """Decimals to show, so that the half-width has two significant digits (or, unknown, the value three)."""
    size, digits = (half_width, 2) if half_width > 0 else (abs(value), 3)
    if not math.isfinite(size) or size == 0.0:
        return 2
    return min(max(digits - 1 - math.floor(math.log10(size)), 0), _MOST_DECIMALS)


def number(value: float, places: int, sign: str = "") -> str:
    """A number with fixed decimals, never a minus before a zero; a dash where there is none."""
    if math.isnan(value):
        return "-"
    # Adding zero takes the sign off what rounds to zero.
    return f"{round(value, places) + 0.0:{sign}.{places}f}"


def scaled(item: Estimate, measure: Measure | None) -> Estimate:
    """An estimate in the unit in which people see it: shares in percent."""
    if measure is None or not measure.is_share:
        return item
    return Estimate(100 * item.mean, 100 * item.low, 100 * item.high, item.replications)


def column(items: Sequence[Estimate | None], measure: Measure | None = None, sign: str = "") -> list[str]:
    """Cells of one column, like `81.3 ± 1.2`, all with the decimals that the middle one of their intervals deserves.

    A mean without any spread stands alone, as does the mean of a single replication.

    Parameters
    ----------
    measure
        What the figures are of: it says whether they are percentages, and how many decimals are too many.
    sign
        "+" where a positive figure is to carry its sign.
    """
    shown = [None if item is None else scaled(item, measure) for item in items]
    known = [item for item in shown if item is not None]
    widths = [item.half_width for item in known if item.half_width > _ZERO * abs(item.mean)]
    size = statistics.median(widths) if widths else 0.0
    middle = statistics.median(abs(item.mean) for item in known) if known else 0.0
    places = _at_most(decimals(size, middle), measure)
    return ["-" if item is None else _cell(item, places, sign) for item in shown]


def _at_most(places: int, measure: Measure | None) -> int:
    return places if measure is None else min(places, measure.digits + 1)


def _cell(item: Estimate, places: int, sign: str) -> str:
    if math.isnan(item.low):
        return number(item.mean, places, sign)
    if item.half_width <= _ZERO * abs(item.mean):
        whole = abs(item.mean - round(item.mean)) <= _ZERO * abs(item.mean)
        return f"{item.mean:{sign}.0f}" if whole else number(item.mean, places, sign)
    # An interval is never shown as zero.
    half = max(item.half_width, 10.0**-places)
    return f"{number(item.mean, places, sign)} ± {half:.{places}f}"


def with_half(item: Estimate, sign: str = "", measure: Measure | None = None) -> str:
    """A mean with half of its interval, like `1.42 ± 0.52`."""
    item = scaled(item, measure)
    places = _at_most(decimals(item.half_width, item.mean), measure)
    if math.isnan(item.low):
        return number(item.mean, places, sign)
    return f"{number(item.mean, places, sign)} ± {max(item.half_width, 10.0**-places):.{places}f}"


def interval(item: Estimate, measure: Measure | None = None, sign: str = "", least: int = 0) -> tuple[str, str]:
    """Mean and interval as texts, `81.3` and `80.1 to 82.5`.

    Parameters
    ----------
    least
        Decimals that are shown in any case.
    """
    item = scaled(item, measure)
    if math.isnan(item.low):
        return number(item.mean, _at_most(decimals(0.0, item.mean), measure), sign), "one replication"
    places = max(least, _at_most(decimals(item.half_width, item.mean), measure))
    return number(item.mean, places, sign), f"{number(item.low, places, sign)} to {number(item.high, places, sign)}"
