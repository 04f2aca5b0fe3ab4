"""Contests played out second by second at random: what the chain is checked against.

Written from the description of a title and its rules alone. It shares no code with the chain: it reads the title's
fields, and its arrays run over contests where the chain's run over margins. `d` is always how far a side trails.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from venue.contest.setting import Setting
from venue.scenario.title import Title

Numbers = NDArray[np.float64]
Whole = NDArray[np.int64]
A, B, NOBODY = 0, 1, 2


@dataclass
class Sampled:
    """Many contests of one title: a row or a number for each.

    Attributes
    ----------
    margin
        Final margin of side A.
    won
        1 if side A won, 0 if it lost, 1/2 if the contest was drawn.
    points, assisted
        Points of each side, and its scores that would have failed unaided: shape (2, contests).
    """

    margin: Whole
    won: Numbers
    points: Whole
    assisted: Whole


def log_odds(chance: float) -> float:
    return float(np.log(chance) - np.log1p(-chance))


def from_log_odds(value: float) -> float:
    return float(1.0 / (1.0 + np.exp(-value)))


class Play:
    """All contests of one title at once, at the same second."""

    def __init__(self, title: Title, setting: Setting, contests: int, seed: int) -> None:
        self.title, self.setting = title, setting
        self.random = np.random.default_rng(seed)
        self.kinds = list(title.attempts.values())
        self.names = list(title.attempts)
        self.margin = np.zeros(contests, dtype=np.int64)
        self.points = np.zeros((2, contests), dtype=np.int64)
        self.assisted = np.zeros((2, contests), dtype=np.int64)
        # By turns: who attacks. In open play: who scored last.
        self.side = self.toss(contests)

    def toss(self, contests: int) -> Whole:
        if self.title.play == "open":
            return np.full(contests, NOBODY)
        return self.random.integers(0, 2, contests)

    def run(self) -> Sampled:
        title = self.title
        seconds = int(title.period_length)
        left = title.periods * seconds
        for period in range(1, title.periods + 1):
            if title.period_start == "toss":
                self.side = self.toss(len(self.margin))
            elif title.period_start == "alternate":
                self.side = np.full(len(self.margin), A if period % 2 else B)
            for left_in_period in range(seconds, 0, -1):
                happens = np.flatnonzero(self.random.random(len(self.margin)) < 1.0 / title.mean_attack)
                self.second(happens, period, left, left_in_period)
                left -= 1
        margin, points, assisted = self.margin.copy(), self.points.copy(), self.assisted.copy()
        if title.tie == "next score":
            self.side = self.toss(len(self.margin))
            while len(level := np.flatnonzero(self.margin == 0)):
                self.second(level, title.periods, 1, 1)
            won = (self.margin > 0).astype(float)
        else:
            won = np.where(margin > 0, 1.0, np.where(margin < 0, 0.0, 0.5))
        return Sampled(margin, won, points, assisted)

    def second(self, who: Whole, period: int, left: int, left_in_period: int) -> None:
        """An attack is over, or a score is made, in each of the contests `who`."""
        acting = [
            (rule, weight)
            for rule in self.title.rules.values()
            if (weight := self.weight(rule)) and self.timely(rule, period, left_in_period)
        ]
        if self.title.play == "turns":
            attacker = self.side[who]
            defence_leads = np.where(attacker == A, -self.margin[who], self.margin[who])
            lost = self.random.random(len(who)) < self.lost(acting, attacker, defence_leads)
            self.side[who[lost]] = 1 - attacker[lost]
            who = who[~lost]
        drawn = self.random.choice(len(self.kinds), size=len(who), p=[kind.share for kind in self.kinds])
        for kind in range(len(self.kinds)):
            those = who[drawn == kind]
            luck = self.random.random(len(those))
            if self.title.play == "turns":
                self.attempt(those, luck, kind, acting, left)
            else:
                self.next_score(those, luck, kind, acting, left)

    # -- what a rule does ------------------------------------------------------------------------------------------

    def weight(self, rule: Any) -> float:
        if rule.switch in self.setting.switches_off:
            return 0.0
        return self.setting.strength if rule.scalable else 1.0

    def timely(self, rule: Any, period: int, left_in_period: int) -> bool:
        if rule.periods and period not in rule.periods:
            return False
        return rule.kind != "closing chance" or left_in_period <= rule.last

    def served(self, rule: Any) -> list[bool]:
        whom = {"both": ("visitor", "computer"), "visitors": ("visitor",), "computer": ("computer",)}[rule.serves]
        return [self.setting.side_a in whom, self.setting.side_b in whom]

    def within(self, rule: Any, d: Whole, kind: int | None) -> NDArray[np.bool_]:
        if kind is not None and rule.attempts and self.names[kind] not in rule.attempts:
            return np.zeros(len(d), dtype=bool)
        low = -(10**6) if rule.behind_from is None else rule.behind_from
        high = 10**6 if rule.behind_to is None else rule.behind_to
        return (low <= d) & (d <= high)

    def shift(self, rule: Any, d: Whole, left: int) -> Numbers:
        """Change of chance of a side that trails by d, at full strength."""
        if rule.kind == "table":
            rows = np.array(rule.shift)
            return np.asarray(np.interp(d, rows[:, 0], rows[:, 1]))
        if rule.kind == "slope":
            steepness = rule.per_point
        elif rule.kind == "clocked slope":
            reached = [step.per_point for step in rule.steps if left <= step.left]
            steepness = reached[-1] if reached else 0.0
        else:
            return np.zeros(len(d))
        return np.asarray(steepness * (d if rule.cap is None else np.clip(d, -rule.cap, rule.cap)))

    def covered(self, rule: Any, d: Whole, worth: int) -> NDArray[np.bool_]:
        after = d - worth  # how far behind a success would leave the side
        if rule.when == "would tie":
            return np.asarray(after == 0)
        if rule.when == "would lead":
            return np.asarray((d >= 0) & (after < 0))
        if rule.when == "would come within":
            return np.asarray((d > 0) & (after <= rule.points))
        return np.asarray(d >= rule.points)

    def lift(self, acting: list[Any], chance: Numbers, d: Whole, kind: int, served: Any) -> Numbers:
        """The greatest lift by a closing chance; `served(rule)` says for which contests it may act."""
        greatest = np.zeros(len(d))
        for rule, weight in acting:
            if rule.kind == "closing chance":
                acts = self.covered(rule, d, self.kinds[kind].points) & self.within(rule, d, kind) & served(rule)
                raised = weight * np.maximum(0.0, rule.at_least - chance)
                greatest = np.maximum(greatest, np.where(acts, raised, 0.0))
        return greatest

    # -- by turns --------------------------------------------------------------------------------------------------

    def lost(self, acting: list[Any], attacker: Whole, defence_leads: Whole) -> Numbers:
        chance = np.full(len(attacker), self.title.turnover)
        for rule, weight in acting:
            if rule.kind == "turnover":
                rows = np.array(rule.shift)
                acts = self.within(rule, -defence_leads, None) & np.array(self.served(rule))[1 - attacker]
                chance += np.where(acts, weight * np.interp(defence_leads, rows[:, 0], rows[:, 1]), 0.0)
        return np.clip(chance, 0.0, 1.0)

    def attempt(self, who: Whole, luck: Numbers, kind: int, acting: list[Any], left: int) -> None:
        side = self.side[who]
        d = np.where(side == A, -self.margin[who], self.margin[who])
        odds = log_odds(self.kinds[kind].chance or 0.0)
        base = np.where(side == A, from_log_odds(odds + self.setting.gap), from_log_odds(odds - self.setting.gap))
        chance = base.copy()
        for rule, weight in acting:
            if rule.kind != "turnover":
                acts = self.within(rule, d, kind) & np.array(self.served(rule))[side]
                chance += np.where(acts, weight * self.shift(rule, d, left), 0.0)
        chance += self.lift(acting, chance, d, kind, lambda rule: np.array(self.served(rule))[side])
        scored = luck < np.clip(chance, self.title.floor, self.title.ceiling)
        unaided = luck < np.clip(base, self.title.floor, self.title.ceiling)
        for scorer in (A, B):
            self.score(who[scored & (side == scorer)], scorer, kind)
            self.assisted[scorer, who[scored & ~unaided & (side == scorer)]] += 1
        stays = scored if self.title.scorer_keeps else np.zeros(len(who), dtype=bool)
        self.side[who] = np.where(stays, side, 1 - side)

    def score(self, who: Whole, scorer: int, kind: int) -> None:
        worth = self.kinds[kind].points
        self.margin[who] += worth if scorer == A else -worth
        self.points[scorer, who] += worth

    # -- open play -------------------------------------------------------------------------------------------------

    def next_score(self, who: Whole, luck: Numbers, kind: int, acting: list[Any], left: int) -> None:
        last, margin = self.side[who], self.margin[who]
        again = 0.5 if self.title.scores_again is None else self.title.scores_again
        by_last = [from_log_odds(log_odds(even) + self.setting.gap) for even in (again, 1 - again, 0.5)]
        base = np.array(by_last)[last]
        chance = base.copy()
        for rule, weight in acting:
            if rule.kind == "closing chance":
                continue
            serves_a, serves_b = self.served(rule)
            toward_a = np.where(self.within(rule, -margin, kind), self.shift(rule, -margin, left), 0.0)
            toward_b = np.where(self.within(rule, margin, kind), self.shift(rule, margin, left), 0.0)
            if serves_a and serves_b:  # it acts for whoever trails
                chance += weight * np.select([margin < 0, margin > 0], [toward_a, -toward_b], 0.0)
            else:
                chance += weight * (serves_a * toward_a - serves_b * toward_b)
        lift_a = self.lift(acting, chance, -margin, kind, lambda rule: self.served(rule)[A])
        lift_b = self.lift(acting, 1.0 - chance, margin, kind, lambda rule: self.served(rule)[B])
        chance += lift_a - lift_b
        a_scores = luck < np.clip(chance, self.title.floor, self.title.ceiling)
        a_unaided = luck < np.clip(base, self.title.floor, self.title.ceiling)
        self.score(who[a_scores], A, kind)
        self.score(who[~a_scores], B, kind)
        self.assisted[A, who[a_scores & ~a_unaided]] += 1
        self.assisted[B, who[~a_scores & a_unaided]] += 1
        self.side[who] = np.where(a_scores, A, B)


def play_by_play(title: Title, setting: Setting, contests: int, seed: int) -> Sampled:
    """Play contests of a title from start to end."""
    return Play(title, setting, contests, seed).run()
