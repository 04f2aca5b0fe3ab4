"""Confidence intervals over independent replications."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy import special

LEVEL = 0.95


@dataclass(frozen=True)
class Estimate:
    """A mean with its interval; `low` and `high` are NaN when one replication leaves it unknown."""

    mean: float
    low: float
    high: float
    replications: int

    @property
    def half_width(self) -> float:
        """Half the length of the interval."""
        return (self.high - self.low) / 2

    @property
    def turned(self) -> Estimate:
        """A difference seen from the other side."""
        return Estimate(-self.mean, -self.high, -self.low, self.replications)

    def to_dict(self) -> dict[str, float | None]:
        """Mean, low and high as plain data; what is not known is None, since JSON has no other word for it."""
        return {name: finite_or_none(getattr(self, name)) for name in ("mean", "low", "high")}


def estimate_of(item: Any) -> Estimate | None:
    """An estimate read back from plain data, or a bare figure without an interval; None where there is none.

    How many replications there were is not kept: 2 stands for several.
    """
    if item is None or (isinstance(item, Mapping) and item.get("mean") is None):
        return None
    if isinstance(item, int | float):
        return Estimate(float(item), math.nan, math.nan, 1)
    low, high = (math.nan if item.get(key) is None else float(item[key]) for key in ("low", "high"))
    return Estimate(float(item["mean"]), low, high, 1 if math.isnan(low) else 2)


def finite_or_none(value: float) -> float | None:
    """A number as JSON has it: what is no number, or without bound, has no word there."""
    return value if math.isfinite(value) else None


def estimate(values: Sequence[float], level: float = LEVEL) -> Estimate | None:
    """Mean and Student t interval over replications that have a value; None when none has.

    The interval is mean ± t(n - 1) s / sqrt(n) (Law, Simulation Modeling and Analysis, ch. 4 and 9).
    """
    known = np.array([value for value in values if not math.isnan(value)])
    if not len(known):
        return None
    mean = float(known.mean())
    if len(known) == 1:
        return Estimate(mean, math.nan, math.nan, 1)
    half = float(special.stdtrit(len(known) - 1, (1 + level) / 2) * known.std(ddof=1) / math.sqrt(len(known)))
    return Estimate(mean, mean - half, mean + half, len(known))


def paired(first: Sequence[float], second: Sequence[float], level: float = LEVEL) -> Estimate | None:
    """Interval for the mean difference of two settings run on the same replications (paired t; Law, ch. 10)."""
    return estimate([a - b for a, b in zip(first, second, strict=True)], level)


def ratio(parts: Sequence[float], wholes: Sequence[float], level: float = LEVEL) -> Estimate | None:
    """Interval for a share whose parts and wholes both vary between replications; None where there is no whole.

    The estimate is sum of parts / sum of wholes = R, its standard error that of the mean of part - R x whole, over the
    mean whole (ratio estimator; Cochran, Sampling Techniques, ch. 6, location from memory). With equal wholes it is
    `estimate` of the single shares.
    """
    part, whole = np.asarray(parts, dtype=float), np.asarray(wholes, dtype=float)
    if not whole.sum():
        return None
    share = float(part.sum() / whole.sum())
    count = len(part)
    if count == 1:
        return Estimate(share, math.nan, math.nan, 1)
    error = float((part - share * whole).std(ddof=1) / math.sqrt(count) / whole.mean())
    half = float(special.stdtrit(count - 1, (1 + level) / 2)) * error
    return Estimate(share, share - half, share + half, count)
