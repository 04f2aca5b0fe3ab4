"""The clock of a contest cut into stretches: runs of seconds in which the same rules hold.

Time left is counted in whole seconds to the end of the contest. The step that is taken when `left` seconds remain
belongs to the stretch that covers `left`; a rule for the last x seconds holds for the steps with `left` of 1 to x.
"""

from __future__ import annotations

from dataclasses import dataclass

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
    found: dict[str, RuleBase] = {}
    for name, rule in title.rules.items():
        if rule.periods is not None and period + 1 not in rule.periods:
            continue
        if isinstance(rule, ClosingChance) and rule.last is not None and left_in_period > rule.last:
            continue
        found[name] = rule
    return found


def period_stretches(title: Title, period: int) -> list[Stretch]:
    """Cut one period (the first is 0) into stretches, in the order they are played."""
    length = title.seconds
    after = (title.periods - period - 1) * length
    cuts = {0, length}
    for rule in title.rules.values():
        if isinstance(rule, ClosingChance) and rule.last is not None:
            cuts.add(int(rule.last))
        if isinstance(rule, ClockedSlope):
            cuts.update(int(step.ahead) - after for step in rule.steps)
    edges = sorted((cut for cut in cuts if 0 <= cut <= length), reverse=True)
    stretches = []
    for begin, end in zip(edges, edges[1:], strict=False):
        active = active_rules(title, period, begin)
        steps = tuple(
            (name, sum(begin + after <= step.ahead for step in rule.steps))
            for name, rule in active.items()
            if isinstance(rule, ClockedSlope)
        )
        stretches.append(Stretch(begin - end, begin + after, tuple(active), (tuple(active), steps)))
    return stretches
