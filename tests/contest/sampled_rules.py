"""What catch-up rules do to the chances of contests that are played out at random (`sampler`).

Written from the description of the rules alone, over arrays of contests. `d` is always how far a side trails.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from venue.contest.match import Match
from venue.scenario.title import Title

Numbers = NDArray[np.float64]
Whole = NDArray[np.int64]
Flags = NDArray[np.bool_]


@dataclass
class View:
    """What one side of some contests sees.

    Attributes
    ----------
    d
        Points it trails by.
    run, missed
        Its unanswered scores, and its misses in a row.
    period, left, left_in_period
        The clock, the same for all; a contest to N points has no seconds.
    needs
        In a contest to N points, points that the leader still needs.
    own_run, own_missed
        The same as `run` and `missed` of the player who takes the attempt.
    in_overtime
        Whether it is overtime.
    """

    d: Whole
    run: Whole
    missed: Whole
    period: Whole
    left: int
    left_in_period: int
    needs: Whole | None = None
    own_run: Whole | None = None
    own_missed: Whole | None = None
    in_overtime: bool = False


def team_of(title: Title, match: Match, side: int) -> str | None:
    """The team of the roster that a side plays."""
    if not title.roster:
        return None
    asked = (match.team_a, match.team_b)[side]
    own = {"visitor": title.visitor_team, "computer": title.computer_team}[(match.side_a, match.side_b)[side]]
    return asked or own or list(title.roster)[0]


def about_leaders(rule: Any) -> bool:
    """Whether a rule for both has something written for a side ahead, which then holds for it too."""
    band = [end for end in (rule.behind_from, rule.behind_to) if end is not None]
    written = [row[0] for row in rule.shift] if rule.kind == "table" else []
    return min([*band, *written], default=0) < 0


class SampledRules:
    """The rules of a title for a match."""

    def __init__(self, title: Title, match: Match) -> None:
        self.title, self.match = title, match
        self.acting = [(rule, weight) for rule in title.rules.values() if (weight := self.weight(rule))]

    def weight(self, rule: Any) -> float:
        if rule.switch in self.match.switches_off:
            return 0.0
        dials = self.title.strength * self.match.strength if rule.scalable else 1.0
        return float(rule.weight * dials)

    def served(self, rule: Any) -> list[bool]:
        """Whether it serves side A, and side B."""
        whom = {"both": ("visitor", "computer"), "visitors": ("visitor",), "computer": ("computer",)}
        opposite = {"anyone": whom["both"]} | whom
        a, b = self.match.side_a, self.match.side_b
        serves, faces = whom[rule.serves], opposite[rule.facing]
        own = [rule.teams is None or team_of(self.title, self.match, side) in rule.teams for side in (0, 1)]
        return [own[0] and a in serves and b in faces, own[1] and b in serves and a in faces]

    def within(self, rule: Any, see: View, attempt: str | None) -> Flags:
        """Where the rule holds: attempt kind, margins, periods."""
        if attempt is not None and rule.attempts and attempt not in rule.attempts:
            return np.zeros(len(see.d), dtype=bool)
        low = -(10**6) if rule.behind_from is None else rule.behind_from
        high = 10**6 if rule.behind_to is None else rule.behind_to
        inside = (low <= see.d) & (see.d <= high) & (rule.overtime != ("never" if see.in_overtime else "only"))
        return inside if rule.periods is None else inside & np.isin(see.period, rule.periods)

    def shift(self, rule: Any, see: View) -> Numbers:
        """Change of chance at full strength; nil for a rule of another kind."""
        if rule.kind == "table":
            rows = np.array(rule.shift)
            return np.asarray(np.interp(see.d, rows[:, 0], rows[:, 1]))
        if rule.kind == "run boost":
            return np.where((see.own_run if rule.counts == "player" else see.run) >= rule.after, rule.gain, 0.0)
        if rule.kind == "slope":
            steepness: Any = rule.per_point
        elif rule.kind == "clocked slope":
            steepness = np.zeros(len(see.d))
            for step in rule.steps:
                if step.left is not None:
                    reached = np.full(len(see.d), see.left <= step.left)
                else:
                    reached = np.asarray(see.needs) <= step.points_left
                steepness[reached] = step.per_point
        else:
            return np.zeros(len(see.d))
        return np.asarray(steepness * (see.d if rule.cap is None else np.clip(see.d, -rule.cap, rule.cap)))

    def covered(self, rule: Any, see: View, worth: int) -> Flags:
        """Which attempts a rule that lifts chances covers."""
        everywhere = np.ones(len(see.d), dtype=bool)
        if rule.kind == "least chance":
            return everywhere
        if rule.kind == "drought":
            return np.asarray((see.own_missed if rule.counts == "player" else see.missed) >= rule.after)
        if rule.kind != "closing chance":
            return ~everywhere
        late = see.left_in_period <= rule.last if rule.last is not None else np.asarray(see.needs) <= rule.last_points
        after = see.d - worth  # how far behind a success would leave the side
        if rule.when == "would tie":
            return late & (after == 0)
        if rule.when == "would lead":
            return late & (see.d >= 0) & (after < 0)
        if rule.when == "would come within":
            return late & (see.d > 0) & (after <= rule.points)
        return late & (see.d >= rule.points)

    def changed(self, rule: Any, see: View, base: Numbers) -> Numbers:
        """Change of the base chance at full weight: what is written, or that share of the base chance."""
        return self.shift(rule, see) * (base if getattr(rule, "relative", False) else 1.0)

    def lift(self, chance: Numbers, see: View, attempt: str, worth: int, served: Any) -> Numbers:
        """The greatest lift, or what an exact chance changes; `served(rule)` says in which contests a rule may act."""
        greatest, exact, said = np.zeros(len(see.d)), np.full(len(see.d), -1.0), np.zeros(len(see.d))
        for rule, weight in self.acting:
            acts = self.covered(rule, see, worth) & self.within(rule, see, attempt) & served(rule)
            target = getattr(rule, "exactly", None)
            if target is not None:
                first = acts & (target > exact)
                exact = np.where(first, target, exact)
                said = np.where(first, weight * (target - chance), said)
                continue
            raised = weight * np.maximum(0.0, (getattr(rule, "at_least", 0.0) or 0.0) - chance)
            greatest = np.maximum(greatest, np.where(acts, raised, 0.0))
        return np.where(exact >= 0.0, said, greatest)

    def defended(self, kind: str, base: float, side: Whole, see: View, attempt: str | None = None) -> Numbers:
        """Chance that the defence does something to the attack of `side`; `see` is the defence's view."""
        chance = np.full(len(side), base)
        for rule, weight in self.acting:
            if rule.kind == kind:
                rows = np.array(rule.shift)
                acts = self.within(rule, see, attempt) & np.array(self.served(rule))[1 - side]
                step = np.interp(-see.d, rows[:, 0], rows[:, 1]) * (base if rule.relative else 1.0)
                chance += np.where(acts, weight * step, 0.0)
        return np.clip(chance, 0.0, 1.0)

    def blocked(self, side: Whole, see: View, attempt: str) -> Numbers:
        """Chance that a success of `side` is turned into a miss; `see` is the view of the side that defends."""
        return self.defended("block", self.title.block, side, see, attempt)

    def lost(self, side: Whole, see: View) -> Numbers:
        """Chance that the attack of `side` is lost; `see` is the view of the side that defends."""
        return self.defended("turnover", self.title.turnover, side, see)

    def attempt(self, side: Whole, base: Numbers, see: View, attempt: str, worth: int) -> Numbers:
        """By turns: chance of an attempt of `side`."""
        chance = base.copy()
        for rule, weight in self.acting:
            acts = self.within(rule, see, attempt) & np.array(self.served(rule))[side]
            chance += np.where(acts, weight * self.changed(rule, see, base), 0.0)
        chance += self.lift(chance, see, attempt, worth, lambda rule: np.array(self.served(rule))[side])
        return np.clip(chance, self.title.minimum_chance, self.title.maximum_chance)

    def next_score(self, base: Numbers, a: View, b: View, attempt: str, worth: int) -> tuple[Numbers, Numbers]:
        """In open play: chance that side A makes the next score, unaided and with the rules."""

        def has(rule: Any, side: int, see: View) -> Any:
            # One chance serves both, so of a rule for both the side that trails has it; a run is its maker's own.
            both = all(self.served(rule)) and rule.kind != "run boost" and not about_leaders(rule)
            return self.served(rule)[side] & (see.d > 0 if both else np.ones(len(see.d), dtype=bool))

        chance = base.copy()
        for rule, weight in self.acting:
            for side, see, sign in ((0, a, 1.0), (1, b, -1.0)):
                acts = self.within(rule, see, attempt) & has(rule, side, see)
                own = base if side == 0 else 1.0 - base
                chance += sign * np.where(acts, weight * self.changed(rule, see, own), 0.0)
        up = self.lift(chance, a, attempt, worth, lambda rule: has(rule, 0, a))
        down = self.lift(1.0 - chance, b, attempt, worth, lambda rule: has(rule, 1, b))
        low = max(self.title.minimum_chance, 1.0 - self.title.maximum_chance)
        return np.clip(base, low, 1.0 - low), np.clip(chance + up - down, low, 1.0 - low)

    def pace(self, side: int, base: float, see: View) -> Numbers:
        """In a race: pace of a side as a share of even pace."""
        pace = np.full(len(see.d), base)
        for rule, weight in self.acting:
            acts = self.within(rule, see, None) & self.served(rule)[side]
            if all(self.served(rule)) and not about_leaders(rule):
                acts = acts & (see.d > 0)
            pace += np.where(acts, weight * self.shift(rule, see), 0.0)
        return np.clip(pace, 0.0, 2.0)

    def draws(self, side: int, see: View) -> list[tuple[Numbers, Numbers]]:
        """In a race: for each rule by which a side may draw, the chance of each prize and its lengths."""
        found = []
        for rule, weight in self.acting:
            if rule.kind != "lucky draw" or not self.served(rule)[side]:
                continue
            rows = [np.array(prize.odds) for prize in rule.prizes.values()]
            odds = np.array([np.interp(see.d, row[:, 0], row[:, 1]) for row in rows])
            draws = self.within(rule, see, None) * min(1.0, weight / rule.every)
            shares = odds / np.maximum(odds.sum(axis=0), 1e-300)
            found.append((draws * shares, np.array([prize.lengths for prize in rule.prizes.values()], dtype=float)))
        return found
