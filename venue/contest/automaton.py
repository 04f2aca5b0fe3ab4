"""What a contest remembers besides the margin: who attacks, who scored last, runs of scores, misses in a row.

The automaton is built from the rules in use and holds only the modes that play can reach: a title whose rules need no
memory has none. Runs and misses are counted no further than some rule asks, and only for the sides it serves.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from venue.contest import effects
from venue.contest.match import Match
from venue.scenario.rules import Drought, RunBoost
from venue.scenario.title import Title

Event = Literal["score", "miss", "lost"]
Pair = tuple[int, int]


@dataclass(frozen=True)
class Mode:
    """One thing that play can remember.

    Attributes
    ----------
    holder
        By turns: the side that attacks, 0 or 1. In open play: who scored last, -1 for nobody (or where nothing asks).
    run
        Unanswered scores of either side, counted up to what a rule asks for.
    missed
        Misses in a row of either side, likewise.
    """

    holder: int
    run: Pair = (0, 0)
    missed: Pair = (0, 0)


def _bump(pair: Pair, side: int, most: Pair) -> Pair:
    value = min(pair[side] + 1, most[side])
    return (value, pair[1]) if side == 0 else (pair[0], value)


def _clear(pair: Pair, side: int) -> Pair:
    return (0, pair[1]) if side == 0 else (pair[0], 0)


class Automaton:
    """The modes of a title for a match, how events lead from one to the next, and what is kept over a break.

    Attributes
    ----------
    modes
        Modes that play can reach, in a fixed order.
    kept
        What a break can keep of a mode: the break modes, in a fixed order.
    exits
        For each mode, the break mode that a period which ends in it leaves behind.
    breaks
        Number of break modes.
    """

    def __init__(self, title: Title, match: Match) -> None:
        self.title = title
        self._by_turns = title.play == "turns" and title.race is None
        self._remembers_scorer = not self._by_turns and title.scores_again is not None
        self._carries_on = title.period_start == "carry on"
        self._most_run = _asked(title, match, RunBoost)
        self._most_missed = _asked(title, match, Drought)
        found: dict[Mode, None] = {}
        waiting = list(self._openings(Mode(-1), 0))
        while waiting:
            mode = waiting.pop()
            if mode not in found:
                found[mode] = None
                waiting += self._followers(mode)
        self.modes = tuple(sorted(found, key=lambda mode: (mode.missed, mode.run, mode.holder)))
        self._place = {mode: index for index, mode in enumerate(self.modes)}
        self._known: dict[tuple[int, Event, int], int] = {}
        self._entries: dict[int, NDArray[np.float64]] = {}
        kept = sorted({self._kept(mode) for mode in self.modes}, key=lambda mode: (mode.missed, mode.run, mode.holder))
        self.kept = tuple(kept)
        places = {mode: index for index, mode in enumerate(kept)}
        self.breaks = len(kept)
        self.exits: NDArray[np.int64] = np.array([places[self._kept(mode)] for mode in self.modes])

    def after(self, index: int, event: Event, side: int) -> int:
        """Mode (by its place) that follows an event: a side scored, missed, or lost the attack."""
        key = index, event, side
        if key not in self._known:
            self._known[key] = self._place[self._after(self.modes[index], event, side)]
        return self._known[key]

    def _after(self, mode: Mode, event: Event, side: int) -> Mode:
        if event == "score":
            mode = replace(
                mode,
                run=_clear(_bump(mode.run, side, self._most_run), 1 - side),
                missed=_clear(mode.missed, side),
            )
        elif event == "miss":
            mode = replace(mode, missed=_bump(mode.missed, side, self._most_missed))
        if self._by_turns:
            return replace(mode, holder=side if event == "score" and self.title.scorer_keeps else 1 - side)
        return replace(mode, holder=side) if self._remembers_scorer else mode

    def _followers(self, mode: Mode) -> Iterator[Mode]:
        for side in (mode.holder,) if self._by_turns else (0, 1):
            yield self._after(mode, "score", side)
            if self._by_turns:
                yield self._after(mode, "miss", side)
                yield self._after(mode, "lost", side)
        if self.title.periods > 1:
            for period in (1, 2):
                yield from self._openings(self._kept(mode), period)

    def _kept(self, mode: Mode) -> Mode:
        """What a break leaves of a mode: runs and misses; who holds the attack only where play carries on."""
        return mode if self._carries_on else replace(mode, holder=-1)

    def _openings(self, kept: Mode, period: int) -> list[Mode]:
        """Modes, equally likely, in which a period may begin after a break that left `kept`."""
        if kept.holder >= 0 or not self._by_turns:
            return [kept]
        if self.title.period_start == "alternate":
            return [replace(kept, holder=period % 2)]
        return [replace(kept, holder=0), replace(kept, holder=1)]

    def entry(self, period: int) -> NDArray[np.float64]:
        """How a period (the first is 0) begins: share of each mode after each break mode. Shape (breaks, modes)."""
        if period not in self._entries:
            share = self._entries[period] = np.zeros((self.breaks, len(self.modes)))
            for place, kept in enumerate(self.kept):
                openings = [self._place[mode] for mode in self._openings(kept, period) if mode in self._place]
                for mode in openings:
                    share[place, mode] = 1.0 / len(openings)
        return self._entries[period]

    def start(self) -> NDArray[np.float64]:
        """Distribution over break modes when a contest begins."""
        share = np.zeros(self.breaks)
        openings = self._openings(Mode(-1), 0)
        for mode in openings:
            share[self.kept.index(self._kept(mode))] += 1.0 / len(openings)
        return share

    def fresh(self) -> NDArray[np.float64]:
        """Distribution over modes after a toss, with nothing to remember: how a next-score decision begins."""
        share = np.zeros(len(self.modes))
        sides = (0, 1) if self._by_turns else (-1,)
        known = [self._place[Mode(side)] for side in sides if Mode(side) in self._place]
        share[known] = 1.0 / len(known)
        return share


def _asked(title: Title, match: Match, kind: type[RunBoost] | type[Drought]) -> Pair:
    """How far the rules in use of a kind make play count, for either side."""
    most = [0, 0]
    for rule in title.rules.values():
        if isinstance(rule, kind):
            for side in (0, 1):
                if effects.weight_of(title, match, rule, side):
                    most[side] = max(most[side], rule.after)
    return most[0], most[1]
