"""What each rule does, computed exactly from the resolved scenario: the same results that `venue contest` gives."""

from __future__ import annotations

from collections.abc import Sequence

from venue.contest.results import Headline
from venue.errors import VenueError
from venue.report.figures import number
from venue.report.page.figures import percent
from venue.report.page.markup import Content, Markup, element, name
from venue.report.page.page_tables import row, table
from venue.report.page.reading import Study
from venue.scenario.load import Loaded
from venue.study.title import TitleResult, title_result

_SHOWN = {"better_side_wins": "better side wins", "close_finishes": "close finishes"}


def titles_at(study: Study) -> list[TitleResult]:
    """Exact results of every title with rules, at the strengths of the study and at the one that is shown."""
    loaded = _as_shown(study)
    strengths = sorted({float(value) for item in study.settings for key, value in item.at if key == "strength"})
    strengths = strengths or [loaded.scenario.study.strength]
    found = []
    for key, title in loaded.scenario.titles.items():
        if title.rules and any(machine.title == key for machine in loaded.scenario.machines.values()):
            found.append(title_result(loaded, key, strengths))
    return found


def _as_shown(study: Study) -> Loaded:
    """The scenario as it was at the setting that is shown."""
    loaded = study.record.loaded
    at = dict(study.first_shown.at) if study.record.kind != "compare" else {}
    strength = at.pop("strength", None)
    try:
        changed = loaded.vary([f"{key}={value}" for key, value in at.items() if key != "scenario"]) if at else loaded
    except VenueError:
        changed = loaded
    return changed if strength is None else changed.change(strength=float(strength))


def rules_table(result: TitleResult) -> Markup:
    """Each rule alone and taken out, as changes in points of 100."""
    apart, rules = result.apart, result.design.rules
    rows = [
        row([name(rule), rules[rule].kind, rules[rule].serves, name(rules[rule].switch or "none"),
             *_changes(apart.bare, apart.alone[rule]), *_changes(apart.without[rule], apart.whole)], words=4)
        for rule in apart.alone
    ]  # fmt: skip
    head: list[Content] = ["rule", "kind", "serves", "switch",
                           *(f"alone: {text}" for text in _SHOWN.values()),
                           *(f"among all: {text}" for text in _SHOWN.values())]  # fmt: skip
    label = result.design.label or result.title
    return table(
        f"{label}: what each rule changes, in points of 100, at strength {result.strength:g}", head, rows, words=4
    )


def _changes(before: Headline, after: Headline) -> list[Content]:
    found: list[Content] = []
    for measure in _SHOWN:
        change = 100 * (getattr(after, measure) - getattr(before, measure))
        found.append(element("data", number(change, 1, "+"), value=repr(change)))
    return found


def rules_words(result: TitleResult) -> list[Content]:
    """A title's rules in a few sentences: together, and what no switch turns off."""
    apart = result.apart
    whole, bare = apart.whole, apart.bare
    parts: list[Content] = [
        "Together the rules take the better side from ", percent(bare.better_side_wins), " of wins to ",
        percent(whole.better_side_wins), ", and close finishes from ", percent(bare.close_finishes), " to ",
        percent(whole.close_finishes), ".",
    ]  # fmt: skip
    if apart.stays_on:
        parts += [" With every switch off these stay on: ", _listed(apart.stays_on), "."]
    return parts


def _listed(rules: Sequence[str]) -> list[Content]:
    return [[", " if place else "", name(rule)] for place, rule in enumerate(rules)]
