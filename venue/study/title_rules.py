"""What each rule of the titles on the floor does, at the settings of a study that a report shows.

Computed once, with the results: a report that is made of them solves nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from venue.scenario.load import Loaded
from venue.study.point import value_of
from venue.study.title import title_result
from venue.study.title_records import TakenApart
from venue.units import plain


def titles_taken_apart(loaded: Loaded, settings: Iterable[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Each title that has rules and stands on the floor, rule by rule, at each of the settings (exact).

    Returns
    -------
    list
        `title`, `at` (the setting), and `apart` as `venue contest --json` has it.
    """
    every = {tuple(at.items()): at for at in settings}.values()
    return [
        {"title": title, "at": dict(at), "apart": apart} for at in every for title, apart in _rules(_there(loaded, at))
    ]


@dataclass(frozen=True)
class _There:
    """A scenario at a setting, known by its text."""

    text: str
    loaded: Loaded = field(compare=False)


def _there(loaded: Loaded, at: Mapping[str, Any]) -> _There:
    changes = [f"{key}={value_of(value) if isinstance(value, str) else plain(value)}" for key, value in at.items()
               if key != "strength"]  # fmt: skip
    changed = loaded.vary(changes) if changes else loaded
    changed = changed.change(strength=float(at["strength"])) if "strength" in at else changed
    return _There(changed.to_toml(), changed)


@lru_cache(maxsize=64)
def _rules(there: _There) -> tuple[tuple[str, dict[str, Any]], ...]:
    scenario = there.loaded.scenario
    played = {machine.title for machine in scenario.machines.values()}
    keys = [key for key, title in scenario.titles.items() if title.rules and key in played]
    return tuple((key, title_result(there.loaded, key, [scenario.study.strength]).taken_apart()) for key in keys)


RULES_JUDGED_BY = ("better_side_wins", "close_finishes")
"""The results that rules are ranked by."""


def rule_changes(
    apart: TakenApart, rule: str, measures: Sequence[str] = RULES_JUDGED_BY
) -> dict[str, tuple[float, float]]:  # fmt: skip
    """By measure, in a hundred contests: the rule alone against no rule, and all rules against all but this one."""
    return {
        measure: (
            100 * (apart.alone[rule][measure] - apart.bare[measure]),
            100 * (apart.whole[measure] - apart.without[rule][measure]),
        )
        for measure in measures
    }


def greatest_rules(apart: TakenApart) -> list[str]:
    """The rules by what they change most, alone or taken out, in either measure; the greatest first."""

    def effect(rule: str) -> float:
        return max(abs(value) for pair in rule_changes(apart, rule).values() for value in pair)

    return sorted(apart.alone, key=lambda rule: -effect(rule))


def does_most(apart: TakenApart) -> tuple[str, str, float] | None:
    """The rule that changes most, the measure that it alone changes most, and by how much in a hundred contests."""
    if not apart.alone:
        return None
    rule = greatest_rules(apart)[0]
    alone = {measure: change for measure, (change, _) in rule_changes(apart, rule).items()}
    measure = max(alone, key=lambda name: abs(alone[name]))
    return rule, measure, alone[measure]
