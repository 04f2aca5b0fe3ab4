"""Floors: what a setting must keep to be recommended, such as a least share of contests won by the better side."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from venue.errors import InputError
from venue.study.measures import check_measure

_BOUND = re.compile(r"\s*(\w+)\s*(>=|<=)\s*([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)\s*(%?)\s*")


@dataclass(frozen=True)
class Keep:
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

    @property
    def word(self) -> str:
        """What the bound is called."""
        return "limit" if self.most else "floor"


def keeps_of(texts: Iterable[str], known: Callable[[str, str], str] = check_measure) -> tuple[Keep, ...]:
    """Bounds from texts like "better_side_wins>=0.65" or "empty_wallets<=40%".

    Parameters
    ----------
    known
        Given the option and the name of a measure, returns the name or raises `InputError`.

    Raises
    ------
    InputError
        If a text is no such bound, or a measure is bound twice from the same side.
    """
    found: list[Keep] = []
    for text in texts:
        match = _BOUND.fullmatch(text)
        if match is None:
            raise InputError(f'--keep "{text}": is not MEASURE>=NUMBER; write it like --keep "better_side_wins>=0.65"')
        measure = known("--keep", match[1])
        bound = float(match[3]) / (100.0 if match[4] else 1.0)
        keep = Keep(measure, bound, most=match[2] == "<=")
        if any((other.measure, other.most) == (keep.measure, keep.most) for other in found):
            raise InputError(f"--keep {measure}: is bound twice from the same side; give one bound")
        found.append(keep)
    return tuple(found)


@dataclass(frozen=True)
class Floors:
    """What a setting must keep: least `better_side_wins` and least `return_28d`, as shares, and any others."""

    better_side_wins: float
    return_28d: float
    others: tuple[Keep, ...] = ()

    def all(self) -> tuple[Keep, ...]:
        """Every bound."""
        return (Keep("better_side_wins", self.better_side_wins), Keep("return_28d", self.return_28d), *self.others)

    def to_dict(self) -> dict[str, float | Mapping[str, float]]:
        """Plain data: floors by measure; limits, where there are any, in a table of their own."""
        limits = {keep.measure: keep.bound for keep in self.others if keep.most}
        return {keep.measure: keep.bound for keep in self.all() if not keep.most} | (
            {"at_most": limits} if limits else {}
        )
