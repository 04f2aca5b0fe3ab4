"""Tables of the page: a caption that says what is in them, heads over their columns, figures flush right."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from venue.report.charts.title import greatest_rules, rule_changes
from venue.report.charts.within_setting import title_name
from venue.report.page.answer import figure_of
from venue.report.page.parts import Code, Figure, Grid, Name, Row, Strong, Words
from venue.report.page.reading import SettingView, Study
from venue.report.quantities import difference, half, percent, shown, span, written
from venue.study.intervals import Estimate
from venue.study.registry import MACHINE_MEASURES, MEASURES, TITLE_MEASURES

_FIGURES = ("credits_per_hour", "return_28d", "better_side_wins", "skill_edge", "close_finishes", "buy_in_rate",
            "empty_wallets", "spend_p95", "spend_top_tenth")  # fmt: skip
# What each rule is judged by; rules of one side only are about who wins.
_OF_RULES = ("side_a_wins", "better_side_wins", "close_finishes")
_NONE: Words = ["–"]
_MOST_COLUMNS = 12
_MOST_FAULTS = 20


def meaning(measure: str) -> str:
    """A measure in words."""
    return MEASURES[measure].meaning if measure in MEASURES else measure.replace("_", " ")


def _heads(*texts: str) -> list[Words]:
    return [[text] for text in texts]


def _at(study: Study, item: SettingView) -> str:
    return "" if len(study.settings) < 2 else f", at {item.name}"


def _machine(study: Study, key: str) -> Name:
    machines = study.record.loaded.scenario.machines
    return Name(machines[key].label or key if key in machines else key)


def _setting(study: Study, item: SettingView) -> Words:
    return [Name(item.label), *([Strong([" recommended"])] if item.place == study.best else [])]


def settings_grid(study: Study) -> Grid:
    """All settings side by side, the recommended one marked."""
    told = {key: MEASURES[key].label for key in _FIGURES if any(key in item.measures for item in study.settings)}
    best = study.best is not None and len(study.settings) > 1
    head: list[Words] = [[Name(" and ".join(study.keys))]]
    for key, words in told.items():
        head.append([words])
        if key == "credits_per_hour" and best:
            head.append(["against the recommended"])
    rows = []
    for item in study.settings:
        cells: list[Words] = [_setting(study, item)]
        for key in told:
            found = item.measures.get(key)
            cells.append(_NONE if found is None else [Figure(half(found, study.unit(key)), found.mean)])
            if key == "credits_per_hour" and best:
                against = item.against.get(key)
                cells.append(_NONE if against is None else [Figure(difference(against), against.mean)])
        rows.append(Row(cells, item.place, item.place == study.first_shown.place))
    return Grid(f"Every {study.word} that was run: mean ± half of the 95 % interval", head, rows)


def front_grid(study: Study) -> Grid | None:
    """Settings that no other beats in both take and fairness, and what fairness costs along them."""
    known = {tuple(item.at): item for item in study.settings}
    rows = []
    for found in study.record.result.get("trade_off") or ():
        item = known.get(tuple(found["at"].items()))
        if item is None or not found["on_front"]:
            continue
        price, chance = found.get("price_of_a_point"), found.get("chance")
        cost: Words = _NONE
        if price:
            between = Estimate(price["mean"], price["low"], price["high"], 2)
            cost = [figure_of(between), f" ({span(between)})"]
        sure: Words = _NONE if chance is None else [Figure(f"{100 * chance:.0f} %", chance)]
        rows.append(Row([_setting(study, item), sure, cost], item.place, item.place == study.first_shown.place))
    if len(rows) < 2:
        return None
    head: list[Words] = [
        [Name(" and ".join(study.keys))],
        ["chance that no other beats it in both"],
        ["credits per hour for one more contest in a hundred won by the better side"],
    ]
    return Grid("What fairness costs along the front, the fairest first", head, rows)


def measures_grid(study: Study, item: SettingView) -> Grid:
    """Every measure of one setting."""
    head = _heads("measure", "name", "mean", "95 % interval", *(["against the recommended"] if item.against else []),
                  "unit")  # fmt: skip
    rows = []
    for key, found in item.measures.items():
        unit = study.unit(key)
        cells: list[Words] = [[meaning(key)], [Code(key)], [figure_of(found, unit)], [span(found, unit) or "–"]]
        if item.against:
            against = item.against.get(key)
            cells.append(_NONE if against is None else [difference(against, unit)])
        rows.append(Row([*cells, ["" if unit in ("share", "chance", "ratio") else study.unit(key)]]))
    return Grid(f"Every measure at {item.name}", head, rows, words=2)


def machines_grid(study: Study, item: SettingView) -> Grid | None:
    """Each row of machines at one setting."""
    if not item.machines:
        return None
    told = list(dict.fromkeys(key for found in item.machines.values() for key in found))
    plain = {str(found["name"]): found for found in item.plain.get("machines") or ()}
    units = {key: str(found["measures"][key].get("unit", "")) for found in plain.values() for key in found["measures"]}
    rows = []
    for key, found in item.machines.items():
        cells: list[Words] = [[_machine(study, key)], [str(plain[key].get("count", ""))]]
        cells += [
            _NONE if name not in found else [Figure(half(found[name], units[name]), found[name].mean)] for name in told
        ]
        rows.append(Row(cells))
    head = _heads(
        "machine", "how many", *(MACHINE_MEASURES[name].label if name in MACHINE_MEASURES else name for name in told)
    )
    return Grid(
        f"Each row of machines{_at(study, item)}: one machine of it, mean ± half of the 95 % interval", head, rows
    )


def leaving_grid(study: Study) -> Grid | None:
    """Why people left, a column a setting."""
    reasons = list(dict.fromkeys(reason for item in study.settings for reason in item.left))
    if not reasons or len(study.settings) > _MOST_COLUMNS:
        return None
    most = sorted(reasons, key=lambda reason: -max(item.left.get(reason, 0.0) for item in study.settings))
    rows = []
    for reason in most:
        shares = [item.left.get(reason, 0.0) for item in study.settings]
        rows.append(Row([[reason], *([Figure(percent(share), share)] for share in shares)]))
    head: list[Words] = [["left because"], *([Name(item.label)] for item in study.settings)]
    by = f", by {study.keys[0]}" if len(study.settings) > 1 else ""
    return Grid(f"Why people left: share of visits{by}", head, rows)


def hours_grid(study: Study, item: SettingView) -> Grid | None:
    """The take of each row of machines by hour of day, at one setting."""
    rows = []
    for hour in range(24):
        values = [found[hour] for found in item.hours.values()]
        if any(value == value for value in values):
            cells: list[Words] = [_NONE if value != value else [Figure(f"{value:.1f}", value)] for value in values]
            rows.append(Row([[f"{hour:02d}:00"], *cells]))
    if not rows:
        return None
    head: list[Words] = [["from"], *([_machine(study, key)] for key in item.hours)]
    return Grid(f"Credits per open hour by hour of day{_at(study, item)}", head, rows)


def offers_grid(study: Study, item: SettingView) -> Grid | None:
    """Perceived and true chances and what was taken, by margin, at one setting."""
    rows = []
    for title, offers in item.offers.items():
        for offer in offers:
            cells: list[Words] = [
                _NONE if found is None else [Figure(shown(found, "share"), found.mean)]
                for found in (offer.perceived, offer.true, offer.taken)
            ]
            rows.append(Row([[Name(title_name(study, title))], [f"{offer.margin:+g}"], [f"{offer.count:.0f}"], *cells]))
    if not rows:
        return None
    head = _heads("title", "margin", "offers", "perceived chance", "true chance", "taken")
    return Grid(f"Offers of the next period by margin{_at(study, item)}", head, rows)


def rules_grid(name: str, apart: Mapping[str, Any], rules: Mapping[str, Any]) -> Grid:
    """Each rule alone and taken out, as changes in a hundred contests, the greatest first."""
    rows = []
    for rule in greatest_rules(apart, len(apart["alone"])):
        changes = rule_changes(apart, rule, _OF_RULES)
        own = rules.get(rule)
        about: list[Words] = [[own.kind if own else ""], [own.serves if own else ""],
                              [Name((own.switch if own else None) or "none")]]  # fmt: skip
        figures = [changes[measure][turn] for turn in (0, 1) for measure in _OF_RULES]
        cells: list[Words] = [[Figure(written(value, 1, "+" if round(value, 1) else ""), value)] for value in figures]
        rows.append(Row([[Name(rule)], *about, *cells]))
    figures_of = [f"{turn}: {TITLE_MEASURES[name].label}" for turn in ("alone", "among all") for name in _OF_RULES]
    head = _heads("rule", "kind", "serves", "switch", *figures_of)
    caption = f"{name}: what each rule changes in a hundred contests, at strength {apart['strength']:g}"
    return Grid(caption, head, rows, words=4)


def faults_grid(faults: Sequence[Mapping[str, Any]]) -> Grid | None:
    """Scores at which losing a point on purpose pays."""
    if not faults:
        return None
    rows = [Row([[str(value)] for value in fault.values()]) for fault in faults[:_MOST_FAULTS]]
    return Grid("Scores at which losing a point pays", [[key.replace("_", " ")] for key in faults[0]], rows, words=0)


def ranking_grid(sensitivity: Mapping[str, Any]) -> Grid:
    """The numbers that a measure depends on, with their origins."""
    rows = []
    for item in sensitivity["numbers"]:
        effect: Words = _NONE if item.get("effect") is None else [Figure(f"{item['effect']:.3g}", item["effect"])]
        half_width = item.get("half_width")
        rows.append(Row([
            [Code(str(item["number"]))], [str(item["from"])], [f"{item['low']:.4g} to {item['high']:.4g}"], effect,
            _NONE if half_width is None else [f"± {half_width:.2g}"],
        ]))  # fmt: skip
    head = _heads("number", "from", "moved between", f"effect ({sensitivity['unit']})", "95 % interval")
    return Grid(
        f"What {MEASURES[sensitivity['measure']].label} depends on, the greatest effect first", head, rows, words=2
    )


def numbers_grid(study: Study) -> Grid:
    """Every number of the scenario with its origin."""
    rows = [
        Row(
            [
                [Code(item["number"])],
                [Name(item["value"])],
                [item["from"]],
                [Name(item["note"])] if item["note"] else [],
            ]
        )
        for item in study.record.numbers
    ]
    caption = "Every number of the scenario and where it comes from"
    return Grid(caption, _heads("number", "value", "from", "note"), rows, words=4)


def differences_grid(comparison: Mapping[str, Any]) -> Grid:
    """Every difference of one scenario from the first."""
    rows = []
    for item in comparison["differences"]:
        places = 4 if abs(item["difference"]) < 1 else 2
        between = "–" if item["low"] is None else f"{item['low']:+.{places}f} to {item['high']:+.{places}f}"
        change = "–" if item["change"] is None else f"{100 * item['change']:+.1f} %"
        figures = [Figure(f"{item[key]:{sign}.{places}f}", item[key])
                   for key, sign in (("base", ""), ("other", ""), ("difference", "+"))]  # fmt: skip
        sure = "sure" if item["told_apart"] else "may be chance"
        rows.append(Row([[meaning(item["measure"])], *([figure] for figure in figures), [between], [change], [sure],
                         [item["unit"]]]))  # fmt: skip
    caption = f"{comparison['name']} against {comparison['against']}: every measure, on the same visitors"
    head = _heads("measure", "before", "after", "difference", "95 % interval", "change", "", "unit")
    return Grid(caption, head, rows)
