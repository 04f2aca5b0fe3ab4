"""Tables of the page: a caption that says what is in them, heads that say what is beside them, figures flush right."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from venue.report.page.figures import difference, figure, half, percent, shown, span
from venue.report.page.markup import Content, Markup, element, name
from venue.report.page.reading import SettingView, Study
from venue.study.intervals import Estimate
from venue.study.measures import MEASURES

_FIGURES = {
    "credits_per_hour": "credits per open hour",
    "return_28d": "return within 28 days",
    "better_side_wins": "better side wins",
    "skill_edge": "skill edge kept",
    "close_finishes": "close finishes",
    "buy_in_rate": "buy-ins taken",
    "empty_wallets": "empty wallets",
    "spend_p95": "spend p95 (credits)",
    "spend_top_tenth": "take from top tenth",
}
_SHARES_OF_WHOLE = {"skill_edge": "share"}


def table(caption: Content, head: Sequence[Content], rows: Sequence[Markup], *, words: int = 1) -> Markup:
    """A table in a frame that scrolls by itself where it is wider than the page.

    Parameters
    ----------
    words
        How many of the first columns hold words.
    """
    heads = [
        element("th", item, scope="col", class_=None if place < words else "figure") for place, item in enumerate(head)
    ]
    inner = element(
        "table",
        element("caption", element("span", caption)),
        element("thead", element("tr", heads)),
        element("tbody", rows),
    )
    label = caption if isinstance(caption, str) and not isinstance(caption, Markup) else "table"
    return element("div", inner, class_="frame", tabindex="0", role="region", aria_label=label)


def row(cells: Sequence[Content], *, words: int = 1, **attributes: str | float | bool | None) -> Markup:
    """A row: its head, then cells, those after the first `words` flush right."""
    made = [element("td", cell, class_=None if place < words else "figure") for place, cell in enumerate(cells[1:], 1)]
    return element("tr", element("th", cells[0], scope="row"), made, **attributes)


def unit_of(study: Study, measure: str) -> str:
    """Unit in which a measure is shown: what is left of the skill edge reads as a share."""
    return _SHARES_OF_WHOLE.get(measure, study.unit(measure))


def meaning(measure: str) -> str:
    """A measure in words."""
    return MEASURES[measure].meaning if measure in MEASURES else measure.replace("_", " ")


def settings_table(study: Study) -> Markup:
    """All settings side by side, the recommended one marked."""
    told = {key: head for key, head in _FIGURES.items() if any(key in item.measures for item in study.settings)}
    best = study.best is not None and len(study.settings) > 1
    head: list[Content] = [name(" and ".join(study.keys))]
    head += [told["credits_per_hour"]] if "credits_per_hour" in told else []
    head += ["against the recommended"] if best else []
    head += [words for key, words in told.items() if key != "credits_per_hour"]
    rows = [_setting_row(study, item, list(told), best) for item in study.settings]
    return table(f"Every {study.word} that was run: mean ± half of the 95 % interval", head, rows)


def _setting_row(study: Study, item: SettingView, told: Sequence[str], best: bool) -> Markup:
    cells: list[Content] = [[name(item.label), element("b", " recommended") if item.place == study.best else None]]
    for key in told:
        found = item.measures.get(key)
        cells.append(
            "–" if found is None else element("data", half(found, unit_of(study, key)), value=repr(found.mean))
        )
        if key == "credits_per_hour" and best:
            against = item.against.get(key)
            cells.append("–" if against is None else element("data", difference(against), value=repr(against.mean)))
    on = item.place == study.first_shown.place
    return row(cells, data_setting=item.place, class_="at on" if on else "at")


def front_table(study: Study) -> Markup | None:
    """Settings that no other beats in both take and fairness, and what fairness costs along them."""
    known = {tuple(item.at): item for item in study.settings}
    rows = []
    for found in study.record.result.get("trade_off") or ():
        item = known.get(tuple(found["at"].items()))
        if item is None or not found["on_front"]:
            continue
        price, chance = found.get("price_of_a_point"), found.get("chance")
        cost: Content = "–"
        if price:
            between = Estimate(price["mean"], price["low"], price["high"], 2)
            cost = [figure(between), f" ({span(between)})"]
        sure: Content = "–" if chance is None else element("data", f"{100 * chance:.0f} %", value=repr(chance))
        rows.append(
            row(
                [[name(item.label), element("b", " recommended") if item.place == study.best else None], sure, cost],
                data_setting=item.place,
                class_="at on" if item.place == study.first_shown.place else "at",
            )
        )
    if len(rows) < 2:
        return None
    head: list[Content] = [
        name(" and ".join(study.keys)),
        "chance that no other beats it in both",
        "credits per hour for one more contest in a hundred won by the better side",
    ]
    return table("What fairness costs along the front, the fairest first", head, rows)


def measures_table(study: Study, item: SettingView) -> Markup:
    """Every measure of one setting."""
    rows = []
    for key, found in item.measures.items():
        unit = unit_of(study, key)
        against = item.against.get(key)
        rows.append(
            row(
                [
                    meaning(key),
                    element("code", key),
                    figure(found, unit),
                    span(found, unit) or "–",
                    "–" if against is None else difference(against, unit),
                    "" if unit in ("share", "chance") else study.unit(key),
                ],
                words=2,
            )
        )
    head = ["measure", "name", "mean", "95 % interval", "against the recommended", "unit"]
    if not item.against:
        rows = []
        for key, found in item.measures.items():
            unit = unit_of(study, key)
            rows.append(row([meaning(key), element("code", key), figure(found, unit), span(found, unit) or "–",
                             "" if unit in ("share", "chance") else study.unit(key)], words=2))  # fmt: skip
        head.remove("against the recommended")
    return table(f"Every measure at {item.name}", head, rows, words=2)


def machines_table(study: Study, item: SettingView) -> Markup | None:
    """Each row of machines at one setting."""
    if not item.machines:
        return None
    machines = study.record.loaded.scenario.machines
    told = list(dict.fromkeys(key for found in item.machines.values() for key in found))
    plain = {str(found["name"]): found for found in item.plain.get("machines") or ()}
    units = {key: str(found["measures"][key].get("unit", "")) for found in plain.values() for key in found["measures"]}
    rows = []
    for key, found in item.machines.items():
        label = machines[key].label or key if key in machines else key
        cells: list[Content] = [name(label), name(str(plain[key].get("count", "")))]
        cells += [
            "–"
            if measure not in found
            else element("data", half(found[measure], units[measure]), value=repr(found[measure].mean))
            for measure in told
        ]
        rows.append(row(cells))
    head: list[Content] = ["machine", "how many", *(measure.replace("_", " ") for measure in told)]
    where = "" if len(study.settings) < 2 else f" at {item.name}"
    return table(f"Each row of machines{where}: one machine of it, mean ± half of the 95 % interval", head, rows)


def leaving_table(study: Study) -> Markup | None:
    """Why people left, a column a setting."""
    reasons = list(dict.fromkeys(reason for item in study.settings for reason in item.left))
    if not reasons or len(study.settings) > 12:
        return None
    most = sorted(reasons, key=lambda reason: -max(item.left.get(reason, 0.0) for item in study.settings))
    rows = [
        row(
            [
                reason,
                *(
                    element("data", percent(item.left.get(reason, 0.0)), value=repr(item.left.get(reason, 0.0)))
                    for item in study.settings
                ),
            ]
        )
        for reason in most
    ]
    head: list[Content] = ["left because", *(name(item.label) for item in study.settings)]
    return table(
        "Why people left: share of visits" + (f", by {study.keys[0]}" if len(study.settings) > 1 else ""), head, rows
    )


def hours_table(study: Study, item: SettingView) -> Markup | None:
    """The take of each row of machines by hour of day, at one setting."""
    machines = study.record.loaded.scenario.machines
    rows = []
    for hour in range(24):
        values = [found[hour] for found in item.hours.values()]
        if any(value == value for value in values):
            rows.append(
                row(
                    [
                        f"{hour:02d}:00",
                        *(
                            "–" if value != value else element("data", f"{value:.1f}", value=repr(value))
                            for value in values
                        ),
                    ]
                )
            )
    if not rows:
        return None
    head: list[Content] = [
        "from",
        *(name(machines[key].label or key if key in machines else key) for key in item.hours),
    ]
    return table(
        "Credits per open hour by hour of day" + ("" if len(study.settings) < 2 else f", at {item.name}"), head, rows
    )


def offers_table(study: Study, item: SettingView) -> Markup | None:
    """Perceived and true chances and what was taken, by margin, at one setting."""
    titles = study.record.loaded.scenario.titles
    rows = [
        row(
            [
                name(titles[title].label or title if title in titles else title),
                f"{offer.margin:+g}",
                f"{offer.count:.0f}",
                *(
                    "–" if found is None else element("data", shown(found, "share"), value=repr(found.mean))
                    for found in (offer.perceived, offer.true, offer.taken)
                ),
            ]
        )
        for title, offers in item.offers.items()
        for offer in offers
    ]
    if not rows:
        return None
    head = ["title", "margin", "offers", "perceived chance", "true chance", "taken"]
    return table(
        "Offers of the next period by margin" + ("" if len(study.settings) < 2 else f", at {item.name}"), head, rows
    )


def hangs_on_table(sensitivity: Mapping[str, Any]) -> Markup:
    """The numbers that a measure hangs on, with their origins."""
    rows = []
    for item in sensitivity["numbers"]:
        effect = (
            "–" if item.get("effect") is None else element("data", f"{item['effect']:.3g}", value=repr(item["effect"]))
        )
        half_width = item.get("half_width")
        rows.append(
            row(
                [
                    element("code", name(str(item["number"]))),
                    str(item["from"]),
                    f"{item['low']:.4g} to {item['high']:.4g}",
                    effect,
                    "–" if half_width is None else f"± {half_width:.2g}",
                ],
                words=2,
            )
        )
    head = ["number", "from", "moved between", f"effect ({sensitivity['unit']})", "95 % interval"]
    return table(
        f"What {str(sensitivity['measure']).replace('_', ' ')} hangs on, the greatest effect first", head, rows, words=2
    )


def numbers_table(study: Study) -> Markup:
    """Every number of the scenario with its origin."""
    rows = [
        row(
            [
                element("code", name(item["number"])),
                name(item["value"]),
                item["from"],
                name(item["note"]) if item["note"] else "",
            ],
            words=4,
        )
        for item in study.record.numbers
    ]
    return table(
        "Every number of the scenario and where it comes from", ["number", "value", "from", "note"], rows, words=4
    )


def differences_table(comparison: Mapping[str, Any]) -> Markup:
    """Every difference of one scenario from the first."""
    rows = []
    for item in comparison["differences"]:
        places = 4 if abs(item["difference"]) < 1 else 2
        between = "–" if item["low"] is None else f"{item['low']:+.{places}f} to {item['high']:+.{places}f}"
        change = "–" if item["change"] is None else f"{100 * item['change']:+.1f} %"
        rows.append(
            row(
                [
                    meaning(item["measure"]),
                    element("data", f"{item['base']:.{places}f}", value=repr(item["base"])),
                    element("data", f"{item['other']:.{places}f}", value=repr(item["other"])),
                    element("data", f"{item['difference']:+.{places}f}", value=repr(item["difference"])),
                    between,
                    change,
                    "sure" if item["told_apart"] else "may be chance",
                    item["unit"],
                ]
            )
        )
    caption = f"{comparison['name']} against {comparison['against']}: every measure, on the same visitors"
    return table(caption, ["measure", "before", "after", "difference", "95 % interval", "change", "", "unit"], rows)


def folded(summary: str, *content: Content) -> Markup:
    """Something that is there for whoever asks for it."""
    return element("details", element("summary", summary), *content)
