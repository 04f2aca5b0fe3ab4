"""One situation of a contest: every attempt's chance there, each rule's part in it, and why a rule acts or does not.

The chances are those of the exact contest, from the same builder; only the reasons are worked out here.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from venue.contest import effects
from venue.contest.automaton import Automaton, Mode
from venue.contest.clock_segments import active_rules
from venue.contest.match import Match
from venue.contest.scoreboard import Board, MarginBoard, ScoreBoard
from venue.contest.tally import Chances
from venue.contest.transitions import PACE, TransitionBuilder
from venue.scenario.rules import Block, ClockedSlope, ClosingChance, Drought, Rule, RunBoost, Turnover
from venue.scenario.title import Title

TURNOVER = "turnover"
# Parts of a chance that are rounding.
_NOTHING = 1e-12

Reason = Literal[
    "would tie", "would lead", "would come within", "behind", "ahead", "level", "run", "missed", "holds",
    "switched off", "strength 0", "serves the other side", "other periods", "not yet", "other attempts",
    "outside its band", "does not matter", "run too short", "too few misses", "trailing side only",
    "chance already above", "another lifts more", "nothing here",
]  # fmt: skip
"""Why a rule acts (the first nine), or why it does not."""


@dataclass(frozen=True)
class Situation:
    """Where a contest stands, as the side sees it whose chances are asked for.

    Attributes
    ----------
    side
        0 for side A, 1 for side B.
    period
        The first is 1.
    left
        Seconds left in the period; None where no clock runs.
    margin
        Points by which the side leads; negative when it trails.
    score
        In a contest to N points: its own points and the other side's.
    run, missed
        Its own unanswered scores, and its misses in a row.
    scored_last
        In open play: 0 for side A, 1 for side B, -1 for nobody.
    """

    side: int
    period: int
    left: int | None
    margin: int
    score: tuple[int, int] | None = None
    run: int = 0
    missed: int = 0
    scored_last: int = -1


@dataclass(frozen=True)
class RulePart:
    """What one rule does to one chance.

    Attributes
    ----------
    part
        Change of the chance, after the minimum and maximum.
    reason
        Why it acts or does not.
    asked, found
        Where the reason is a number: what the rule asks for, and what there is.
    """

    rule: str
    kind: str
    part: float
    reason: Reason
    asked: float | None = None
    found: float | None = None


@dataclass(frozen=True)
class ChanceThere:
    """One chance in a situation.

    Attributes
    ----------
    attempt
        Attempt kind; "turnover" for the chance that the attack is lost, "pace" in a race.
    written
        As the title has it.
    unaided, chance
        With skill alone, and with every rule.
    parts
        Every rule of the title that could bear on it, in the order of the title.
    """

    attempt: str
    written: float
    unaided: float
    chance: float
    parts: tuple[RulePart, ...]


def board_of(title: Title, margin: int = 0) -> Board:
    """A scoreboard that has the margin in question."""
    if title.first_to is not None:
        gains = tuple(sorted({attempt.points for attempt in title.attempts.values()}))
        return ScoreBoard(title.first_to.points, title.first_to.win_by, gains)
    return MarginBoard(min(0, margin) - 1, max(0, margin) + 1)


def chances_at(title: Title, match: Match, at: Situation) -> tuple[ChanceThere, ...]:
    """Every chance in a situation, with each rule's part in it."""
    return tuple(_View(title, match, at).all())


