"""Rules that may cover the same attempt though only one of them can act: which pairs, so that nobody is surprised."""

from __future__ import annotations

from itertools import combinations

import numpy as np

from venue.contest import effects
from venue.contest.effects import Moment
from venue.scenario.rules import ClosingChance, RuleBase
from venue.scenario.title import Title


def overlaps(title: Title) -> list[tuple[str, str]]:
    """Pairs of rules that lift a chance and may meet at one attempt; there the greater lift acts alone."""
    lifts = [(name, rule) for name, rule in title.rules.items() if type(rule) in effects.LIFTS]
    return [(first, second) for (first, one), (second, other) in combinations(lifts, 2) if _meet(title, one, other)]


def _meet(title: Title, one: RuleBase, other: RuleBase) -> bool:
    periods = set(range(1, title.periods + 1))
    if not periods & set(one.periods or periods) & set(other.periods or periods):
        return False
    if {one.serves, other.serves} == {"visitors", "computer"}:
        return False
    reach = 1 + max([title.most_points, *(_reach(rule) for rule in (one, other))])
    behind = np.arange(-reach, reach + 1).astype(float)
    # Long runs of misses, and the last moment of the contest: when the rules hold if they ever do.
    at = Moment(behind, 1.0, missed=10**6, points_left=np.ones_like(behind))
    return any(
        bool((_covers(one, at, name, kind.points) & _covers(other, at, name, kind.points)).any())
        for name, kind in title.attempts.items()
    )


def _reach(rule: RuleBase) -> int:
    points = rule.points if isinstance(rule, ClosingChance) else 0
    return max(points, abs(rule.behind_from or 0), abs(rule.behind_to or 0)) + 1


def _covers(rule: RuleBase, at: Moment, attempt: str, points: int) -> effects.Mask:
    _, where = effects.LIFTS[type(rule)](rule, at, points)
    return where & effects.holds(rule, at.d, attempt)
