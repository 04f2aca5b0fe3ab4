"""A solved contest laid out for the floor: look-ups instead of matrices.

On the floor a contest moves a whole period at a time: one uniform draw picks the state at the next break from the
exact transition matrix. Skills are continuous, tables are not: they stand on a grid of skill gaps, and a contest takes
one of the two neighbouring tables at random, with chances that keep its expected gap (`TitleTables.near`).
"""

from __future__ import annotations

import math
from bisect import bisect_right

import numpy as np

from venue.contest.chain import Chain, unaided_spread
from venue.contest.effects import Array
from venue.contest.setting import Player, Setting
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
        chain = Chain(title, setting)
        self.setting = setting
        self.periods = title.periods
        self.tie_value = chain.tie_value
        self._low, self._size = int(chain.margins[0]), len(chain.margins)
        self.margins: list[int] = np.tile(chain.margins, chain.break_modes).tolist()
        self._transitions = [chain.transition(period) for period in range(title.periods)]
        worth = chain.end_values()[:, 0]
        close = np.tile((np.abs(chain.margins) <= title.close).astype(float), chain.break_modes)
        self.win = self._backward(worth)
        self._close = self._backward(close)
        self._rows: list[list[tuple[list[float], int] | None]] = [
            [None] * len(self.margins) for _ in range(self.periods)
        ]
        self.noticeable: list[list[tuple[float, float]]] = []
        seen: dict[int, list[tuple[float, float]]] = {}
        for period, transition in enumerate(self._transitions):
            key = id(transition)  # equal periods share one matrix
            if key not in seen:
                both = chain.collect(period, "noticeable")
                seen[key] = list(zip(both[:, 0].tolist(), both[:, 1].tolist(), strict=True))
            self.noticeable.append(seen[key])
        starts = np.flatnonzero(chain.start)
        self.win_chance = float(chain.start @ np.array(self.win[0]))
        self._starts = starts.tolist()
        self._start_chances: list[float] = np.cumsum(chain.start[starts]).tolist()

    def _backward(self, values: Array) -> list[list[float]]:
        found = [values]
        for transition in reversed(self._transitions):
            found.append(transition @ found[-1])
        return [value.tolist() for value in reversed(found)]

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
        cumulative = np.cumsum(self._transitions[period][state])
        first = int(np.searchsorted(cumulative, _TAIL))
        last = int(np.searchsorted(cumulative, 1.0 - _TAIL))
        # The last state takes what is left, so that a draw close to one cannot fall off the end.
        return cumulative[first:last].tolist(), first

    def state_at(self, margin: int, like: int) -> int:
        """Break state with a margin in break mode `like`, nearest if the margin lies beyond the table."""
        return like * self._size + min(max(margin - self._low, 0), self._size - 1)

    def mode_of(self, state: int) -> int:
        """Break mode of a break state."""
        return state // self._size

    def close(self, period: int, state: int) -> float:
        """Chance of a close finish from a break state."""
        return self._close[period][state]


def grid_of(title: Title) -> float:
    """Distance of the skill gaps for which a title is solved, in log-odds."""
    return _GRID / math.sqrt(max(1.0, title.periods * title.period_length / title.mean_attack))


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
