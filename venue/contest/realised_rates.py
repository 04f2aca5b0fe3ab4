"""Coded against effective: the chance that a title writes down, and the rate that really results.

Between the two stand skill, every rule, and above all the moments in which attempts are made: a 5 % chance that is
tried mostly when a rule lifts it may go in half the time.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from venue.contest.effects import Array
from venue.contest.results import Field
from venue.contest.transitions import PACE
from venue.scenario.title import Title

# Attempts a contest below which a rate says nothing.
_RAREST = 1e-6


@dataclass(frozen=True)
class Rate:
    """How often an attempt kind succeeds for one side while it trails by `low` to `high` points.

    Attributes
    ----------
    attempt
        Attempt kind; "pace" in a race.
    side
        0 for side A, 1 for side B.
    low, high
        Points behind, negative when ahead; None where the band has no end.
    written
        Chance in the title; in open play an even chance to make the next score, in a race even pace (1).
    tried
        Expected attempts a contest (in a race: lengths at even pace).
    effective
        Share of them that succeed, once skill and every rule have acted.
    """

    attempt: str
    side: int
    low: int | None
    high: int | None
    written: float
    tried: float
    effective: float

    @property
    def ratio(self) -> float:
        """Effective over written; NaN where nothing is written but 0."""
        return self.effective / self.written if self.written else float("nan")


@dataclass(frozen=True)
class ByMargin:
    """Attempts and successes of one kind and side by points behind.

    Attributes
    ----------
    behind
        Points behind, rising.
    tried, made
        Expected a contest, over `behind`.
    """

    attempt: str
    side: int
    written: float
    behind: NDArray[np.int64]
    tried: Array
    made: Array

    def rate(self, low: int | None, high: int | None) -> Rate | None:
        """Over a band of points behind; None where hardly anything is tried."""
        inside = np.ones(len(self.behind), dtype=bool)
        if low is not None:
            inside &= self.behind >= low
        if high is not None:
            inside &= self.behind <= high
        tried = float(self.tried[inside].sum())
        if tried < _RAREST:
            return None
        made = float(self.made[inside].sum())
        return Rate(self.attempt, self.side, low, high, self.written, tried, made / tried)


def by_margin(title: Title, found: Field) -> list[ByMargin]:
    """Attempts and successes by kind, side and margin, averaged over the match-ups."""
    most = max(int(np.abs(course.solved.margins).max()) for _, _, course in found.parts)
    behind = np.arange(-most, most + 1)
    kinds = list(title.attempts) or [PACE]
    tried, made = np.zeros((2, len(kinds), 2, len(behind)))
    for _, weights, course in found.parts:
        for number, kind in enumerate(kinds):
            for side, sign in ((0, -1), (1, 1)):
                places = (sign * course.board_margins + most).ravel()
                for sums, rates in ((tried, course.on_the_way.tried[kind]), (made, course.on_the_way.made[kind])):
                    counts = (rates[side] * weights[:, None]).ravel()
                    sums[number, side] += np.bincount(places, counts, minlength=len(behind))
    return [
        ByMargin(kind, side, _written(title, kind), behind, tried[number, side], made[number, side])
        for number, kind in enumerate(kinds)
        for side in (0, 1)
    ]


def _written(title: Title, attempt: str) -> float:
    if title.race is not None:
        return 1.0
    chance = title.attempts[attempt].chance
    return 0.5 if chance is None else chance


def bands(title: Title) -> Iterator[tuple[int | None, int | None]]:
    """Bands of points behind: a close score, some way off (three times as far), further, on either side, and level."""
    near = max(1, title.close)
    far = 3 * near
    yield None, -far - 1
    yield -far, -near - 1
    yield -near, -1
    yield 0, 0
    yield 1, near
    yield near + 1, far
    yield far + 1, None


def rates(title: Title, tables: list[ByMargin]) -> list[Rate]:
    """Coded against effective for each attempt kind, side and margin band."""
    found = [table.rate(low, high) for table in tables for low, high in bands(title)]
    return [rate for rate in found if rate is not None]
