"""Choosing the best of several settings with a chance of being right that is stated beforehand.

The procedure is that of Kim & Nelson 2001, "A fully sequential procedure for indifference-zone selection in
simulation", ACM Transactions on Modeling and Computer Simulation 11(3): after a first stage, settings whose mean falls
behind another's by more than a margin that shrinks with every replication are dropped, until one is left. It holds with
common random numbers, since it looks at the variance of differences. With a chance of at least `sure` the setting left
is the best, whenever the best is ahead by `worth` or more; and otherwise one within `worth` of it.

Rinott 1978, "On two-stage selection procedures and related probability-inequalities", Communications in Statistics A7,
says how many replications the same assurance would take in two stages with visitors of their own; it is also given,
to show what was saved.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import optimize, stats

from venue.errors import InputError

FIRST_STAGE = 10
_LEAST_ROUND = 5
_NODES = 160


def check_worth(worth: float) -> None:
    """A difference that is worth having must be one."""
    if not (math.isfinite(worth) and worth > 0):
        raise InputError(f"--worth {worth:g}: must be more than 0 credits per open hour; write it like --worth 1")


@dataclass(frozen=True)
class Assurance:
    """How sure a choice must be, and the smallest difference in credits per open hour that is worth telling apart."""

    sure: float
    worth: float
    at_most: int

    def __post_init__(self) -> None:
        if not 0.5 <= self.sure <= 0.999999:
            raise InputError(f"--sure {self.sure:g}: must lie between 0.5 and 0.999999; write it like --sure 95%")
        check_worth(self.worth)


@dataclass(frozen=True)
class Selection:
    """What came of a selection.

    Attributes
    ----------
    assurance
        What was asked for.
    chosen
        Place of the chosen setting; None where nothing could be chosen.
    candidates
        Places of those that the choice was made among.
    finished
        Whether it was made before the most replications were reached.
    replications
        How many each setting had.
    rinott
        How many each candidate would have had by Rinott's procedure, on visitors of its own.
    """

    assurance: Assurance
    chosen: int | None
    candidates: tuple[int, ...]
    finished: bool
    replications: tuple[int, ...]
    rinott: tuple[int, ...]

    def to_dict(self) -> dict[str, Any]:
        """Plain data."""
        return {
            "procedure": "Kim-Nelson",
            "sure": self.assurance.sure,
            "worth": self.assurance.worth,
            "finished": self.finished,
            "candidates": list(self.candidates),
            "replications": list(self.replications),
            "rinott": list(self.rinott),
        }


class Race:
    """Settings that are dropped one by one as replications come in.

    Parameters
    ----------
    first
        Results of the first stage, shape (settings, replications), at least two replications, the same visitors in each
        column.
    sure, worth
        Chance of a right choice and the difference worth telling apart.
    """

    def __init__(self, first: NDArray[np.float64], sure: float, worth: float) -> None:
        settings, count = first.shape
        self.worth = worth
        self.left = list(range(settings))
        differences = first[:, None, :] - first[None, :, :]
        self._variances = differences.var(axis=2, ddof=1)
        # With c = 1: eta = ((2 alpha / (k - 1))^(-2 / (n0 - 1)) - 1) / 2 and h^2 = 2 eta (n0 - 1).
        degrees = count - 1
        eta = 0.5 * ((2.0 * (1.0 - sure) / max(settings - 1, 1)) ** (-2.0 / degrees) - 1.0)
        self._h2 = 2.0 * eta * degrees

    def margin(self, one: int, other: int, count: int) -> float:
        """By how much a mean may lie behind another after so many replications."""
        spent = float(self._h2 * self._variances[one, other] / self.worth**2)
        return max(0.0, self.worth / (2.0 * count) * (spent - count))

    def drop(self, means: Sequence[float], count: int) -> None:
        """Drop those that have fallen behind; `means` by setting, of those still left after `count` replications."""
        kept = [
            one
            for one in self.left
            if all(means[one] >= means[other] - self.margin(one, other, count) for other in self.left if other != one)
        ]
        # Equal means with no margin left would drop nobody; the first is as good as the others.
        if all(self.margin(one, other, count) == 0.0 for one in self.left for other in self.left if other != one):
            kept = [max(self.left, key=lambda place: means[place])]
        self.left = kept


def next_round(count: int, most: int) -> int:
    """Replications after the next round: so many more that workers are busy, and few enough to stop early."""
    return min(count + max(_LEAST_ROUND, count // 10), most)


@cache
def rinott_h(settings: int, first_stage: int, sure: float) -> float:
    """Rinott's constant h: the root of E[E[Phi(h / sqrt(v (1/X + 1/Y))) | Y]^(k - 1)] = P*, X and Y chi-square with
    v = n0 - 1 degrees of freedom (Bechhofer, Santner & Goldsman 1995, section 2.7)."""
    degrees = first_stage - 1
    nodes, weights = np.polynomial.legendre.leggauss(_NODES)
    # By quantiles, so that both weights are flat; pressed toward the ends, where the quantiles bend.
    part = (nodes + 1.0) / 2.0
    shares = part * part * (3.0 - 2.0 * part)
    weights = weights / 2.0 * 6.0 * part * (1.0 - part)
    values = stats.chi2.ppf(shares, degrees)
    scale = np.sqrt(degrees * (1.0 / values[:, None] + 1.0 / values[None, :]))

    def right(h: float) -> float:
        inner = stats.norm.cdf(h / scale) @ weights
        return float(weights @ inner ** (settings - 1))

    return float(optimize.brentq(lambda h: right(h) - sure, 0.0, 50.0, xtol=1e-10))


def rinott_counts(first: NDArray[np.float64], sure: float, worth: float) -> list[int]:
    """Replications that Rinott's procedure would take of each setting: max(n0, ceil((h S / worth)^2))."""
    settings, count = first.shape
    if settings < 2:
        return [count] * settings
    h = rinott_h(settings, count, sure)
    return [max(count, math.ceil((h / worth) ** 2 * variance)) for variance in first.var(axis=1, ddof=1)]
