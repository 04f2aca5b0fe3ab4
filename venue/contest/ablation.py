"""A title taken apart: what each rule does to the headline, by leaving it out and by leaving it alone."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from venue.contest.results import Headline, MatchUps, headline_of
from venue.scenario.rules import RuleBase
from venue.scenario.title import Title


@dataclass(frozen=True)
class Apart:
    """A title with all its rules, with each rule out, with each alone, and with every switch off.

    Attributes
    ----------
    whole, bare
        Headline with the rules that are on, and with none at all.
    without, alone
        Headline by rule, for each rule that is on.
    switched_off
        Headline with every operator switch off.
    stays_on
        Names of the rules that no switch turns off.
    """

    whole: Headline
    bare: Headline
    without: dict[str, Headline]
    alone: dict[str, Headline]
    switched_off: Headline
    stays_on: tuple[str, ...]


def with_rules(title: Title, rules: Mapping[str, RuleBase]) -> Title:
    """The title with other rules."""
    return title.model_copy(update={"rules": dict(rules)})


def take_apart(
    title: Title, match_ups: MatchUps, whole: Headline, unaided_edge: float, switches_off: frozenset[str] = frozenset()
) -> Apart:
    """Exact headline results of a title's rules, one by one, at one strength.

    Parameters
    ----------
    whole
        The title's headline at that strength, with the rules that are on.
    unaided_edge
        By how much the better side's wins exceed one half at strength 0; one yardstick for every set of rules.
    """
    on = {name: rule for name, rule in title.rules.items() if rule.switch is None or rule.switch not in switches_off}
    stays = {name: rule for name, rule in title.rules.items() if rule.switch is None}
    known = {frozenset(on): whole}

    def headline(rules: Mapping[str, RuleBase]) -> Headline:
        names = frozenset(rules)
        if names not in known:
            known[names] = headline_of(with_rules(title, rules), match_ups, whole.strength, unaided_edge)
        return known[names]

    return Apart(
        whole=whole,
        bare=headline({}),
        without={name: headline({other: rule for other, rule in on.items() if other != name}) for name in on},
        alone={name: headline({name: rule}) for name, rule in on.items()},
        switched_off=headline(stays),
        stays_on=tuple(stays),
    )
