"""The sections of the page, in the order in which questions come: what it trades, who is hurt, how it is known.

A section that has nothing to show is not there.
"""

from __future__ import annotations

import base64
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from venue.report.folder import SCENARIO
from venue.report.page import commands, course_charts, other_charts, page_tables, rules, setting_charts
from venue.report.page.answer_compare import comparison_finding
from venue.report.page.answer_words import origins
from venue.report.page.figures import figure, half, span
from venue.report.page.markup import Content, Markup, element, join, name
from venue.report.page.picture import Chart, svg
from venue.report.page.reading import Shown, Study
from venue.report.tables import CAUTION

_TILES = {
    "credits_per_hour": "credits per open hour",
    "better_side_wins": "better side wins",
    "skill_edge": "skill edge kept",
    "close_finishes": "close finishes",
    "return_28d": "return within 28 days",
    "empty_wallets": "empty wallets",
    "spend_p95": "largest spenders, credits a visit (95th percentile)",
    "spend_top_tenth": "take from top tenth",
    "margin_per_week": "left to the operator a week",
    "limit_reached": "visits stopped by a limit",
}
_FAIR_WORDS = (
    "Better side wins: contests won by the side with more skill; half of them would be a coin toss.",
    "Skill edge kept: what is left of the edge that the better side would have unaided; 100 % decides as skill "
    "would, 0 % is a coin toss.",
    "Close finishes: contests that end within the few points that the title calls close.",
)
_MOST_CARDS = 200


@dataclass(frozen=True)
class Section:
    """A headed part of the page, with the charts in it."""

    key: str
    title: str
    content: Markup
    charts: Sequence[Chart] = ()


class _Drawn:
    """Charts gathered while sections are made."""

    def __init__(self, study: Study) -> None:
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
    for key, title, maker in _ORDER:
        drawn = _Drawn(study)
        content = [item for item in maker(study, drawn) if item]
        if content:
            found.append(Section(key, title, join(content), tuple(drawn.charts)))
    return found


def _settings(study: Study, _drawn: _Drawn) -> Iterable[Content]:
    """One card for each setting; the slider shows one at a time."""
    if study.record.kind not in ("sweep", "run"):
        return
    yield element("div", [_card(study, item) for item in study.settings[:_MOST_CARDS]], class_="cards")
    if len(study.settings) > 1:
        yield page_tables.settings_table(study)
        yield element(
            "p",
            f"Every {study.word} met the same visitors: differences are taken in pairs, and are surer than the "
            f"intervals of "
            "each look.",
            class_="about",
        )


def dial(study: Study) -> Markup | None:
    """The slider over the settings that were run; None where there is nothing to choose."""
    if study.record.kind != "sweep" or len(study.settings) < 2:
        return None
    label = "Catch-up strength" if study.keys == ("strength",) else "Setting"
    last = len(study.settings[:_MOST_CARDS]) - 1
    start = min(study.first_shown.place, last)
    item = study.settings[start]
    control = element(
        "input",
        type="range",
        id="dial",
        min="0",
        max=str(last),
        step="1",
        value=str(start),
        autocomplete="off",
        aria_valuetext=_named(study, item),
    )
    return element(
        "div",
        element("label", label, for_="dial"),
        element("button", "−", type="button", data_step="-1", aria_label="one setting back"),
        control,
        element("button", "+", type="button", data_step="1", aria_label="one setting on"),
        element("output", _named(study, item), id="dial-shown", for_="dial"),
        element(
            "small",
            f"Charts and figures below follow. Only the {len(study.settings)} {study.word}s that were run; "
            f"nothing in between.",
        ),
        class_="dial",
    )


def _named(study: Study, item: Shown) -> str:
    return item.label + (" (recommended)" if item.place == study.best else "")


def _money(study: Study) -> str:
    """How amounts of money begin their unit."""
    return f"{study.record.loaded.scenario.venue.money} "


