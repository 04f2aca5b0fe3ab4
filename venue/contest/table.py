"""A solved contest laid out for the floor: look-ups instead of matrices.

On the floor a contest moves a whole period at a time: one uniform draw picks the state at the next break from the
exact transition matrix. Skills are continuous, tables are not: they stand on a grid of skill gaps, and a contest takes
one of the two neighbouring tables at random, with chances that keep its expected gap (`TitleTables.near`).
"""

from __future__ import annotations

import math
from array import array
from bisect import bisect_right
from typing import Any

import numpy as np
from numpy.typing import NDArray

from venue.contest.automaton import Mode
from venue.contest.forms import solve, unaided_spread
from venue.contest.match import Match, Player
from venue.contest.skills import attacks_of
from venue.scenario.title import Title

# Grid of skill gaps, in units of one over the square root of the attacks in a contest: the more attacks, the more
# steeply the chance to win turns with skill. Half a unit keeps what lies between two nodes within 0.002.
_GRID = 0.5
_TAIL = 1e-13


class Break:
    """A contest at a break, at its start or at its end: all that the floor asks of it, kept together.

    Attributes
    ----------
    period
        Periods played.
    state
        Break state of the chain.
    margin
        Points that side A is ahead.
    win
        Chance that side A wins from here.
    close
        Chance of a close finish from here.
    length
        Playing time of the period that follows, in seconds.
    noticeable
        Expected noticeable assisted scores of side A and of side B in the period that follows.
    cumulative
        Cumulative chances of the breaks that the period leads to, in the order of their states.
    after
        Those breaks, as far as a contest has come to them; see `ContestTable.play`.
    """

    __slots__ = ("after", "close", "cumulative", "first", "length", "margin", "noticeable", "period", "state", "win")

    def __init__(
        self, period: int, state: int, *, margin: int, win: float, close: float, length: float,
        noticeable: tuple[float, float],
    ) -> None:  # fmt: skip
        self.period = period
        self.state = state
        self.margin = margin
        self.win = win
        self.close = close
        self.length = length
        self.noticeable = noticeable
        self.cumulative: array[float]
        self.after: list[Break | None]
        self.first: int


