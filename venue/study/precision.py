"""Precision asked for: a study goes on until every interval named is as narrow as wanted, or a ceiling is reached.

The procedure is sequential (Law, Simulation Modeling and Analysis, ch. 9): after at least ten replications, and again
after each round, the half-width of the Student t interval is compared with what was asked for. For a relative error g
the half-width must come down to g / (1 + g) of the mean, so that the error relative to the unknown true mean is at most
g. How far a round goes is the number that Law's formula names for the variance seen so far, at most twice as far as the
last; it depends on results alone, never on who computed them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from scipy import special

from venue.errors import InputError
from venue.study.intervals import LEVEL, Estimate, estimate
from venue.study.point import Point
from venue.study.registry import check_measure
from venue.study.series import Series

LEAST = 10
CEILING = 200


@dataclass(frozen=True)
class Precision:
    """How narrow the interval of one measure must be: half its width, absolute or as a share of the mean."""

    measure: str
    half_width: float
    relative: bool

    def allowed(self, mean: float) -> float:
        """Half-width allowed about a mean."""
        return self.half_width / (1 + self.half_width) * abs(mean) if self.relative else self.half_width

    def show(self, half_width: float) -> str:
        """A half-width as it was asked for, in percent or in the measure's unit."""
        return f"{100 * half_width:.3g} %" if self.relative else f"{half_width:.3g}"

    @property
    def text(self) -> str:
        """What was asked for."""
        return f"{self.measure} within {self.show(self.half_width)}"


@dataclass(frozen=True)
class Goal:
    """What ends a study: precisions, and how many replications there may be at most to reach them."""

    precisions: tuple[Precision, ...] = ()
    at_most: int = CEILING


@dataclass(frozen=True)
class Reached:
    """What came of one precision: the half-width of the slowest interval, whose it is, and whether it will do."""

    wanted: Precision
    half_width: float
    where: str
    met: bool
    replications: int

    def to_dict(self) -> dict[str, Any]:
        """Plain data."""
        return {
            "measure": self.wanted.measure,
            "wanted": self.wanted.half_width,
            "relative": self.wanted.relative,
            "reached": self.half_width if math.isfinite(self.half_width) else None,
            "slowest": self.where,
            "met": self.met,
            "replications": self.replications,
        }


def precisions_of(wanted: Mapping[str, str | float]) -> tuple[Precision, ...]:
    """Precisions from half-widths by measure: a number in the measure's unit, or a text like "1%" of its mean.

    Raises
    ------
    InputError
        If a measure is not known, or a half-width is not a number above zero.
    """
    return tuple(_precision(measure, value) for measure, value in wanted.items())


def _precision(measure: str, value: str | float) -> Precision:
    measure = check_measure("--precision", measure)
    text = str(value).strip()
    relative = text.endswith("%")
    try:
        number = float(text.removesuffix("%"))
    except ValueError:
        number = math.nan
    if not (math.isfinite(number) and number > 0) or (relative and number >= 100):
        bound = "must lie above 0 and below 100 %" if relative else "must be a number above 0"
        raise InputError(f"--precision {measure}={text}: {bound}; write it like --precision credits_per_hour=1%")
    return Precision(measure, number / 100 if relative else number, relative)


def count_for(half_width: float, deviation: float, start: int, level: float = LEVEL, most: int = 10**7) -> int:
    """Replications from which on the interval is this narrow, if the standard deviation stays as it is: the least
    i >= start with t(i - 1) s / sqrt(i) <= half_width (Law, ch. 9), or `most`."""

    def wide(count: int) -> bool:
        quantile = float(special.stdtrit(count - 1, (1 + level) / 2))
        return quantile * deviation / math.sqrt(count) > half_width

    low = high = max(start, 2)
    while wide(high) and high < most:
        low, high = high, min(2 * high, most)
    while low < high:  # the half-width falls as replications are added
        middle = (low + high) // 2
        low, high = (middle + 1, high) if wide(middle) else (low, middle)
    return low


