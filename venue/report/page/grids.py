"""Tables of the page: the ones that terminals and files have, with the place of the setting that each row is of."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence

from venue.report import study_tables, title_tables
from venue.report.charts.within_setting import title_name
from venue.report.page.parts import Code, Figure, Grid, Name, Row, Words
from venue.report.page.reading import SettingView, Study
from venue.report.study_tables import OFFERS
from venue.report.tables import Cell, Column, Table
from venue.scenario.rules import Rule
from venue.study.floor_records import Comparison, SensitivityRecord, SweepRecord
from venue.study.registry import MEASURES, TITLE_MEASURES
from venue.study.title_records import ContestRecord, Fault, TakenApart
from venue.study.title_rules import RULES_JUDGED_BY, greatest_rules, rule_changes

_FIGURES = ("credits_per_hour", "return_28d", "better_side_wins", "skill_edge", "close_finishes", "buy_in_rate",
            "empty_wallets", "spend_p95", "spend_top_tenth")  # fmt: skip
_CODES = ("number", "measure")
_MINUS = re.compile(r"(?<![\w.])-(?=[\d.])")
_MOST_COLUMNS = 12
_MOST_FAULTS = 20


def grid_of(table: Table, *, caption: str = "", places: Sequence[int] | None = None, chosen: int | None = None) -> Grid:
    """A table as the page has it.

    Parameters
    ----------
    places
        Place of the setting that each row is of.
    chosen
        The setting that the page opens with.
    """
    heads = table.heads()
    codes = [column.key in _CODES for column in table.columns]
    plain = len(heads) == len(table.columns)
    rows = [
        Row(
            [_cell(item.text, item.value, code=plain and codes[at], words=item.words) for at, item in enumerate(row)],
            None if places is None else places[number],
            places is not None and places[number] == chosen,
        )
        for number, row in enumerate(table.lines())
    ]
    words = next((place for place, (_, words) in enumerate(heads) if not words), len(heads))
    return Grid(caption or table.caption, [[head] for head, _ in heads], rows, words)


def _cell(text: str, value: float | None, *, code: bool, words: bool) -> Words:
    if words:
        return [Code(text) if code else Name(text)] if text else []
    text = "–" if text == "-" else _MINUS.sub("−", text)
    return [text] if value is None or math.isnan(value) else [Figure(text, value)]


def _at(study: Study, item: SettingView) -> str:
    return "" if len(study.settings) < 2 else f", at {item.name}"


def _replicated(study: Study) -> bool:
    return any(not math.isnan(level.low) for item in study.settings for level in item.measures.values())


def settings_grid(study: Study) -> Grid:
    """All settings side by side, the recommended one marked."""
    rows = [(item.at, item.measures) for item in study.settings]
    table = study_tables.table_of_settings(study.keys, rows, study.best, _FIGURES, several=_replicated(study))
    if study.best is not None and len(study.settings) > 1:
        against = [item.against.get("credits_per_hour") for item in study.settings]
        table = study_tables.with_differences(table, "against_recommended", "against the\nrecommended", against)
    places = [item.place for item in study.settings]
    return grid_of(table, places=places, chosen=study.first_shown.place)


def front_grid(study: Study) -> Grid | None:
    """Settings that no other beats in both take and fairness, and what fairness costs along them."""
    data = study.record.data
    known = {item.at: item for item in study.settings}
    found = [row for row in data.trade_off if row.on_front] if isinstance(data, SweepRecord) else []
    found = [row for row in found if tuple(row.at.items()) in known]
    if len(found) < 2:
        return None
    prices = [None if (price := row.price_of_a_point) is None else (price.mean, price.low, price.high) for row in found]
    table = study_tables.table_of_trade_off(study.keys, [
        (tuple(row.at.items()), (row.better_side_wins, row.credits_per_hour, row.on_front), row.chance, price)
        for row, price in zip(found, prices, strict=True)
    ])  # fmt: skip
    places = [known[tuple(row.at.items())].place for row in found]
    return grid_of(table.without("on_front"), caption="What fairness costs along the front, the fairest first",
                   places=places, chosen=study.first_shown.place)  # fmt: skip


def measures_grid(study: Study, item: SettingView) -> Grid:
    """Every measure of one setting."""
    money = study.record.loaded.scenario.venue.money
    table = study_tables.measures_table(item.measures, money).only("meaning", "measure", "mean", "unit")
    return grid_of(table, caption=f"Every measure at {item.name}")


def machines_grid(study: Study, item: SettingView) -> Grid | None:
    """Each row of machines at one setting."""
    if not item.machines:
        return None
    machines = study.record.loaded.scenario.machines
    rows = [(item.at, key, found) for key, found in item.machines.items()]
    table = study_tables.table_of_machines(machines, rows)
    return grid_of(table, caption=f"{table.caption}{_at(study, item)}")


def leaving_grid(study: Study) -> Grid | None:
    """Why people left, a column a setting."""
    reasons = list(dict.fromkeys(reason for item in study.settings for reason in item.left))
    if not reasons or len(study.settings) > _MOST_COLUMNS:
        return None
    most = sorted(reasons, key=lambda reason: -max(item.left.get(reason, 0.0) for item in study.settings))
    columns = [Column("reason", "left because", "words")]
    columns += [Column(f"at_{item.place}", f"{item.label}, %", measure=MEASURES["return_28d"], digits=1)
                for item in study.settings]  # fmt: skip
    rows: list[list[Cell]] = [[reason, *(item.left.get(reason, 0.0) for item in study.settings)] for reason in most]
    by = f", by {study.keys[0]}" if len(study.settings) > 1 else ""
    return grid_of(Table("left_because", tuple(columns), rows, f"Why people left: share of visits{by}"))


def hours_grid(study: Study, item: SettingView) -> Grid | None:
    """The take of each row of machines by hour of day, at one setting."""
    machines = study.record.loaded.scenario.machines
    names = [machines[key].label or key if key in machines else key for key in item.hours]
    columns = [Column("from", "from", "words")]
    columns += [Column(key, name, digits=1) for key, name in zip(item.hours, names, strict=True)]
    rows: list[list[Cell]] = []
    for hour in range(24):
        values = [found[hour] for found in item.hours.values()]
        if not all(math.isnan(value) for value in values):
            rows.append([f"{hour:02d}:00", *values])
    caption = f"Credits per open hour by hour of day{_at(study, item)}"
    return grid_of(Table("by_hour", tuple(columns), rows, caption)) if rows else None


def offers_grid(study: Study, item: SettingView) -> Grid | None:
    """Perceived and true chances and what was taken, by margin, at one setting."""
    rows: list[list[Cell]] = [
        [title_name(study, title), offer.margin, 0, offer.count, offer.taken, offer.perceived, offer.true]
        for title, offers in item.offers.items() for offer in offers
    ]  # fmt: skip
    caption = f"Offers of the next period by margin{_at(study, item)}"
    return grid_of(Table("by_margin", OFFERS, rows, caption).without("band")) if rows else None


# What each rule is judged by; rules of one side only are about who wins.
_OF_RULES = ("side_a_wins", *RULES_JUDGED_BY)
_RULES = (
    Column("rule", "rule", "words"), Column("kind", "kind", "words"), Column("serves", "serves", "words"),
    Column("switch", "switch", "words"),
    *(
        Column(f"{how}_{measure}", f"{words}: {TITLE_MEASURES[measure].label}", digits=1, sign="+")
        for how, words in (("alone", "alone"), ("out", "among all")) for measure in _OF_RULES
    ),
)  # fmt: skip


def rules_grid(name: str, apart: TakenApart, rules: Mapping[str, Rule]) -> Grid:
    """Each rule alone and taken out, as changes in a hundred contests, the greatest first."""
    rows: list[list[Cell]] = []
    for rule in greatest_rules(apart):
        changes, own = rule_changes(apart, rule, _OF_RULES), rules.get(rule)
        about = ["", "", "none"] if own is None else [own.kind, own.serves, own.switch or "none"]
        rows.append([rule, *about, *(changes[measure][turn] for turn in (0, 1) for measure in _OF_RULES)])
    caption = f"{name}: what each rule changes in a hundred contests, at strength {apart.strength:g}"
    return grid_of(Table("rules", _RULES, rows, caption))


def faults_grid(faults: Sequence[Fault], *, in_points: bool) -> Grid | None:
    """Scores at which losing a point on purpose pays."""
    if not faults:
        return None
    table = title_tables.faults_table(faults, in_points=in_points).first(_MOST_FAULTS)
    return grid_of(table, caption="Scores at which losing a point pays")


def moves_grid(data: ContestRecord) -> Grid:
    """What each move of side A gains by itself and all together."""
    table = title_tables.gains_table(data.best_play, data.findings.best_play.play, data.moments.left_in)
    return grid_of(table, caption="What side A gains by each move, used as well as can be")


def ranking_grid(sensitivity: SensitivityRecord) -> Grid:
    """The numbers that a measure depends on, with their origins."""
    label = MEASURES[sensitivity.measure].label
    table = study_tables.ranking_of(sensitivity.numbers, label).only("number", "from", "range", "effect")
    return grid_of(table, caption=f"{table.caption} ({sensitivity.unit})")


_NUMBERS = (
    Column("number", "number", "words"), Column("value", "value", "words"), Column("from", "from", "words"),
    Column("note", "note", "words"),
)  # fmt: skip


def numbers_grid(study: Study) -> Grid:
    """Every number of the scenario with its origin."""
    rows: list[list[Cell]] = [[item[column.key] for column in _NUMBERS] for item in study.record.numbers]
    return grid_of(Table("numbers", _NUMBERS, rows, "Every number of the scenario and where it comes from"))


def differences_grid(comparison: Comparison) -> Grid:
    """Every difference of one scenario from the first."""
    caption = f"{comparison.name} against {comparison.against}: every measure, on the same visitors (~: not sure)"
    return grid_of(study_tables.differences_table((comparison,)).without("variance_ratio"), caption=caption)
