"""The sections of the page, in the order in which questions come: what it trades, who is hurt, how it is known.

A section that has nothing to show is not there.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import partial

from venue.report.heading import CAUTION
from venue.report.page import commands, course_charts, other_charts, page_tables, rules, setting_charts
from venue.report.page.answer_compare import comparison_finding
from venue.report.page.answer_words import origins
from venue.report.page.background import Beside
from venue.report.page.cards import MOST_CARDS, card
from venue.report.page.markup import Content, Markup, element, join, name
from venue.report.page.picture import Chart, svg
from venue.report.page.reading import SettingView, Study
from venue.report.page.what_was_run import what_was_run

_FAIR_WORDS = (
    "Better side wins: contests won by the side with more skill; half of them would be a coin toss.",
    "Skill edge kept: what is left of the edge that the better side would have unaided; 100 % decides as skill "
    "would, 0 % is a coin toss.",
    "Close finishes: contests that end within the few points that the title calls close.",
)

# With so few settings rules are followed as fast as a process of its own begins.
_FEW = 2


@dataclass(frozen=True)
class Section:
    """A headed part of the page, with the charts in it."""

    key: str
    title: str
    content: Markup
    charts: Sequence[Chart] = ()


class _Drawn:
    """Charts gathered while sections are made, and what is worked out beside them."""

    def __init__(self, study: Study, rule_blocks: Beside[list[Markup]] | None = None) -> None:
        self.rule_blocks = rule_blocks
        self._chosen = study.first_shown.place if study.settings else 0
        self.charts: list[Chart] = []

    def row(self, *items: Chart | Markup | None) -> Markup | None:
        """Charts, and what belongs to them, side by side where there is room; nothing without a chart."""
        found = [item for item in items if item is not None]
        charts = [item for item in found if isinstance(item, Chart)]
        self.charts += charts
        if not charts:
            return None
        made = [self._figure(item) if isinstance(item, Chart) else element("div", item) for item in found]
        return element("div", made, class_="charts")

    def _figure(self, chart: Chart) -> Markup:
        frame = (
            {"class_": "draw", "tabindex": "0", "role": "region", "aria_label": f"chart: {chart.finding}"}
            if chart.wide
            else {"class_": "draw"}
        )
        return element(
            "figure",
            element("figcaption", name(chart.finding)),
            element("div", svg(chart, self._chosen), **frame),
            element("p", name(chart.note), class_="note") if chart.note else None,
            class_="wide" if chart.wide else None,
        )


Maker = Callable[[Study, _Drawn], Iterable[Content]]


def sections_of(study: Study) -> list[Section]:
    """Every section that has something to show."""
    found = []
    # Rules are followed exactly at each strength, which takes as long as half of the charts.
    rule_blocks = Beside(partial(_rule_blocks, study)) if _many_rules(study) else None
    for key, title, maker in _ORDER:
        drawn = _Drawn(study, rule_blocks)
        content = [item for item in maker(study, drawn) if item]
        if content:
            found.append(Section(key, title, join(content), tuple(drawn.charts)))
    return found


def _settings(study: Study, _drawn: _Drawn) -> Iterable[Content]:
    """One card for each setting; the slider shows one at a time."""
    if study.record.kind not in ("sweep", "run"):
        return
    yield element("div", [card(study, item) for item in study.settings[:MOST_CARDS]], class_="cards")
    if len(study.settings) > 1:
        yield page_tables.settings_table(study)
        yield element(
            "p",
            f'The ± under "against the recommended" is that of the difference, every other one that of a figure by '
            f"itself. Every {study.word} met the same visitors, whose luck cancels out in a difference: two may "
            "surely differ although their own intervals overlap.",
            class_="about",
        )


def _one_each(study: Study, summary: str, maker: Callable[[Study, SettingView], Markup | None]) -> Markup | None:
    """A table for each setting, of which the slider shows one; folded away."""
    made = [(item, found) for item in study.overlaid if (found := maker(study, item)) is not None]
    if not made:
        return None
    blocks = [_one(study, item.place, found) for item, found in made] if len(study.settings) > 1 else [made[0][1]]
    return page_tables.folded(summary, blocks)


def _one(study: Study, place: int, content: Content) -> Markup:
    """Something of one setting, shown alone where there is a slider."""
    on = " on" if place == study.first_shown.place else ""
    return element("div", content, class_=f"one at{on}", data_setting=place)


def _trade_off(study: Study, drawn: _Drawn) -> Iterable[Content]:
    if study.record.kind == "sweep":
        yield drawn.row(setting_charts.trade_off_chart(study), page_tables.front_table(study))


def _take(study: Study, drawn: _Drawn) -> Iterable[Content]:
    if study.record.kind == "sweep":
        yield drawn.row(
            setting_charts.take_chart(study),
            setting_charts.machines_chart(study),
            setting_charts.money_chart(study),
            course_charts.hours_chart(study),
            course_charts.steady_chart(study),
        )
    elif study.record.kind == "run":
        yield drawn.row(course_charts.hours_chart(study), course_charts.steady_chart(study))
    if study.record.kind in ("sweep", "run"):
        yield _one_each(study, "Table: machines", page_tables.machines_table)
        yield _one_each(study, "Table: hours of the day", page_tables.hours_table)


def _retention(study: Study, drawn: _Drawn) -> Iterable[Content]:
    if study.record.kind in ("sweep", "run"):
        yield drawn.row(
            setting_charts.retention_chart(study), course_charts.return_chart(study), course_charts.cohort_chart(study)
        )


def _fairness(study: Study, drawn: _Drawn) -> Iterable[Content]:
    if study.record.kind == "sweep":
        yield drawn.row(
            setting_charts.fairness_chart(study), element("div", [element("p", text) for text in _FAIR_WORDS])
        )


def _belief(study: Study, drawn: _Drawn) -> Iterable[Content]:
    yield drawn.row(*course_charts.chance_charts(study))
    yield drawn.row(*course_charts.buy_in_charts(study))
    yield _one_each(study, "Table: offers by margin", page_tables.offers_table)


def _leaving(study: Study, drawn: _Drawn) -> Iterable[Content]:
    yield drawn.row(setting_charts.leaving_chart(study))
    yield page_tables.leaving_table(study)


def _rules(study: Study, drawn: _Drawn) -> Iterable[Content]:
    if study.record.kind in ("compare", "sensitivity"):
        return
    if study.record.kind == "contest":
        yield from _title_charts(study, drawn)
        return
    yield from _rule_blocks(study) if drawn.rule_blocks is None else drawn.rule_blocks.result()


def _many_rules(study: Study) -> bool:
    return study.record.kind == "sweep" and len(study.overlaid) > _FEW


def _rule_blocks(study: Study) -> list[Markup]:
    """What each rule does, title by title, at every setting that can be shown."""
    titles = rules.titles_of(study)
    words = (
        "Computed exactly from the rules, for newcomers who all play to the end: against each other at two seats, "
        "else against the computer. On the floor people practise, give up and find nobody to play, so that the "
        "figures of the machines above may differ. Alone: the rule by itself against no rule at all. Among all: all "
        "rules against all but this one. A rule without a switch is scaled by strength like the others, unless it is "
        "marked as not scalable."
    )
    blocks = [element("p", words)] if titles else []
    for title in titles:
        found = rules.taken_apart(study, title)
        blocks.append(element("h3", name(course_charts.title_name(study, title))))
        for place, (result, apart) in found.items():
            block = [element("p", rules.rules_words(apart)), rules.rules_table(result, apart)]
            blocks.append(_one(study, place, block) if len(found) > 1 else element("div", block))
    return blocks


def _title_charts(study: Study, drawn: _Drawn) -> Iterable[Content]:
    from venue.report.title_charts import title_charts
    from venue.study.title import title_result

    result = study.record.result
    ups = result["match_ups"]
    exact = title_result(study.record.loaded, result["title"], [item["strength"] for item in result["points"]],
                         ups["mean"] if ups["sd"] == 0.0 else None)  # fmt: skip
    if exact.design.rules:
        yield element("p", rules.rules_words(exact.apart))
        yield rules.rules_table(exact, exact.apart)
    yield drawn.row(*(other_charts.adopted(key, chart) for key, chart in title_charts(exact).items()))
    faults = result["trailing_pays"]["faults"]
    if faults:
        rows = [page_tables.row([str(value) for value in fault.values()], words=0) for fault in faults[:20]]
        yield page_tables.table(
            "Scores at which losing a point pays", [key.replace("_", " ") for key in faults[0]], rows, words=0
        )


def _differences(study: Study, drawn: _Drawn) -> Iterable[Content]:
    for place, item in enumerate(study.record.result.get("comparisons") or (), 1):
        finding = f"{item['name']} against {item['against']}: {comparison_finding(item)}"
        yield drawn.row(other_charts.differences_chart(place, item, finding))
        yield page_tables.folded("Table: every difference", page_tables.differences_table(item))


def _protection(study: Study, drawn: _Drawn) -> Iterable[Content]:
    if study.record.kind == "contest":
        return
    yield element("p", CAUTION, class_="caution")
    if study.record.kind == "sweep":
        yield drawn.row(setting_charts.hurt_chart(study), setting_charts.protection_chart(study))


def _hangs_on(study: Study, drawn: _Drawn) -> Iterable[Content]:
    found = study.record.sensitivity
    if found:
        yield drawn.row(other_charts.hangs_on_chart(found))
        yield page_tables.folded("Table: every number that was moved", page_tables.hangs_on_table(found))
    elif study.record.kind in ("sweep", "run"):
        yield element(
            "p",
            "Which numbers the answer hangs on was not studied. To find out: ",
            element("code", commands.hangs_on(study), class_="command"),
            ", then ",
            element("code", "venue report RESULTS --sensitivity sensitivity", class_="command"),
            ".",
        )
    counts = ", ".join(
        f"{count} {source}" for source, count in sorted(origins(study).items(), key=lambda item: -item[1])
    )
    yield element("p", f"Where the scenario's numbers come from: {counts}.")
    yield page_tables.folded("Table: every number with its origin", page_tables.numbers_table(study))


_ORDER: tuple[tuple[str, str, Maker], ...] = (
    ("trade-off", "The trade-off: take against fairness", _trade_off),
    ("settings", "The figures", _settings),
    ("differences", "What differs", _differences),
    ("take", "Where and when the credits come in", _take),
    ("retention", "Do people come back?", _retention),
    ("fairness", "Is it fair?", _fairness),
    ("belief", "What visitors believe, and what is true", _belief),
    ("leaving", "Why people left", _leaving),
    ("rules", "What each rule does", _rules),
    ("protection", "Who may be hurt", _protection),
    ("hangs-on", "What the answer hangs on", _hangs_on),
    ("run", "What was run", what_was_run),
)