# A measure's intervals: whose each is, the estimate (None if it is unknown), the mean that a share is of.
Intervals = Callable[[Sequence[Point], str], list[tuple[str, Estimate | None, float]]]


def of_each(points: Sequence[Point], measure: str) -> list[tuple[str, Estimate | None, float]]:
    """A measure's interval at each point."""
    found = [(point.name, estimate(point.values(measure))) for point in points]
    return [(name, item, item.mean if item else math.nan) for name, item in found]


def gather(
    series: Series, precisions: Sequence[Precision], *, start: int, ceiling: int, intervals: Intervals = of_each
) -> tuple[list[Point], tuple[Reached, ...]]:
    """Run replications of every variant until each precision is reached, or there are `ceiling`.

    Without precisions there are `start` replications.

    Raises
    ------
    InputError
        If the ceiling is below the ten replications that the procedure begins with, or no replication can tell a
        measure.
    """
    variants = len(series.variants)
    if not precisions:
        series.reach([start] * variants)
        return series.points(), ()
    if ceiling < LEAST:
        raise InputError(f"--at-most {ceiling}: must be at least {LEAST}, where the procedure begins; allow more")
    count = needed = min(max(start, LEAST), ceiling)
    series.watched = lambda points: _slowest(precisions, points, intervals)
    while True:
        series.reach([count] * variants, expected=min(needed, ceiling) * variants)
        points = series.points()
        reached = tuple(_judge(item, intervals(points, item.measure), count) for item in precisions)
        series.say_reached(_told(reached))
        if count >= ceiling or all(item.met for item in reached):
            return points, reached
        needed = max(_needed(item, intervals(points, item.measure), count, ceiling) for item in precisions)
        count = min(max(count + 1, min(needed, 2 * count)), ceiling)


def _told(reached: Sequence[Reached]) -> str:
    """The measure that has farthest to go."""
    slowest = max(reached, key=lambda item: item.half_width / item.wanted.half_width)
    return f"{slowest.wanted.measure} ± {slowest.wanted.show(slowest.half_width)}"


def _slowest(precisions: Sequence[Precision], points: Sequence[Point], intervals: Intervals) -> str:
    """The same during a round; empty while it is unknown."""
    if min(len(point.replications) for point in points) < 2:
        return ""
    common = min(len(point.replications) for point in points)
    alike = [replace(point, replications=point.replications[:common]) for point in points]
    try:
        return _told([_judge(item, intervals(alike, item.measure), common) for item in precisions])
    except InputError:
        return ""


def _judge(wanted: Precision, found: list[tuple[str, Estimate | None, float]], count: int) -> Reached:
    worst, where, met = 0.0, "", True
    for name, item, mean in found:
        if item is None:
            raise InputError(
                f"--precision {wanted.measure}: no replication at {name} could tell it; the run may be too short, or "
                "there was nothing of the kind"
            )
        half = item.half_width if not math.isnan(item.half_width) else math.inf
        met &= half <= wanted.allowed(mean)
        # As asked for: a share g of the true mean is a share g / (1 + g) of the one seen.
        share = half / abs(mean) if mean else (math.inf if half else 0.0)
        shown = (share / (1 - share) if share < 1 else math.inf) if wanted.relative else half
        if shown >= worst:
            worst, where = shown, name
    return Reached(wanted, worst, where, met, count)


def _needed(wanted: Precision, found: list[tuple[str, Estimate | None, float]], count: int, ceiling: int) -> int:
    needed = count
    for _, item, mean in found:
        if item is not None and not math.isnan(item.half_width):
            quantile = float(special.stdtrit(item.replications - 1, (1 + LEVEL) / 2))
            deviation = item.half_width / quantile * math.sqrt(item.replications)
            missing = count - item.replications
            needed = max(needed, missing + count_for(wanted.allowed(mean), deviation, item.replications, most=ceiling))
        else:
            needed = ceiling
    return needed
