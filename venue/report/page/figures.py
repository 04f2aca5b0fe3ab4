"""Figures on the page: as many digits as the interval deserves, shares as percentages, the full value within reach.

Each figure stands in a `data` element whose value is the number of the results, so that a program reads what a person
sees rounded.
"""

from __future__ import annotations

import math

from venue.report.figures import decimals, number
from venue.report.page.markup import Markup, element
from venue.study.intervals import Estimate

_SHARES = {"share", "chance"}
_NOUGHT = 1e-9


def scale_of(unit: str) -> tuple[float, str]:
    """What a value is multiplied by to be shown, and what stands behind it."""
    return (100.0, " %") if unit in _SHARES else (1.0, "")


def shown(item: Estimate, unit: str = "", sign: str = "") -> str:
    """A mean in words, with the digits that its interval deserves."""
    scale, mark = scale_of(unit)
    return f"{number(item.mean * scale, places_of(item, unit), sign)}{mark}"


def places_of(item: Estimate, unit: str = "") -> int:
    """Decimals of a mean and its interval as shown."""
    scale, _ = scale_of(unit)
    half = 0.0 if math.isnan(item.low) else item.half_width * scale
    if half <= _NOUGHT * abs(item.mean * scale):
        half = 0.0
    return decimals(half, item.mean * scale)


def span(item: Estimate, unit: str = "", sign: str = "") -> str:
    """The interval in words; empty where there is none, or nothing in it but the mean."""
    scale, mark = scale_of(unit)
    if math.isnan(item.low) or item.half_width <= _NOUGHT * abs(item.mean):
        return ""
    places = places_of(item, unit)
    return f"{number(item.low * scale, places, sign)} to {number(item.high * scale, places, sign)}{mark}"


def half(item: Estimate, unit: str = "", sign: str = "") -> str:
    """A mean with half of its interval, like `2.80 ± 0.77`."""
    scale, mark = scale_of(unit)
    if not span(item, unit):
        return shown(item, unit, sign)
    places = places_of(item, unit)
    width = max(item.half_width * scale, 10.0**-places)
    return f"{number(item.mean * scale, places, sign)} ± {width:.{places}f}{mark}"


def figure(item: Estimate, unit: str = "", sign: str = "") -> Markup:
    """A mean on the page, the number itself as its value."""
    return element("data", shown(item, unit, sign), value=repr(item.mean))


def percent(value: float, places: int = 1) -> str:
    """A share that has no interval."""
    return f"{number(100 * value, places)} %"
