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

Event = Literal["score", "miss", "lost", "wait"]
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
    own_run, own_missed
        The same of single players, for those that a rule counts by player; see `Automaton.slots`.
    age
        Seconds that the attack has taken so far, where attacks have a limit.
    """

    holder: int
    run: Pair = (0, 0)
    missed: Pair = (0, 0)
    own_run: tuple[int, ...] = ()
    own_missed: tuple[int, ...] = ()
    age: int = 0


def _bump(pair: Pair, side: int, most: Pair) -> Pair:
    value = min(pair[side] + 1, most[side])
    return (value, pair[1]) if side == 0 else (pair[0], value)


def _clear(pair: Pair, side: int) -> Pair:
    return (0, pair[1]) if side == 0 else (pair[0], 0)


Slots = dict[tuple[int, str], tuple[int, int]]


def _order(mode: Mode) -> tuple[object, ...]:
    return mode.missed, mode.run, mode.holder, mode.own_missed, mode.own_run, mode.age


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
    slots
        For each player whose runs, and whose misses, are counted: a place in `Mode.own_run` (`own_missed`), and how far
        it counts.
    """

    def __init__(self, title: Title, match: Match) -> None:
        self.title = title
        self._by_turns = title.play == "turns" and title.race is None
        self._remembers_scorer = not self._by_turns and title.scores_again is not None
        self._carries_on = title.period_start == "carry on"
        self._most_run = _asked(title, match, RunBoost)
        self._most_missed = _asked(title, match, Drought)
        self.slots = {kind: _own_slots(title, match, kind) for kind in (RunBoost, Drought)}
        # Whoever takes an attempt, if it makes a difference to what is remembered.
        counted = [*self.slots[RunBoost], *self.slots[Drought]]
        self._takers: tuple[str | None, ...] = (None, *title.players) if counted else (None,)
        found: dict[Mode, None] = {}
        waiting = list(self._openings(self.blank(-1), 0))
        while waiting:
            mode = waiting.pop()
            if mode not in found:
                found[mode] = None
                waiting += self._followers(mode)
        self.modes = tuple(sorted(found, key=_order))
        self._place = {mode: index for index, mode in enumerate(self.modes)}
        self._known: dict[tuple[int, Event, int, str | None], int] = {}
        self._entries: dict[int, NDArray[np.float64]] = {}
        kept = sorted({self._kept(mode) for mode in self.modes}, key=_order)
        self.kept = tuple(kept)
        places = {mode: index for index, mode in enumerate(kept)}
        self.breaks = len(kept)
        self.exits: NDArray[np.int64] = np.array([places[self._kept(mode)] for mode in self.modes])

    def blank(self, holder: int) -> Mode:
        """Nothing remembered but who attacks, or who scored last."""
        own_run, own_missed = (tuple(0 for _ in self.slots[kind]) for kind in (RunBoost, Drought))
        return Mode(holder, own_run=own_run, own_missed=own_missed)

    def own_run(self, mode: Mode, side: int, player: str | None) -> int:
        """Unanswered scores of a player, as far as they are counted."""
        return _count(mode.own_run, self.slots[RunBoost], side, player)

    def own_missed(self, mode: Mode, side: int, player: str | None) -> int:
        """Misses in a row of a player, likewise."""
        return _count(mode.own_missed, self.slots[Drought], side, player)

    def after(self, index: int, event: Event, side: int, player: str | None = None) -> int:
        """Mode (by its place) that follows an event: a side, or a player of it, scored, missed, lost the attack, or
        goes on with it."""
        key = index, event, side, player
        if key not in self._known:
            self._known[key] = self._place[self._after(self.modes[index], event, side, player)]
        return self._known[key]

    def _after(self, mode: Mode, event: Event, side: int, player: str | None = None) -> Mode:
        if event == "wait":
            return replace(mode, age=mode.age + 1)
        if mode.age:
            mode = replace(mode, age=0)
        if mode.own_run or mode.own_missed:
            mode = self._own_after(mode, event, side, player)
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

    def _own_after(self, mode: Mode, event: Event, side: int, player: str | None) -> Mode:
        """What single players remember: a score is one more of the player's, and answers those of the other side."""
        run, missed = list(mode.own_run), list(mode.own_missed)
        if event == "score":
            for (owner, name), (place, most) in self.slots[RunBoost].items():
                if owner != side:
                    run[place] = 0
                elif name == player:
                    run[place] = min(run[place] + 1, most)
        for (owner, name), (place, most) in self.slots[Drought].items():
            if owner == side and name == player and event != "lost":
                missed[place] = 0 if event == "score" else min(missed[place] + 1, most)
        return replace(mode, own_run=tuple(run), own_missed=tuple(missed))

    def _followers(self, mode: Mode) -> Iterator[Mode]:
        for side in (mode.holder,) if self._by_turns else (0, 1):
            for player in self._takers:
                yield self._after(mode, "score", side, player)
                if self._by_turns:
                    yield self._after(mode, "miss", side, player)
            if self._by_turns:
                yield self._after(mode, "lost", side)
        if mode.age + 1 < self.title.longest_attack:
            yield self._after(mode, "wait", mode.holder)
        if self.title.periods > 1:
            for period in (1, 2):
                yield from self._openings(self._kept(mode), period)

    def _kept(self, mode: Mode) -> Mode:
        """What a break leaves of a mode: runs and misses; who holds the attack only where play carries on."""
        mode = mode if self._carries_on else replace(mode, holder=-1)
        return replace(mode, age=0) if mode.age else mode

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
        openings = self._openings(self.blank(-1), 0)
        for mode in openings:
            share[self.kept.index(self._kept(mode))] += 1.0 / len(openings)
        return share

    def fresh(self) -> NDArray[np.float64]:
        """Distribution over modes after a toss, with nothing to remember: how a next-score decision begins."""
        share = np.zeros(len(self.modes))
        sides = (0, 1) if self._by_turns else (-1,)
        known = [self._place[self.blank(side)] for side in sides if self.blank(side) in self._place]
        share[known] = 1.0 / len(known)
        return share


def _asked(title: Title, match: Match, kind: type[RunBoost] | type[Drought]) -> Pair:
    """How far the rules in use of a kind make play count, for either side."""
    most = [0, 0]
    for rule in title.rules.values():
        if isinstance(rule, kind) and rule.counts == "side":
            for side in (0, 1):
                if effects.weight_of(title, match, rule, side):
                    most[side] = max(most[side], rule.after)
    return most[0], most[1]


def _own_slots(title: Title, match: Match, kind: type[RunBoost] | type[Drought]) -> Slots:
    """Whose own runs or misses the rules in use ask for, each with a place and how far it counts."""
    most: dict[tuple[int, str], int] = {}
    for rule in title.rules.values():
        if isinstance(rule, kind) and rule.counts == "player":
            for side in (0, 1):
                for name, attempt in title.attempts.items():
                    if effects.weight_of(title, match, rule, side) and (rule.attempts is None or name in rule.attempts):
                        for player in (player for player, share in attempt.taken_by.items() if share):
                            most[side, player] = max(most.get((side, player), 0), rule.after)
    return {owner: (place, count) for place, (owner, count) in enumerate(most.items())}


def _count(counts: tuple[int, ...], slots: Slots, side: int, player: str | None) -> int:
    place = slots.get((side, player), (0, 0))[0] if player is not None and (side, player) in slots else None
    return counts[place] if place is not None and place < len(counts) else 0
