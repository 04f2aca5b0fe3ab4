"""Requirements: what a setting must keep to be recommended, such as a minimum share of contests that the better side
wins."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from venue.errors import InputError
from venue.scenario.study import Study
from venue.study.registry import check_measure

_BOUND = re.compile(r"\s*(\w+)\s*(>=|<=)\s*([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)\s*(%?)\s*")


@dataclass(frozen=True)
class Requirement:
    """A bound on one measure: at least so much, or with `most` at most so much."""

    measure: str
    bound: float
    most: bool = False

    def kept(self, values: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Whether values keep it."""
        return values <= self.bound if self.most else values >= self.bound

    @property
    def sign(self) -> str:
        """How the bound is written."""
        return "<=" if self.most else ">="

    def __str__(self) -> str:
        return f"{self.measure}{self.sign}{self.bound:g}"


def requirements_of(
    texts: Iterable[str], known: Callable[[str, str], str] = check_measure
) -> tuple[Requirement, ...]:  # fmt: skip
    """Requirements from texts like "better_side_wins>=0.65" or "empty_wallets<=40%".

    Parameters
    ----------
    known
        Given the option and the name of a measure, returns the name or raises `InputError`.

    Raises
    ------
    InputError
        If a text is no such bound, or a measure is bound twice from the same side.
    """
    found: list[Requirement] = []
    for text in texts:
        match = _BOUND.fullmatch(text)
        if match is None:
            raise InputError(f'--keep "{text}": is not MEASURE>=NUMBER; write it like --keep "better_side_wins>=0.65"')
        measure = known("--keep", match[1])
        bound = float(match[3]) / (100.0 if match[4] else 1.0)
        item = Requirement(measure, bound, most=match[2] == "<=")
        if any((other.measure, other.most) == (item.measure, item.most) for other in found):
            raise InputError(f"--keep {measure}: is bound twice from the same side; give one bound")
        found.append(item)
    return tuple(found)


@dataclass(frozen=True)
class Requirements:
    """What a setting must keep: minimum `better_side_wins` and `return_28d`, as shares, and any others.

    Attributes
    ----------
    surely
        The chance with which a recommended setting must keep all of them together.
    """

    better_side_wins: float
    return_28d: float
    others: tuple[Requirement, ...] = ()
    surely: float = 0.9

    @classmethod
    def of(cls, study: Study, others: tuple[Requirement, ...] = ()) -> Requirements:
        """Those of a scenario, and any others."""
        return cls(study.keep_better_side_wins, study.keep_return_28d, others, study.keep_surely)

    def all(self) -> tuple[Requirement, ...]:
        """Every requirement."""
        own = (("better_side_wins", self.better_side_wins), ("return_28d", self.return_28d))
        return (*(Requirement(name, bound) for name, bound in own), *self.others)

    def to_dict(self) -> dict[str, float | Mapping[str, float]]:
        """Plain data: minima by measure; maxima, where there are any, in a table of their own."""
        most = {item.measure: item.bound for item in self.others if item.most}
        return {item.measure: item.bound for item in self.all() if not item.most} | ({"at_most": most} if most else {})
