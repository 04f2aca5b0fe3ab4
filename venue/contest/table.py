"""A solved contest laid out for the floor: look-ups instead of matrices.

On the floor a contest moves a whole period at a time: one uniform draw picks the state at the next break from the
exact transition matrix. Skills are continuous, tables are not: they stand on a grid of skill gaps, and a contest takes
one of the two neighbouring tables at random, with chances that keep its expected gap (`GapGrid`).
"""

from __future__ import annotations

import math
from bisect import bisect_right

import numpy as np

from venue.contest.chain import Chain, unaided_spread
from venue.contest.setting import Player, Setting
from venue.scenario.title import Title

GRID = 0.25
_TAIL = 1e-13


class ContestTable:
    """One title in one setting, by period and break state, as plain lists.

    Attributes
    ----------
    margins
        Margin of each break state, in points.
    win
        `win[k][state]`: chance that side A wins from the start of period k; k = periods is the end.
    assisted
        `assisted[k][state]`: expected assisted scores of side A and of side B in period k.
    """

    def __init__(self, title: Title, setting: Setting) -> None:
        self.chain = Chain(title, setting)
        self.setting = setting
        self.periods = title.periods
        self.margins: list[int] = np.tile(self.chain.margins, self.chain.break_modes).tolist()
        self.win: list[list[float]] = [values.tolist() for values in self.chain.win]
        self._close: list[list[float]] | None = None
        self._rows: list[dict[int, tuple[list[float], int]]] = [{} for _ in range(title.periods)]
        self.assisted: list[list[tuple[float, float]]] = []
        seen: dict[int, list[tuple[float, float]]] = {}
        for period in range(title.periods):
            key = id(self.chain.transition(period))  # equal periods share one matrix
            if key not in seen:
                both = self.chain.collect(period, "assisted")
                seen[key] = list(zip(both[:, 0].tolist(), both[:, 1].tolist(), strict=True))
            self.assisted.append(seen[key])
        starts = np.flatnonzero(self.chain.start)
        self._starts = starts.tolist()
        self._start_chances: list[float] = np.cumsum(self.chain.start[starts]).tolist()

    def begin(self, uniform: float) -> int:
        """Break state in which a contest begins."""
        if len(self._starts) == 1:
            return self._starts[0]
        return self._starts[min(bisect_right(self._start_chances, uniform), len(self._starts) - 1)]

    def play(self, period: int, state: int, uniform: float) -> int:
        """Break state at the end of a period that began in `state`, by inversion of its exact distribution."""
        row = self._rows[period].get(state)
        if row is None:
            row = self._rows[period][state] = self._row(period, state)
        return row[1] + bisect_right(row[0], uniform)

    def _row(self, period: int, state: int) -> tuple[list[float], int]:
        cumulative = np.cumsum(self.chain.transition(period)[state])
        first = int(np.searchsorted(cumulative, _TAIL))
        last = int(np.searchsorted(cumulative, 1.0 - _TAIL))
        # The last state takes what is left, so that a draw close to one cannot fall off the end.
        return cumulative[first:last].tolist(), first

    def state_at(self, margin: int, like: int) -> int:
        """Break state with a margin in the break mode of another table's state `like` of the same title."""
        low, size = int(self.chain.margins[0]), len(self.chain.margins)
        return like * size + min(max(margin - low, 0), size - 1)

    def mode_of(self, state: int) -> int:
        """Break mode of a break state."""
        return state // len(self.chain.margins)

    def close(self, period: int, state: int) -> float:
        """Chance of a close finish from a break state."""
        if self._close is None:
            self._close = [values.tolist() for values in self.chain.close_chance()]
        return self._close[period][state]


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
        self._tables: dict[tuple[float, int, Player, Player], ContestTable] = {}

    def at(self, node: int, side_a: Player, side_b: Player, strength: float | None = None) -> ContestTable:
        """The table at skill gap `node * GRID`."""
        strength = self.strength if strength is None else strength
        key = (strength, node, side_a, side_b)
        if key not in self._tables:
            setting = Setting(strength, node * GRID, side_a, side_b, self.switches_off)
            self._tables[key] = ContestTable(self.title, setting)
        return self._tables[key]

    @staticmethod
    def node(gap: float, uniform: float) -> int:
        """Grid node for a skill gap: one of its two neighbours, with chances that keep the expected gap."""
        place = gap / GRID
        below = math.floor(place)
        return below + (uniform < place - below)
