"""What each rule does, computed exactly from the resolved scenario: the same results that `venue contest` gives."""

from __future__ import annotations

from collections.abc import Sequence

from venue.contest.ablation import Apart, take_apart
from venue.contest.results import Headline
from venue.report.page.commands import in_full
from venue.report.page.figures import percent, written
from venue.report.page.markup import Content, Markup, element, name
from venue.report.page.page_tables import row, table
from venue.report.page.reading import Study
from venue.scenario.load import Loaded
from venue.study.title import TitleResult, title_result

_SHOWN = {"better_side_wins": "better side wins", "close_finishes": "close finishes"}


def titles_of(study: Study) -> list[str]:
    """Titles with rules that stand on the floor."""
    scenario = study.record.loaded.scenario
    played = {machine.title for machine in scenario.machines.values()}
    return [key for key, title in scenario.titles.items() if title.rules and key in played]


def taken_apart(study: Study, title: str) -> dict[int, tuple[TitleResult, Apart]]:
    """A title rule by rule, by the place of the setting: at every strength that the page can show, or, where settings
    differ in more than strength, at the one that it opens with."""
    first = study.first_shown
    settings = study.overlaid if study.keys == ("strength",) and study.record.kind == "sweep" else (first,)
    loaded = _as_shown(study)
    strengths = {item.place: float(dict(item.at).get("strength", loaded.scenario.study.strength)) for item in settings}
    result = title_result(loaded, title, sorted(set(strengths.values())))
    known = {item.strength: item for item in result.headlines}
    return {
        place: (result, take_apart(result.design, result.match_ups, known[strength], result.edge, result.switches_off))
        for place, strength in strengths.items()
    }


def _as_shown(study: Study) -> Loaded:
    """The scenario as it was at the setting that is shown."""
    loaded = study.record.loaded
    at = dict(study.first_shown.at)
    strength = at.pop("strength", None)
    changed = loaded.vary([f"{key}={in_full(value)}" for key, value in at.items()]) if at else loaded
    return changed if strength is None else changed.change(strength=float(strength))


def rules_table(result: TitleResult, apart: Apart) -> Markup:
    """Each rule alone and taken out, as changes in a hundred contests."""
    rules = result.design.rules
    rows = [
        row([name(rule), rules[rule].kind, rules[rule].serves, name(rules[rule].switch or "none"),
             *_changes(apart.bare, apart.alone[rule]), *_changes(apart.without[rule], apart.whole)], words=4)
        for rule in apart.alone
    ]  # fmt: skip
    head: list[Content] = ["rule", "kind", "serves", "switch",
                           *(f"alone: {text}" for text in _SHOWN.values()),
                           *(f"among all: {text}" for text in _SHOWN.values())]  # fmt: skip
    label = result.design.label or result.title
    caption = f"{label}: what each rule changes in a hundred contests, at strength {apart.whole.strength:g}"
    return table(caption, head, rows, words=4)


def _changes(before: Headline, after: Headline) -> list[Content]:
    found: list[Content] = []
    for measure in _SHOWN:
        change = 100 * (getattr(after, measure) - getattr(before, measure))
        sign = "+" if round(change, 1) else ""
        found.append(element("data", written(change, 1, sign), value=repr(change)))
    return found


def rules_words(apart: Apart) -> list[Content]:
    """A title's rules in a few sentences: together, and what no switch turns off."""
    whole, bare = apart.whole, apart.bare
    same = all(percent(getattr(bare, name)) == percent(getattr(whole, name)) for name in _SHOWN)
    parts: list[Content] = (
        [
            f"At strength {whole.strength:g} the rules together change nothing: the better side wins ",
            percent(whole.better_side_wins),
            ", and ",
            percent(whole.close_finishes),
            " of contests end close.",
        ]
        if same
        else [
            f"At strength {whole.strength:g} the rules together take the better side from ",
            percent(bare.better_side_wins),
            " of wins to ",
            percent(whole.better_side_wins),
            ", and close finishes from ",
            percent(bare.close_finishes),
            " to ",
            percent(whole.close_finishes),
            ".",
        ]
    )
    if apart.stays_on:
        parts += [" With every switch off these stay on: ", _listed(apart.stays_on), "."]
    return parts


def _listed(rules: Sequence[str]) -> list[Content]:
    return [[", " if place else "", name(rule)] for place, rule in enumerate(rules)]
