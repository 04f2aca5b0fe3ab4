"""One contest played out by chance, attempt by attempt, with the rules that acted: what a person would watch.

The chances are those of the exact contest; only who makes and who misses is drawn.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from venue.contest.automaton import Automaton
from venue.contest.clock_segments import active_rules, overtime_rules
from venue.contest.draws import Draw
from venue.contest.effects import Array
from venue.contest.first_to import FirstTo
from venue.contest.forms import solve
from venue.contest.match import Match
from venue.contest.race import changes
from venue.contest.solved import Solved
from venue.contest.tally import Chances
from venue.contest.transitions import PACE, TransitionBuilder
from venue.scenario.rules import RuleBase
from venue.scenario.title import Title

# Shares of a chance too small to name a rule for.
_NOTICED = 5e-4


@dataclass(frozen=True)
class Event:
    """One thing that happened.

    Attributes
    ----------
    period
        The first is 1.
    left
        Seconds left in the contest; None where no clock runs.
    side
        "A" or "B": whose attempt it was, or who gained.
    attempt
        Attempt kind; "pace" in a race; "turnover" where the attack was lost before an attempt.
    outcome
        "scored", "missed", "blocked", "lost" or "gained".
    points
        Points scored, or lengths gained.
    unaided, chance
        Chance of it without rules and with them (in a race: the pace, as a share of even pace).
    rules
        What each rule at work did to the chance, the greatest first.
    owed
        Whether it would have gone otherwise without the rules, luck being the same.
    score
        Points of side A and of side B, or the gap, after it.
    player
        Who of the side took the attempt; None where the title does not tell them apart.
    """

    period: int
    left: int | None
    side: str
    attempt: str
    outcome: str
    points: int
    unaided: float
    chance: float
    rules: tuple[tuple[str, float], ...]
    owed: bool
    score: tuple[int, ...]
    player: str | None = None


class Playing:
    """A contest under way.

    Parameters
    ----------
    draws
        Uniform numbers, as many as it takes.
    """

    def __init__(self, title: Title, match: Match, draws: Iterator[float]) -> None:
        self.title = title
        self.contest: Solved = solve(title, match)
        self._draws = draws
        self._builder: TransitionBuilder = self.contest.builder
        self._automaton: Automaton = self.contest.automaton
        self._place = self.contest.board.start
        self._points = [0, 0]
        self._mode = 0

    def events(self) -> Iterator[Event]:
        """Everything that happens, in order."""
        kept = self._pick(self._automaton.start())
        for period in range(self.title.periods):
            self._mode = self._pick(self._automaton.entry(period)[kept])
            if isinstance(self.contest, FirstTo):
                yield from self._to_points(self.contest, period)
            else:
                yield from self._by_clock(period)
            kept = int(self._automaton.exits[self._mode])
        if self.title.tie == "overtime":
            yield from self._overtime()
        if self.title.tie == "next score" and self._points[0] == self._points[1]:
            self._mode = self._pick(self._automaton.fresh())
            rules = active_rules(self.title, self.title.periods - 1, 1)
            while self._points[0] == self._points[1]:
                yield from self._second(rules, self.title.periods, 0)

    def _overtime(self) -> Iterator[Event]:
        """One overtime after the other until somebody leads; they count as further periods."""
        period = self.title.periods
        while self._points[0] == self._points[1]:
            period += 1
            self._mode = self._pick(self._automaton.fresh())
            for left in range(round(self.title.overtime.length) if self.title.overtime else 0, 0, -1):
                if next(self._draws) < self.title.hazard:
                    yield from self._second(overtime_rules(self.title, left), period, left)

    def _by_clock(self, period: int) -> Iterator[Event]:
        length = self.title.seconds
        after = (self.title.periods - period - 1) * length
        for left in range(length, 0, -1):
            rules = active_rules(self.title, period, left)
            if self.title.race is not None:
                # Draws go by the gap at the beginning of the second.
                drawn = self._what_is_drawn(rules, left + after)
                event = self._run(rules, period + 1, left + after)
                if event.points:
                    yield event
                yield from self._drawn(drawn, period + 1, left + after)
            elif next(self._draws) < self.title.hazard:
                yield from self._second(rules, period + 1, left + after)

    def _to_points(self, contest: FirstTo, period: int) -> Iterator[Event]:
        on = contest.legs(period)[-1].on
        rules = active_rules(self.title, period, 0)
        while on[self._place]:
            yield from self._second(rules, period + 1, None)

    def _second(self, rules: dict[str, RuleBase], period: int, left: int | None) -> Iterator[Event]:
        """The attack is over, or where attacks have a limit goes on for another second."""
        longest, side = self.title.longest_attack, self._automaton.modes[self._mode].holder
        if longest and next(self._draws) >= self.title.attack_hazard:
            if self._automaton.modes[self._mode].age + 1 < longest:
                self._mode = self._automaton.after(self._mode, "wait", side)
                return
            if self.title.at_limit == "lost":
                self._mode = self._automaton.after(self._mode, "lost", side)
                never = np.zeros(len(self.contest.board.margins))
                yield self._event(period, left, side, "time limit", "lost", 0, Chances(never, never, {}), False)
                return
        yield self._resolve(rules, period, left)

    def _pick(self, shares: Array) -> int:
        return int(np.searchsorted(np.cumsum(shares) / shares.sum(), next(self._draws), side="right"))

    def _run(self, rules: dict[str, RuleBase], period: int, left: int) -> Event:
        """One second of a race."""
        paces = [self._builder.pace(rules, left, side) for side in (0, 1)]
        gains, chances = zip(*changes(self.title, paces[0].chance - paces[1].chance), strict=True)
        gain = gains[self._pick(np.array([chance[self._place] for chance in chances]))]
        side = 0 if gain > 0 else 1
        self._place = int(self.contest.board.landing(gain)[self._place])
        return self._event(period, left, side, PACE, "gained", abs(gain), paces[side], False)

    def _what_is_drawn(self, rules: dict[str, RuleBase], left: int) -> list[tuple[Draw, int]]:
        """In a race: draws that bring something within this second, and their lengths."""
        found = []
        for draw in self._builder.draws(rules, left):
            chances = draw.chances[:, self._place]
            place = int(np.searchsorted(np.cumsum(chances), next(self._draws), side="right"))
            if place < len(chances) and draw.lengths[place]:
                found.append((draw, draw.lengths[place]))
        return found

    def _drawn(self, drawn: list[tuple[Draw, int]], period: int, left: int) -> Iterator[Event]:
        for draw, lengths in drawn:
            self._place = int(self.contest.board.landing(lengths if draw.side == 0 else -lengths)[self._place])
            everywhere = np.ones(len(self.contest.board.margins))
            found = Chances(0.0 * everywhere, everywhere, {draw.rule: everywhere})
            yield self._event(period, left, draw.side, draw.rule, "gained", lengths, found, True)

    def _resolve(self, rules: dict[str, RuleBase], period: int, left: int | None) -> Event:
        """The attack is over."""
        here = float("nan") if left is None else float(left)
        mode = self._automaton.modes[self._mode]
        by_turns = self.title.play == "turns"
        side = mode.holder if by_turns else 0
        if by_turns:
            lost = self._builder.lost(rules, here, mode, side)
            luck = next(self._draws)
            if luck < lost.chance[self._place]:
                owed = luck >= lost.unaided[self._place]
                self._mode = self._automaton.after(self._mode, "lost", side)
                return self._event(period, left, side, "turnover", "lost", 0, lost, owed)
        kinds = list(self.title.attempts)
        kind = kinds[self._pick(self._shares(side, here))]
        worth = self.title.attempts[kind].points
        player = self._taker(kind)
        luck = next(self._draws)
        if by_turns:
            found = self._builder.attempt(rules, here, mode, side, kind, player)
        else:
            found = self._builder.next_score(rules, here, mode, kind)
        made = luck < found.chance[self._place]
        owed = made != (luck < found.unaided[self._place])
        before = self._place
        if by_turns and not made:
            self._mode = self._automaton.after(self._mode, "miss", side, player)
            blocked = found.blocked is not None and luck < found.chance[before] + found.blocked[before]
            outcome = "blocked" if blocked else "missed"
            event = self._event(period, left, side, kind, outcome, 0, found, owed, before)
            return replace(event, player=player)
        if not by_turns and not made:
            side, found = 1, found.other()
        self._place = int(self.contest.board.landing(worth if side == 0 else -worth)[self._place])
        self._points[side] += worth
        self._mode = self._automaton.after(self._mode, "score", side, player)
        return replace(self._event(period, left, side, kind, "scored", worth, found, owed, before), player=player)

    def _shares(self, side: int, left: float) -> Array:
        """Shares of the attempt kinds where the contest stands."""
        mixed = self._builder.shares(side, left)
        return np.array([part if isinstance(part, float) else part[self._place] for part in mixed.values()])

    def _taker(self, kind: str) -> str | None:
        """Who of a side takes an attempt."""
        taken_by = self.title.attempts[kind].taken_by
        return list(taken_by)[self._pick(np.array(list(taken_by.values())))] if taken_by else None

    def _event(
        self, period: int, left: int | None, side: int, attempt: str, outcome: str, points: int, found: Chances,
        owed: bool, before: int | None = None,
    ) -> Event:  # fmt: skip
        place = self._place if before is None else before
        parts = {name: float(part[place]) for name, part in found.parts.items()}
        acting = sorted((item for item in parts.items() if abs(item[1]) >= _NOTICED), key=lambda item: -abs(item[1]))
        race = self.title.race is not None
        return Event(
            period=period,
            left=left,
            side="AB"[side],
            attempt=attempt,
            outcome=outcome,
            points=points,
            unaided=float(found.unaided[place]),
            chance=float(found.chance[place]),
            rules=tuple(acting),
            owed=bool(owed),
            score=(int(self.contest.board.margins[self._place]),) if race else tuple(self._points),
        )
