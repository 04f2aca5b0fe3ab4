"""A solved contest laid out for the floor: look-ups instead of matrices.

On the floor a contest moves a whole period at a time: one uniform draw picks the state at the next break from the
exact transition matrix. Skills are continuous, tables are not: they stand on a grid of skill gaps, and a contest takes
one of the two neighbouring tables at random, with chances that keep its expected gap (`TitleTables.near`).
"""

from __future__ import annotations

import math
from bisect import bisect_right
from typing import Any

import numpy as np

from venue.contest.forms import solve, unaided_spread
from venue.contest.modes import Mode
from venue.contest.setting import Player, Setting
from venue.contest.skills import attacks_of
from venue.scenario.title import Title

# Grid of skill gaps, in units of one over the square root of the attacks in a contest: the more attacks, the more
# steeply the chance to win turns with skill. Half a unit keeps what lies between two nodes within 0.002.
_GRID = 0.5
_TAIL = 1e-13


class ContestTable:
    """One title in one setting, by period and break state, as plain lists.

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

    def __init__(self, title: Title, setting: Setting) -> None:
        chain = solve(title, setting)
        self.setting = setting
        self.periods = title.periods
        self._kept = chain.automaton.kept
        self._places = {mode: place for place, mode in enumerate(self._kept)}
        self.tie_value = chain.tie_value
        self._board, self._size = chain.board, chain.places
        self.margins: list[int] = np.tile(chain.board.margins, chain.break_modes).tolist()
        self.win: list[list[float]] = [values.tolist() for values in chain.win]
        self._close: list[list[float]] = [values.tolist() for values in chain.close_chance()]
        self._rows: list[list[tuple[list[float], int] | None]] = [
            [None] * len(self.margins) for _ in range(self.periods)
        ]
        self.noticeable: list[list[tuple[float, float]]] = []
        seen: dict[object, list[tuple[float, float]]] = {}
        for period in range(self.periods):
            key = chain.period_key(period)
            if key not in seen:
                both = chain.collect(period, "noticeable")
                seen[key] = list(zip(both[:, 0].tolist(), both[:, 1].tolist(), strict=True))
            self.noticeable.append(seen[key])
        # A small chain leaves its transition matrices; a large one is kept, to work out each row that is asked for.
        self._transitions = [chain.transition(period) for period in range(self.periods)] if chain.is_dense else None
        self._chain = None if chain.is_dense else chain
        starts = np.flatnonzero(chain.start)
        self.win_chance = float(chain.start @ np.array(self.win[0]))
        self._starts = starts.tolist()
        self._start_chances: list[float] = np.cumsum(chain.start[starts]).tolist()

    def begin(self, uniform: float) -> int:
        """Break state in which a contest begins."""
        if len(self._starts) == 1:
            return self._starts[0]
        return self._starts[min(bisect_right(self._start_chances, uniform), len(self._starts) - 1)]

    def play(self, period: int, state: int, uniform: float) -> int:
        """Break state at the end of a period that began in `state`, by inversion of its exact distribution."""
        row = self._rows[period][state]
        if row is None:
            row = self._rows[period][state] = self._row(period, state)
        cumulative, first = row
        return first + bisect_right(cumulative, uniform)

    def _row(self, period: int, state: int) -> tuple[list[float], int]:
        if self._transitions is not None:
            row = self._transitions[period][state]
        else:
            unit = np.zeros(len(self.margins))
            unit[state] = 1.0
            row = self._chain.push(period, unit)  # type: ignore[union-attr]
        cumulative = np.cumsum(row)
        first = int(np.searchsorted(cumulative, _TAIL))
        last = int(np.searchsorted(cumulative, 1.0 - _TAIL))
        # The last state takes what is left, so that a draw close to one cannot fall off the end.
        return cumulative[first:last].tolist(), first

    def state_at(self, score: Any, kept: Mode) -> int:
        """Break state with a score and what a break has kept, or the nearest to it that this table knows."""
        places = self._places
        place = places.get(kept, places.get(Mode(kept.holder), 0))
        return place * self._size + self._board.place(score)

    def score(self, state: int) -> Any:
        """What the scoreboard shows in a break state: the margin, or both scores."""
        return self._board.score(state % self._size)

    def kept(self, state: int) -> Mode:
        """What a break has kept besides the margin."""
        return self._kept[state // self._size]

    def close(self, period: int, state: int) -> float:
        """Chance of a close finish from a break state."""
        return self._close[period][state]


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
        As in `Setting`.
    """

    def __init__(self, title: Title, strength: float, switches_off: frozenset[str]) -> None:
        self.title = title
        self.strength = strength
        self.switches_off = switches_off
        self.spread = max(unaided_spread(title), 1e-9)
        self.grid = grid_of(title)
        self._tables: dict[tuple[int, Player, Player], ContestTable] = {}

    def near(self, gap: float, uniform: float, side_a: Player, side_b: Player) -> ContestTable:
        """One of the two tables next to a skill gap, with chances that keep the expected gap."""
        place = gap / self.grid
        below = math.floor(place)
        return self.at(below + (uniform < place - below), side_a, side_b)

    def at(self, node: int, side_a: Player, side_b: Player) -> ContestTable:
        """The table at skill gap `node * grid`."""
        found = self._tables.get((node, side_a, side_b))
        if found is None:
            setting = Setting(self.strength, node * self.grid, side_a, side_b, self.switches_off)
            found = self._tables[node, side_a, side_b] = ContestTable(self.title, setting)
        return found
