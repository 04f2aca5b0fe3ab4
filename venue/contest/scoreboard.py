"""What the scoreboard can show: the margin, in a contest to N points both scores, and where asked who led last.

A place is one thing the board can show. Places are numbered; what is known of each stands in arrays over the places.
"""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy
from functools import cache
from typing import Any, Protocol, TypeVar

import numpy as np
from numpy.typing import NDArray

Whole = NDArray[np.int64]


class Board(Protocol):
    """The places of a scoreboard.

    Attributes
    ----------
    margins
        Points by which side A leads.
    leads
        Who leads, or where the score is level led last: 1 side A, -1 side B, 0 nobody so far (or not recalled).
    points_left
        In a contest to N points, points that the leader still needs, in the rules' eyes; None where a clock runs.
    start
        The place at which a contest begins.
    starts
        The same for each of many contests that a board stands for.
    """

    margins: Whole
    leads: Whole
    points_left: NDArray[np.float64] | None
    start: int
    starts: tuple[int, ...]

    def landing(self, gain: int) -> Whole:
        """Place after side A makes so many points (side B if negative), from each place."""

    def score(self, place: int) -> Any:
        """What the board shows at a place: the margin, or both scores."""

    def place(self, score: Any) -> int:
        """The place that shows a score, or the nearest to it."""


class MarginBoard:
    """Margins from `low` to `high`, one by one; what would leave that range stays at its end.

    With `recalls_leader` a level score has three places: nobody has led, side A led last, side B led last.
    """

    def __init__(self, low: int, high: int, *, recalls_leader: bool = False) -> None:
        span = np.arange(low, high + 1)
        self._low, self._high = low, high
        self.start = -low
        self.starts: tuple[int, ...] = (self.start,)
        self.points_left: NDArray[np.float64] | None = None
        self.margins: Whole = np.concatenate([span, [0, 0]]) if recalls_leader else span
        self.leads: Whole = np.sign(self.margins)
        if recalls_leader:
            self.leads[-2:] = 1, -1
        self.landing = cache(self._landing)

    def _landing(self, gain: int) -> Whole:
        """See `Board`."""
        after = np.clip(self.margins + gain, self._low, self._high)
        places: Whole = after - self._low
        if len(self.margins) > self._high - self._low + 1:
            level = after == 0
            places[level & (self.leads > 0)] = len(self.margins) - 2
            places[level & (self.leads < 0)] = len(self.margins) - 1
        return places

    def score(self, place: int) -> int:
        """See `Board`."""
        return int(self.margins[place])

    def place(self, score: Any) -> int:
        """See `Board`."""
        return min(max(int(score) - self._low, 0), self._high - self._low)


class ScoreBoard:
    """Both scores of a contest to `points` points with a lead of `win_by`.

    Beyond `points` - 1 all only the difference counts: 12 to 11 is shown as 11 to 10, which is won no sooner.

    Parameters
    ----------
    gains
        Points that one attempt may be worth.

    Attributes
    ----------
    scores
        Points of side A and of side B at each place, shape (places, 2).
    over
        Whether the contest is over there.
    points
        Points it takes to win.
    """

    def __init__(self, points: int, win_by: int, gains: tuple[int, ...], *, recalls_leader: bool = False) -> None:
        self.points, self._win_by, self._recalls = points, win_by, recalls_leader
        places: dict[tuple[int, int, int], int] = {(0, 0, 0): 0}
        waiting = [(0, 0, 0)]
        while waiting:
            here = waiting.pop()
            if self._is_over(here):
                continue
            for gain in gains:
                for after in (self._after(here, gain), self._after(here, -gain)):
                    if after not in places:
                        places[after] = len(places)
                        waiting.append(after)
        # In the order in which points are made, so that no matrix of transitions leads back.
        order = sorted(places, key=lambda place: (place[0] + place[1], place))
        self._places = {place: number for number, place in enumerate(order)}
        self.scores: Whole = np.array([place[:2] for place in order])
        self.over: NDArray[np.bool_] = np.array([self._is_over(place) for place in order])
        self.margins: Whole = self.scores[:, 0] - self.scores[:, 1]
        self.leads: Whole = np.array([place[2] for place in order])
        needed = np.maximum(points - self.scores.max(axis=1), win_by - np.abs(self.margins))
        self.points_left: NDArray[np.float64] | None = needed.astype(float)
        self.start = self._places[0, 0, 0]
        self.starts: tuple[int, ...] = (self.start,)
        self.landing = cache(self._landing)

    def _is_over(self, place: tuple[int, int, int]) -> bool:
        a, b, _ = place
        return max(a, b) >= self.points and abs(a - b) >= self._win_by

    def _after(self, place: tuple[int, int, int], gain: int) -> tuple[int, int, int]:
        a, b, led = place
        a, b = (a + gain, b) if gain > 0 else (a, b - gain)
        beyond = max(0, min(a, b) - (self.points - 1))
        return a - beyond, b - beyond, int(np.sign(a - b)) or (led if self._recalls else 0)

    def _landing(self, gain: int) -> Whole:
        """See `Board`; a contest that is over stays as it is."""
        found = np.arange(len(self.margins))
        for place, number in self._places.items():
            if gain and not self.over[number]:
                found[number] = self._places.get(self._after(place, gain), number)
        return found

    def score(self, place: int) -> tuple[int, int]:
        """See `Board`."""
        a, b = self.scores[place].tolist()
        return a, b

    def place(self, score: Any) -> int:
        """See `Board`."""
        a, b = score
        return self._places[a, b, int(np.sign(a - b))]


AnyBoard = TypeVar("AnyBoard", MarginBoard, ScoreBoard)


def joined(boards: Sequence[AnyBoard]) -> AnyBoard:
    """A board that stands for many contests at once: the places of each, as many for all, and no way from one to
    another."""
    first, size = boards[0], len(boards[0].margins)
    many = copy(first)
    for name in ("margins", "leads", "points_left", "over"):
        if getattr(first, name, None) is not None:
            setattr(many, name, np.concatenate([getattr(board, name) for board in boards]))
    if isinstance(many, ScoreBoard):
        many.scores = np.tile(many.scores, (len(boards), 1))
    many.starts = tuple(number * size + board.start for number, board in enumerate(boards))
    many.landing = cache(
        lambda gain: np.concatenate([board.landing(gain) + number * size for number, board in enumerate(boards)])
    )
    return many