class ContestTable:
    """One title for one match, by period and break state.

    Attributes
    ----------
    margins
        Margin of each break state, in points.
    win
        `win[k][state]`: chance that side A wins from the start of period k; k = periods is the end.
    win_chance
        Chance that side A wins, from the start.
    tie_value
        Chance that side A wins a contest that ends level.
    noticeable
        `noticeable[k][state]`: expected noticeable assisted scores of side A and of side B in period k.
    """

    def __init__(self, title: Title, match: Match) -> None:
        chain = solve(title, match)
        self.match = match
        self.periods = title.periods
        self._kept = chain.automaton.kept
        self._places = {mode: place for place, mode in enumerate(self._kept)}
        self.tie_value = chain.tie_value
        self._board, self._size = chain.board, chain.places
        self.margins = np.tile(chain.board.margins, chain.break_modes)
        self.win = chain.win
        self._close = chain.close_chance()
        self._seconds = [chain.seconds(period) for period in range(self.periods)]
        self.noticeable: list[NDArray[np.float64]] = []
        seen: dict[object, NDArray[np.float64]] = {}
        for period in range(self.periods):
            key = chain.period_key(period)
            if key not in seen:
                seen[key] = chain.collect(period, "noticeable")
            self.noticeable.append(seen[key])
        # A small chain leaves its transition matrices; a large one is kept, to work out each row that is asked for.
        self._transitions = [chain.transition(period) for period in range(self.periods)] if chain.is_dense else None
        self._chain = None if chain.is_dense else chain
        starts = np.flatnonzero(chain.start)
        self.win_chance = float(chain.start @ self.win[0])
        # Few of the breaks are ever met: each is looked up and laid out when it first is.
        self._breaks: dict[tuple[int, int], Break] = {}
        self._starts = [self.at(0, state) for state in starts.tolist()]
        self._start_chances: list[float] = np.cumsum(chain.start[starts]).tolist()

    def at(self, period: int, state: int) -> Break:
        """The break after `period` periods in a break state."""
        found = self._breaks.get((period, state))
        if found is None:
            goes_on = period < self.periods
            by_a, by_b = self.noticeable[period][state] if goes_on else (0.0, 0.0)
            found = self._breaks[period, state] = Break(
                period,
                state,
                margin=int(self.margins[state]),
                win=float(self.win[period][state]),
                close=float(self._close[period][state]),
                length=float(self._seconds[period][state]) if goes_on else 0.0,
                noticeable=(float(by_a), float(by_b)),
            )
            if period < self.periods:
                self._lay_out(found)
        return found

    def begin(self, uniform: float) -> Break:
        """Where a contest begins."""
        if len(self._starts) == 1:
            return self._starts[0]
        return self._starts[min(bisect_right(self._start_chances, uniform), len(self._starts) - 1)]

    def play(self, here: Break, uniform: float) -> Break:
        """The break after the period that begins `here`, by inversion of its exact distribution."""
        place = bisect_right(here.cumulative, uniform)
        return here.after[place] or self.reach(here, place)

    def reach(self, here: Break, place: int) -> Break:
        """Come to a break after `here` for the first time."""
        found = here.after[place] = self.at(here.period + 1, here.first + place)
        return found

    def _lay_out(self, here: Break) -> None:
        if self._transitions is not None:
            row = self._transitions[here.period][here.state]
        else:
            unit = np.zeros(len(self.margins))
            unit[here.state] = 1.0
            row = self._chain.push(here.period, unit)  # type: ignore[union-attr]
        cumulative = np.cumsum(row)
        first = int(np.searchsorted(cumulative, _TAIL))
        last = int(np.searchsorted(cumulative, 1.0 - _TAIL))
        # The last state takes what is left, so that a draw close to one cannot fall off the end. An array lies in one
        # piece of memory, which the search finds its way through sooner than through a list of numbers.
        here.cumulative = array("d", cumulative[first:last])
        here.first = first
        here.after = [None] * (last - first + 1)

    def find(self, period: int, score: Any, kept: Mode) -> Break:
        """The break with a score and what a break has kept, or the nearest to it that this table knows."""
        place = self._places.get(kept)
        if place is None:
            place = self._places.get(Mode(kept.holder), 0)
        return self.at(period, place * self._size + self._board.place(score))

    def score(self, here: Break) -> Any:
        """What the scoreboard shows at a break: the margin, or both scores."""
        return self._board.score(here.state % self._size)

    def kept(self, here: Break) -> Mode:
        """What a break has kept besides the margin."""
        return self._kept[here.state // self._size]


def grid_of(title: Title) -> float:
    """Distance of the skill gaps for which a title is solved, in log-odds."""
    return _GRID / math.sqrt(max(1.0, attacks_of(title)))


class TitleTables:
    """All tables of a title that a floor asks for, solved when first needed and kept.

    Parameters
    ----------
    title
        The title.
    strength, switches_off
        As in `Match`.
    """

    def __init__(self, title: Title, strength: float, switches_off: frozenset[str]) -> None:
        self.title = title
        self.strength = strength
        self.switches_off = switches_off
        self.spread = max(unaided_spread(title), 1e-9)
        self.grid = grid_of(title)
        self.difficulty: str | None = None
        self._difficulties: dict[str | None, TitleTables] = {}
        self._tables: dict[tuple[int, Player, Player], ContestTable] = {}

    def at_difficulty(self, difficulty: str | None) -> TitleTables:
        """The tables of the title at one of its difficulties; these, where that changes no rule and no attempt."""
        title = self.title.at(difficulty)
        if title is self.title:
            return self
        if difficulty not in self._difficulties:
            tables = self._difficulties[difficulty] = TitleTables(title, self.strength, self.switches_off)
            tables.difficulty = difficulty
        return self._difficulties[difficulty]

    def near(self, gap: float, uniform: float, side_a: Player, side_b: Player) -> ContestTable:
        """One of the two tables next to a skill gap, with chances that keep the expected gap."""
        place = gap / self.grid
        below = math.floor(place)
        node = below + (uniform < place - below)
        return self._tables.get((node, side_a, side_b)) or self.at(node, side_a, side_b)

    def at(self, node: int, side_a: Player, side_b: Player) -> ContestTable:
        """The table at skill gap `node * grid`."""
        found = self._tables.get((node, side_a, side_b))
        if found is None:
            match = Match(self.strength, node * self.grid, side_a, side_b, self.switches_off)
            found = self._tables[node, side_a, side_b] = ContestTable(self.title, match)
        return found
