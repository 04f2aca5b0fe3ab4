"""The clock of a contest cut into stretches: runs of seconds in which the same rules hold.

Time left is counted in whole seconds to the end of the contest. The step that is taken when `left` seconds remain
belongs to the stretch that covers `left`; a rule for the last x seconds holds for the steps with `left` of 1 to x.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

from venue.scenario.rules import ClockedSlope, ClosingChance, RuleBase
from venue.scenario.title import Title


@dataclass(frozen=True)
class Stretch:
    """A run of one-second steps under the same rules.

    Attributes
    ----------
    seconds
        How many steps.
    left
        Time left in the contest at the first step, in seconds.
    active
        Names of the rules that hold.
    signature
        Equal for stretches whose steps are equal.
    """

    seconds: int
    left: int
    active: tuple[str, ...]
    signature: tuple[object, ...]


def active_rules(title: Title, period: int, left_in_period: int) -> dict[str, RuleBase]:
    """Rules that hold in a period (the first is 0) at a second, counted as seconds left in the period."""
    return {
        name: rule
        for name, rule in title.rules.items()
        if rule.overtime != "only"
        and (rule.periods is None or period + 1 in rule.periods)
        and not _too_early(rule, left_in_period)
    }


def overtime_rules(title: Title, left: int) -> dict[str, RuleBase]:
    """Rules that hold in overtime with so many seconds of it left; it counts as the last period."""
    return {
        name: rule
        for name, rule in title.rules.items()
        if rule.overtime != "never"
        and (rule.overtime == "only" or rule.periods is None or title.periods in rule.periods)
        and not _too_early(rule, left)
    }


def _too_early(rule: RuleBase, left: int) -> bool:
    return isinstance(rule, ClosingChance) and rule.last is not None and left > rule.last


def period_stretches(title: Title, period: int) -> list[Stretch]:
    """Cut one period (the first is 0) into stretches, in the order they are played."""
    after = (title.periods - period - 1) * title.seconds
    return _cut(title, title.seconds, after, partial(active_rules, title, period))


def overtime_stretches(title: Title) -> list[Stretch]:
    """Cut one overtime into stretches; what is left of it is what is left of the contest."""
    length = round(title.overtime.length) if title.overtime else 0
    return _cut(title, length, 0, partial(overtime_rules, title))


def _cut(title: Title, length: int, after: int, rules_at: Callable[[int], dict[str, RuleBase]]) -> list[Stretch]:
    cuts = {0, length}
    for rule in title.rules.values():
        if isinstance(rule, ClosingChance) and rule.last is not None:
            cuts.add(int(rule.last))
        if isinstance(rule, ClockedSlope):
            cuts.update(int(step.ahead) - after for step in rule.steps)
    mixes = {name: mix.left for name, mix in title.mixes.items() if mix.left is not None}
    cuts.update(int(left) - after for left in mixes.values())
    edges = sorted((cut for cut in cuts if 0 <= cut <= length), reverse=True)
    stretches = []
    for begin, end in zip(edges, edges[1:], strict=False):
        active = rules_at(begin)
        steps = tuple(
            (name, sum(begin + after <= step.ahead for step in rule.steps))
            for name, rule in active.items()
            if isinstance(rule, ClockedSlope)
        )
        mixed = tuple(name for name, left in mixes.items() if begin + after <= left)
        stretches.append(Stretch(begin - end, begin + after, tuple(active), (tuple(active), steps, mixed)))
    return stretches