class _View:
    """A situation as the rules see it."""

    def __init__(self, title: Title, match: Match, at: Situation) -> None:
        self.title, self.match, self.at = title, match, at
        margin = at.margin if at.side == 0 else -at.margin
        board = board_of(title, margin)
        if at.score is None:
            self.place = board.place(margin)
        else:
            self.place = board.place(at.score if at.side == 0 else at.score[::-1])
        self.builder = TransitionBuilder(title, match, Automaton(title, match), board)
        self.points_left = None if board.points_left is None else int(board.points_left[self.place])
        # Contests to N points have no clock: what is left is points.
        self.left = float("nan") if at.left is None else float(at.left)
        self.in_contest = self.left + (title.periods - at.period) * title.seconds
        self.rules = active_rules(title, at.period - 1, at.left or 0)

    def all(self) -> Iterator[ChanceThere]:
        """Every chance there, each with its rules."""
        title, side = self.title, self.at.side
        if title.race is not None:
            yield self._there(PACE, 1.0, 1, self.builder.pace(self.rules, self.in_contest, side))
            return
        if title.play == "turns":
            mode = self._mode(side)
            if title.turnover or any(isinstance(rule, Turnover) for rule in title.rules.values()):
                found = self.builder.lost(self.rules, self.in_contest, mode, side)
                yield self._there(TURNOVER, title.turnover, 0, found)
        for name, kind in title.attempts.items():
            if title.play == "turns":
                found = self.builder.attempt(self.rules, self.in_contest, self._mode(side), side, name)
            else:
                found = self.builder.next_score(self.rules, self.in_contest, self._mode(self.at.scored_last), name)
                found = found if side == 0 else found.other()
            yield self._there(name, 0.5 if kind.chance is None else kind.chance, kind.points, found)

    def _mode(self, holder: int) -> Mode:
        """What play remembers: the side's own run and misses; a run of its own leaves the other side none."""
        run, missed = ((count, 0) if self.at.side == 0 else (0, count) for count in (self.at.run, self.at.missed))
        return replace(Mode(holder), run=run, missed=missed)

    def _there(self, attempt: str, written: float, points: int, found: Chances) -> ChanceThere:
        parts = {name: float(part[self.place]) for name, part in found.parts.items()}
        chance = float(found.chance[self.place])
        lifted = sum(part for name, part in parts.items() if type(self.title.rules[name]) in effects.LIFTS)
        rules = {name: rule for name, rule in self.title.rules.items()
                 if isinstance(rule, Turnover) == (attempt == TURNOVER)}  # fmt: skip
        return ChanceThere(
            attempt, written, float(found.unaided[self.place]), chance,
            tuple(self._part(name, rule, attempt, points, parts.get(name, 0.0), chance - lifted)
                  for name, rule in rules.items()),
        )  # fmt: skip

    def _part(
        self, name: str, rule: Rule, attempt: str, points: int, part: float, before: float
    ) -> RulePart:  # fmt: skip
        why = self._held_back(rule, attempt, points) or self._acting(rule, part, before)
        return RulePart(name, rule.kind, part, *why)

    @property
    def _shared(self) -> bool:
        """Whether one chance serves both sides, so that the rules of either move it."""
        return self.title.play == "open" or self.title.race is not None

    def _serves(self, rule: Rule) -> tuple[bool, bool]:
        """Whether a rule moves chances of this side, and of the other."""
        mine, other = (effects.serves(self.title, self.match, rule, side) for side in (self.at.side, 1 - self.at.side))
        return mine, other

    def _behind(self, rule: Rule) -> int:
        """Points behind in the rule's eyes: those of the side that it acts for."""
        mine, other = self._serves(rule)
        if isinstance(rule, Turnover | Block):
            return self.at.margin  # it goes by the lead of who defends
        if self._shared and other:
            return abs(self.at.margin) if mine else self.at.margin
        return -self.at.margin

    def _held_back(
        self, rule: Rule, attempt: str, points: int
    ) -> tuple[Reason, float | None, float | None] | None:  # fmt: skip
        """Why a rule does not hold here; None if it does."""
        at, d = self.at, self._behind(rule)
        mine, other = self._serves(rule)
        if rule.switch is not None and rule.switch in self.match.switches_off:
            return "switched off", None, None
        if not effects.dial_of(self.title, self.match, rule):
            return "strength 0", None, None
        if not (other if isinstance(rule, Turnover | Block) else mine or (self._shared and other)):
            return "serves the other side", None, None
        if rule.periods is not None and at.period not in rule.periods:
            return "other periods", float(rule.periods[0]), float(at.period)
        if not self._is_time(rule):
            return "not yet", _from_when(rule), self.left if self.points_left is None else float(self.points_left)
        if attempt != TURNOVER and rule.attempts is not None and attempt not in rule.attempts:
            return "other attempts", None, None
        if not effects.holds(rule, np.array([float(d)]), None)[0]:
            bound = rule.behind_to if rule.behind_to is not None and d > rule.behind_to else rule.behind_from
            return "outside its band", bound, float(d)
        if isinstance(rule, ClosingChance) and not effects.matters(rule, np.array([float(d)]), points)[0]:
            return "does not matter", None, float(d)
        if isinstance(rule, RunBoost) and at.run < rule.after:
            return "run too short", float(rule.after), float(at.run)
        if isinstance(rule, Drought) and at.missed < rule.after:
            return "too few misses", float(rule.after), float(at.missed)
        return None

    def _is_time(self, rule: Rule) -> bool:
        """Whether the clock, or the score, has come to where a rule begins."""
        begins = _from_when(rule)
        if begins is None:
            return True
        if self.points_left is not None:
            return self.points_left <= begins
        return (self.left if isinstance(rule, ClosingChance) else self.in_contest) <= begins

    def _acting(self, rule: Rule, part: float, before: float) -> tuple[Reason, float | None, float | None]:
        """Why a rule that holds here does what it does, or why it comes to nothing."""
        d = self._behind(rule) if isinstance(rule, Turnover | Block) else -self.at.margin
        least = getattr(rule, "at_least", None) if type(rule) in effects.LIFTS else None
        if abs(part) <= _NOTHING:
            if self._shared and all(self._serves(rule)) and d <= 0 and not effects.speaks_of_leaders(rule):
                return "trailing side only", None, float(d)
            if least is None:
                return "nothing here", None, float(d)
            return ("chance already above" if before >= least - _NOTHING else "another lifts more"), least, before
        if isinstance(rule, ClosingChance):
            return rule.when, float(rule.points) if rule.points else None, float(d)
        if isinstance(rule, RunBoost):
            return "run", float(rule.after), float(self.at.run)
        if isinstance(rule, Drought):
            return "missed", float(rule.after), float(self.at.missed)
        if least is not None:
            return "holds", least, before
        return ("behind" if d > 0 else "ahead" if d < 0 else "level"), None, float(abs(d))


def _from_when(rule: Rule) -> float | None:
    """Seconds, or points, left at which a rule begins to hold; None for one that always does."""
    if isinstance(rule, ClosingChance):
        return float(rule.last_points or 0) if rule.last is None else rule.last
    return rule.steps[0].ahead if isinstance(rule, ClockedSlope) else None
