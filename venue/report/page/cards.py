"""A card for each setting with its figures, and the slider that shows one card at a time."""

from __future__ import annotations

from venue.report.page import page_tables
from venue.report.page.figures import difference, figure, span
from venue.report.page.markup import Content, Markup, element, name
from venue.report.page.reading import SettingView, Study

_TILES = {
    "credits_per_hour": "credits per open hour",
    "better_side_wins": "better side wins",
    "skill_edge": "skill edge kept",
    "close_finishes": "close finishes",
    "return_28d": "return within 28 days",
    "empty_wallets": "empty wallets",
    "spend_p95": "largest spenders, credits a visit (95th percentile)",
    "spend_top_tenth": "take from top tenth",
    "profit_per_week": "left to the operator a week",
    "limit_reached": "visits stopped by a limit",
}
MOST_CARDS = 200


def dial(study: Study) -> Markup | None:
    """The slider over the settings that were run; None where there is nothing to choose."""
    if study.record.kind != "sweep" or len(study.settings) < 2:
        return None
    label = "Catch-up strength" if study.keys == ("strength",) else "Match"
    last = len(study.settings[:MOST_CARDS]) - 1
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
            f"Charts and figures below follow; titles name the {study.word} they speak of. Only the "
            f"{len(study.settings)} {study.word}s that were run; nothing in between.",
        ),
        class_="dial",
    )


def _named(study: Study, item: SettingView) -> str:
    return item.label + (" (recommended)" if item.place == study.best else "")


def _money(study: Study) -> str:
    """How amounts of money begin their unit."""
    return f"{study.record.loaded.scenario.venue.money} "


def card(study: Study, item: SettingView) -> Markup:
    """The foremost figures of one setting, with all of them folded away."""
    tiles = []
    for key, label in _TILES.items():
        found = item.measures.get(key)
        if found is None or (key == "limit_reached" and not study.ever(key)):
            continue
        unit = page_tables.unit_of(study, key)
        notes: list[Content] = [f"{span(found, unit)}" if span(found, unit) else None]
        against = item.against.get(key)
        if against is not None:
            notes.append(element("span", f"; {difference(against, unit)} against the recommended"))
        tiles.append(
            element(
                "div",
                element("dt", label, f" ({study.unit(key)})" if study.unit(key).startswith(_money(study)) else None),
                element("dd", element("span", figure(found, unit), data_measure=key), element("small", notes)),
            )
        )
    against_too = f"; then the difference from the recommended {study.word}, with its own" if item.against else ""
    reading = element("p", f"Large: the mean. Under it: its 95 % interval{against_too}.", class_="about")
    heading = element("h3", "At ", name(item.name), " (recommended)" if item.place == study.best else None)
    return element(
        "section",
        heading,
        reading if any(span(found) for found in item.measures.values()) else None,
        element("dl", tiles, class_="tiles"),
        page_tables.folded(f"Every measure at {item.name}", page_tables.measures_table(study, item)),
        class_="card one at" + (" on" if item.place == study.first_shown.place else ""),
        data_setting=item.place,
        data_name=_named(study, item),
    )
