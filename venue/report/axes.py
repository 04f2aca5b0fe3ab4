"""The axes of a sweep as a chart shows them: where each setting stands, and what the axis is called."""

from __future__ import annotations

import re
from collections.abc import Sequence

from matplotlib.axes import Axes

from venue.report.columns import short
from venue.report.heading import STRENGTH
from venue.study.point import Value, value_of
from venue.study.results import SweepResult

_LONGEST_NAME = 48
_QUANTITY = re.compile(r"([-+]?(?:\d+\.?\d*|\.\d+))\s*([a-zA-Z%]+)")


def numbers_of(values: Sequence[Value]) -> tuple[list[float], str] | None:
    """Values as numbers and the unit they are written in; None if they are words, or of several units."""
    found, units = [], set()
    for value in values:
        match = _QUANTITY.fullmatch(value) if isinstance(value, str) else None
        if isinstance(value, str) and match is None:
            return None
        found.append(float(match[1]) if match else float(value))
        units.add(match[2] if match else "")
    return (found, units.pop()) if len(units) == 1 else None


def places(result: SweepResult, axis: int = 0) -> tuple[list[float], bool]:
    """Where each point stands on an axis, and whether that is its number (or else its turn)."""
    values = [point.where[axis][1] for point in result.points]
    numbers = numbers_of(values)
    if numbers is not None:
        return numbers[0], True
    turns = {value: turn for turn, value in enumerate(result.settings(axis))}
    return [float(turns[value]) for value in values], False


def across(result: SweepResult, axis: int = 0) -> str:
    """What an axis is called, with its unit."""
    key = result.keys[axis]
    if key == "strength":
        return STRENGTH
    numbers = numbers_of(result.settings(axis))
    written = numbers[1] if numbers else ""
    unit = written or (result.unit(axis) if numbers else "")
    return short(key, _LONGEST_NAME) + (f" ({unit})" if unit else "")


def name_places(axes: Axes, result: SweepResult) -> None:
    """Values that are words stand under the axis in their turn."""
    found, is_number = places(result)
    if not is_number:
        axes.set_xticks(found, [short(value_of(point.where[0][1]), _LONGEST_NAME // 3) for point in result.points])


def what_varies(result: SweepResult) -> str:
    """The swept keys in a sentence."""
    return " and ".join(short(key, _LONGEST_NAME) for key in result.keys)