def _card(study: Study, item: Shown) -> Markup:
    tiles = []
    for key, label in _TILES.items():
        found = item.measures.get(key)
        if found is None or (key == "limit_reached" and not study.ever(key)):
            continue
        unit = page_tables.unit_of(study, key)
        notes: list[Content] = [f"{span(found, unit)}" if span(found, unit) else None]
        against = item.against.get(key)
        if against is not None:
            notes.append(element("span", f"; {half(against, unit, '+')} against the recommended"))
        tiles.append(
            element(
                "div",
                element("dt", label, f" ({study.unit(key)})" if study.unit(key).startswith(_money(study)) else None),
                element("dd", element("span", figure(found, unit), data_measure=key), element("small", notes)),
            )
        )
    heading = element("h3", "At ", name(item.name), " (recommended)" if item.place == study.best else None)
    return element(
        "section",
        heading,
        element("dl", tiles, class_="tiles"),
        page_tables.folded(f"Every measure at {item.name}", page_tables.measures_table(study, item)),
        class_="card one at" + (" on" if item.place == study.first_shown.place else ""),
        data_setting=item.place,
        data_name=_named(study, item),
    )


def _one_each(study: Study, summary: str, maker: Callable[[Study, Shown], Markup | None]) -> Markup | None:
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
    titles = rules.titles_of(study)
    if titles:
        yield element(
            "p",
            "Computed exactly from the rules, without a floor. Alone: the rule by itself against no rule at "
            "all. Among all: all "
            "rules against all but this one.",
        )
    for title in titles:
        found = rules.taken_apart(study, title)
        yield element("h3", name(course_charts.title_name(study, title)))
        for place, (result, apart) in found.items():
            block = [element("p", rules.rules_words(apart)), rules.rules_table(result, apart)]
            yield _one(study, place, block) if len(found) > 1 else element("div", block)


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


def _run(study: Study, _drawn: _Drawn) -> Iterable[Content]:
    record, result = study.record, study.record.result
    scenario = record.loaded.scenario
    if scenario.about:
        yield element("p", name(" ".join(scenario.about.split())))
    facts: list[tuple[str, Content]] = [("scenario", name(commands.source(record)))]
    if "seed" in result:
        facts += [("seed", str(result["seed"])), ("replications", str(result.get("replications", 1))),
                  ("days", f"{result['days']}, the first {result['warm_up']} left out")]  # fmt: skip
    off = scenario.study.switches_off
    facts += [("switched off", name(", ".join(off)))] if off else []
    facts.append(("version of venue", str(result.get("version", "unknown"))))
    yield element(
        "dl",
        [element("div", element("dt", key), element("dd", element("small", value))) for key, value in facts],
        class_="tiles",
    )
    yield element(
        "p", "To reproduce these figures, save the resolved scenario below as ", element("code", SCENARIO), " and run:"
    )
    yield element("pre", element("code", commands.reproduce(study)), class_="command")
    yield element("p", "Everything in this file, to save and open elsewhere:", class_="no-print")
    links = [
        element("li", _download("the resolved scenario (TOML)", SCENARIO, record.loaded.to_toml(), "application/toml"))
    ]
    links.append(element("li", _download("the result (JSON)", "result.json", _json(study), "application/json")))
    links += [
        element("li", _download(f"{key} (CSV)", f"{key}.csv", text, "text/csv"))
        for key, text in sorted(record.tables.items())
    ]
    yield element("ul", links, class_="downloads")


def _json(study: Study) -> str:
    import json

    return json.dumps(study.record.result, allow_nan=False, separators=(",", ":")) + "\n"


def _download(label: str, file: str, text: str, kind: str) -> Markup:
    packed = base64.b64encode(text.encode("utf-8", errors="replace")).decode("ascii")
    return element("a", name(label), download=file, href=f"data:{kind};charset=utf-8;base64,{packed}")


_ORDER: tuple[tuple[str, str, Maker], ...] = (
    ("trade-off", "The trade-off: take against fairness", _trade_off),
    ("settings", "The figures", _settings),
    ("differences", "What differs", _differences),
    ("take", "Where and when the credits come in", _take),
    ("retention", "Do people come back", _retention),
    ("fairness", "Is it fair", _fairness),
    ("belief", "What visitors believe, and what is true", _belief),
    ("leaving", "Why people left", _leaving),
    ("rules", "What each rule does", _rules),
    ("protection", "Who may be hurt", _protection),
    ("hangs-on", "What the answer hangs on", _hangs_on),
    ("run", "What was run", _run),
)
