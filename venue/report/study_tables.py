"""Tables of runs, sweeps, comparisons and sensitivity, each declared once for terminal, page, notebook and files."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import pandas as pd

from venue.floor.records import UNITS
from venue.report import figures
from venue.report.heading import LONGEST_NAME
from venue.report.tables import Cell, Column, Said, Table, safe
from venue.scenario.load import Loaded
from venue.scenario.machine import Machine
from venue.study.compare import CompareResult, Comparison, Difference
from venue.study.floor_records import Comparison as StoredComparison
from venue.study.floor_records import Difference as StoredDifference
from venue.study.floor_records import MovedNumber
from venue.study.intervals import Estimate, estimate_of
from venue.study.point import Place, Point, value_of
from venue.study.registry import MACHINE_MEASURES, MEASURES
from venue.study.results import RunResult, SweepResult
from venue.study.sensitivity import SensitivityResult
from venue.units import DAY, HOUR, MINUTE

Plain = dict[str, Any]

# What a run or a setting is shown by first, as far as it is known; the largest spenders and empty wallets among them.
FIRST = (
    "credits_per_hour", "take_per_week", "profit_per_week", "visits_per_hour", "credits_per_visit", "better_side_wins",
    "close_finishes", "return_28d", "empty_wallets", "spend_top_tenth",
)  # fmt: skip
# What settings are set side by side with.
OF_SETTINGS = (
    "credits_per_hour", "return_28d", "better_side_wins", "skill_edge", "close_finishes", "buy_in_rate",
    "profit_per_week", "availability", "limit_reached", "empty_wallets", "spend_p95", "spend_top_tenth",
)  # fmt: skip
_OF_MONEY = ("take_per_week", "operator_share_per_week", "profit_per_week")
_LIKELY = 0.2
_MOST_BANDS = 7
# What lies beyond the bands of a table: a share of the offers at either end.
_TAIL = 0.01
_RETURN_DAYS = 28
_LONGEST_KEY = 44
_MOST_PLACES = 6
_SIZES = (("days", DAY), ("h", HOUR), ("min", MINUTE), ("s", 1.0))


def says_something(name: str, found: Sequence[Mapping[str, Estimate]]) -> bool:
    """Whether a column is worth its room: it is known, and is not what it always is without faults and costs."""
    known = [measures for measures in found if name in measures]
    if name == "availability":
        return any(measures[name].mean < 1.0 for measures in known)
    if name == "limit_reached":
        return any(measures[name].mean > 0.0 for measures in known)
    if name in _OF_MONEY:
        return any(measures["profit_per_week"].mean != measures["take_per_week"].mean for measures in known)
    return bool(known)


def measures_table(found: Mapping[str, Estimate], money: str, caption: str = "") -> Table:
    """Every measure of one setting: name, mean, interval, unit, meaning."""
    columns = (
        Column("measure", "measure", "words"), Column("mean", "mean", "interval"),
        Column("unit", "unit", "words", spare=2),
        Column("meaning", "what it is", "words", spare=1, shown_to="people"),
    )  # fmt: skip
    rows: list[list[Cell]] = [
        [name, Said(item, " | ".join(figures.interval(item, MEASURES[name]))),
         Said(MEASURES[name].unit_in(money), MEASURES[name].unit_shown(money)), MEASURES[name].meaning]
        for name, item in found.items()
    ]  # fmt: skip
    return Table("measures", columns, rows, caption)


def first_measures(found: Mapping[str, Estimate], money: str) -> Table:
    """The foremost measures of one setting, by their labels."""
    table = measures_table({name: found[name] for name in FIRST if says_something(name, [found])}, money)
    rows = [[Said(str(row[0]), MEASURES[str(row[0])].label), *row[1:]] for row in table.rows]
    return Table("measures", table.columns, rows).without("meaning")


def _keys_of(keys: Sequence[str]) -> tuple[Column, ...]:
    """Columns of what was swept."""
    return tuple(Column(key, key, "words", longest=_LONGEST_KEY) for key in keys)


def _where(at: Place, keys: Sequence[str]) -> list[Cell]:
    """Cells of these columns."""
    return [Said(value, value_of(value)) for _, value in at] if keys else []


def settings_table(result: SweepResult, measures: Iterable[str] = MEASURES, *, every: bool = False) -> Table:
    """A row a setting, the recommended one marked (<).

    Parameters
    ----------
    every
        Whether measures stay that say nothing.
    """
    rows = [(point.where, point.measures()) for point in result.points]
    several = any(len(point.replications) > 1 for point in result.points)
    return table_of_settings(result.keys, rows, result.best.place, measures, several=several, every=every)


def table_of_settings(
    keys: Sequence[str], settings: Sequence[tuple[Place, Mapping[str, Estimate]]], best: int | None,
    measures: Iterable[str], *, several: bool, every: bool = False,
) -> Table:  # fmt: skip
    """The same from settings and their measures.

    Parameters
    ----------
    best
        Place of the recommended one.
    several
        Whether there are several replications.
    """
    names = [name for name in measures if every or says_something(name, [found for _, found in settings])]
    columns = [*_keys_of(keys), *(Column.of(name, MEASURES[name]) for name in names)]
    rows: list[list[Cell]] = []
    for place, (at, found) in enumerate(settings):
        where = _where(at, keys)
        last = where[-1]
        if place == best and isinstance(last, Said):
            where[-1] = Said(last.value, f"{last.text} <")
        rows.append([*where, *(found.get(name) for name in names)])
    marked = "" if best is None else " (<: recommended)"
    shown = "mean ± half of the 95 % interval" if several else "one replication"
    return Table("settings", tuple(columns), rows, f"Settings{marked}: {shown}")


def with_differences(table: Table, key: str, head: str, found: Sequence[Estimate | None]) -> Table:
    """The table with a column of differences in credits per open hour, behind the level it belongs to."""
    places = [place for place, column in enumerate(table.columns) if column.kind == "estimate"]
    at = places[0] + 1 if places else len(table.columns)
    column = Column(key, head, "estimate", sign="+")
    rows = [[*row[:at], item, *row[at:]] for row, item in zip(table.rows, found, strict=True)]
    return Table(table.name, (*table.columns[:at], column, *table.columns[at:]), rows, table.caption)


def _long(table: Table, name: str, known: Mapping[str, Any], money: str) -> Table:
    """A row a figure, for files."""
    units = [known[column.key].unit_in(money) for column in table.columns if column.kind == "estimate"]
    found = table.long(units)
    return Table(name, found.columns, found.rows)


def machines_table(
    machines: Mapping[str, Machine], points: Sequence[Point], keys: Sequence[str] = (), *, every: bool = False
) -> Table:  # fmt: skip
    """A row for each row of machines, at each setting: one machine of it.

    Parameters
    ----------
    every
        Whether columns stay that say nothing.
    """
    found = [(point.where, key, point.machine_measures(key)) for point in points for key in machines]
    return table_of_machines(machines, found, keys, every=every)


def table_of_machines(
    machines: Mapping[str, Machine], found: Sequence[tuple[Place, str, Mapping[str, Estimate]]],
    keys: Sequence[str] = (), *, every: bool = False,
) -> Table:  # fmt: skip
    """The same from settings, machine keys and measures."""
    told = [name for name in MACHINE_MEASURES if every or says_something(name, [item for *_, item in found])]
    columns = (
        *_keys_of(keys), Column("machine", "machines", "words", longest=LONGEST_NAME),
        Column("title", "title", "words", longest=LONGEST_NAME, shown_to="people"),
        Column("count", "how\nmany", shown_to="people"), *(Column.of(name, MACHINE_MEASURES[name]) for name in told),
    )  # fmt: skip
    rows: list[list[Cell]] = [
        [*_where(at, keys), key, machines[key].title or "(no contest)", machines[key].count,
         *(measures.get(name) for name in told)]
        for at, key, measures in found
    ]  # fmt: skip
    return Table("machines", columns, rows, "One machine of each row, mean ± half of its interval")


def shares_table(name: str, points: Sequence[Point], keys: Sequence[str] = ()) -> Table:
    """Why visits ended (`left_because`), or why people went to other machines (`moved_because`)."""
    of = "visits" if name == "left_because" else "moves"
    columns = (
        *_keys_of(keys), Column("reason", "because", "words"),
        Column(f"share_of_{of}", f"share of\n{of}, %", measure=MEASURES["return_28d"], digits=1),
    )  # fmt: skip
    rows: list[list[Cell]] = [
        [*_where(point.where, keys), reason, share]
        for point in points
        for reason, share in getattr(point, name)().items()
    ]  # fmt: skip
    return Table(name, columns, rows)


def reasons_table(point: Point) -> Table:
    """Why people left, and why they went to other machines instead."""
    gone, moved = point.left_because(), point.moved_because()
    share = MEASURES["return_28d"]
    columns = [
        Column("reason", "because", "words"), Column("left", "left, %\nof visits", measure=share, digits=1),
        Column("moved", "moved on, %\nof changes", measure=share, digits=1),
    ]  # fmt: skip
    rows: list[list[Cell]] = [
        [reason, gone.get(reason), moved.get(reason)] for reason in dict.fromkeys([*gone, *moved])
    ]
    table = Table("reasons", tuple(columns), rows, "Why visits ended, and why people went to other machines")
    return table if moved else table.without("moved")


OFFERS = (
    Column("title", "title", "words", longest=LONGEST_NAME), Column("margin", "points\nahead"), Column("band", "band"),
    Column("offers", "offers", digits=0), Column.of("taken", MEASURES["buy_in_rate"]),
    Column("perceived", "perceived\nchance, %", "estimate", MEASURES["better_side_wins"]),
    Column("true", "true\nchance, %", "estimate", MEASURES["better_side_wins"]),
)  # fmt: skip
_CURVE = (Column("days", "days"), Column("share", "back by\nthen, %", "estimate", MEASURES["return_28d"]))
_WEEKS = (
    Column("week", "week", "words"), Column("warm_up", "left out"),
    Column.of("visits_per_hour", MEASURES["visits_per_hour"]),
    Column.of("credits_per_hour", MEASURES["credits_per_hour"]), Column.of("suspicion", MEASURES["suspicion"]),
)  # fmt: skip


def _gathered(
    name: str, columns: tuple[Column, ...], points: Sequence[Point], keys: Sequence[str],
    rows: Callable[[Point], Iterable[Plain]],
) -> Table:  # fmt: skip
    """A table from plain data, a mapping a row."""

    def cell(column: Column, row: Plain) -> Cell:
        return estimate_of(row.get(column.key)) if column.kind == "estimate" else row[column.key]

    found = [
        [*_where(point.where, keys), *(cell(column, row) for column in columns)]
        for point in points
        for row in rows(point)
    ]
    return Table(name, (*_keys_of(keys), *columns), found)


def offers_table(points: Sequence[Point], keys: Sequence[str] = ()) -> Table:
    """Offers at period breaks by title and margin: how many, what visitors thought of their chance, what it was."""
    return _gathered("by_margin", OFFERS, points, keys, Point.by_margin)


def return_table(points: Sequence[Point], keys: Sequence[str] = ()) -> Table:
    """Return by day after a visit."""
    return _gathered("return_curve", _CURVE, points, keys, lambda point: map(_curve_row, point.return_curve()))


def cohorts_table(points: Sequence[Point], keys: Sequence[str] = ()) -> Table:
    """The same for each week's first-time visitors."""
    columns = (Column("week", "week"), Column("visitors", "first-time\nvisitors", digits=0), *_CURVE)
    return _gathered("cohorts", columns, points, keys, _cohort_rows)


def weeks_table(points: Sequence[Point], keys: Sequence[str] = ()) -> Table:
    """The way to the steady state, week by week."""
    return _gathered("weeks", _WEEKS, points, keys, Point.weeks)


def _curve_row(row: Plain) -> Plain:
    return {"days": row["days"], "share": {name: row[name] for name in ("mean", "low", "high")}}


def _cohort_rows(point: Point) -> Iterable[Plain]:
    for cohort in point.cohorts():
        for row in cohort["curve"]:
            yield {"week": cohort["week"], "visitors": cohort["visitors"], **_curve_row(row)}


def offers_in_bands(loaded: Loaded, point: Point) -> Table:
    """Offers at breaks in a few bands of margins."""
    found = point.by_margin()
    rows: list[list[Cell]] = []
    for title in dict.fromkeys(item["title"] for item in found):
        items = [item for item in found if item["title"] == title]
        total = sum(item["offers"] for item in items)
        for label, band in banded(items):
            offers = sum(item["offers"] for item in band)
            means = [
                sum(item["offers"] * item[name]["mean"] for item in band) / offers
                for name in ("taken", "perceived", "true")
            ]
            rows.append([loaded.scenario.titles[title].label or title, label, offers / total, *means])
    share = MEASURES["buy_in_rate"]
    columns = (
        Column("title", "offers at breaks", "words", longest=LONGEST_NAME), Column("band", "points ahead"),
        *(
            Column(key, head, measure=share, digits=1)
            for key, head in (
                ("share", "share of\noffers, %"), ("taken", "taken, %"), ("perceived", "perceived\nchance, %"),
                ("true", "true\nchance, %"),
            )
        ),
    )  # fmt: skip
    return Table("offers", columns, rows, "Offers at period breaks, by points ahead")


def banded(items: list[Plain]) -> list[tuple[str, list[Plain]]]:
    """Margins of one title in a few bands of equal width about level, the ends open; those without offers left out."""
    total = sum(item["offers"] for item in items)
    unit = items[0]["band"]
    reach, beyond = 0, total
    for item in sorted(items, key=lambda item: abs(item["margin"])):
        if beyond <= _TAIL * total:
            break
        beyond -= item["offers"]
        reach = abs(item["margin"]) // unit
    # As many bands on either side of level as it takes; each an odd number of units wide.
    half = math.ceil(((2 * reach + 1) / _MOST_BANDS - 1) / 2)
    size = 2 * half + 1
    sides = max(math.ceil((reach - half) / size), 0)
    bands: dict[int, list[Plain]] = {}
    for item in items:
        place = round(item["margin"] / unit / size)
        bands.setdefault(max(-sides, min(sides, place)), []).append(item)
    return [(_band(place, sides, size * unit), bands[place]) for place in sorted(bands)]


def _band(place: int, sides: int, size: int) -> str:
    low, high = place * size - size // 2, place * size + size // 2
    if place == -sides:
        return "any" if not sides else f"{high} or less"
    if place == sides:
        return f"{low} or more"
    return f"{low}" if low == high else f"{low} to {high}"


def some_weeks(point: Point) -> Table:
    """A few of the weeks on the way to the steady state, with what became of their first-time visitors."""
    weeks = point.weeks()
    cohorts = {cohort["week"]: cohort for cohort in point.cohorts()}
    rows: list[list[Cell]] = []
    for place, week in enumerate(weeks, start=1):
        if place != len(weeks) and place & (place - 1):
            continue  # first, second, fourth, eighth …, and the last
        cohort = cohorts.get(week["week"], {"curve": []})
        back = [row["mean"] for row in cohort["curve"] if row["days"] == _RETURN_DAYS]
        rows.append(
            [
                f"{week['week']}" + (" (warm-up)" if week["warm_up"] else ""), week["visits_per_hour"]["mean"],
                week["credits_per_hour"]["mean"], week["suspicion"]["mean"] if "suspicion" in week else None,
                cohort["visitors"] if cohort["curve"] else None, back[0] if back else None,
            ]
        )  # fmt: skip
    columns = (
        Column("week", "week", "words"), Column("visits_per_hour", MEASURES["visits_per_hour"].short, digits=2),
        Column("credits_per_hour", MEASURES["credits_per_hour"].short, digits=1),
        Column("suspicion", "suspicion\n(level)", digits=3), Column("visitors", "first-time\nvisitors", digits=0),
        Column("back", "of them back\nin 28 days, %", measure=MEASURES["return_28d"], digits=1),
    )  # fmt: skip
    return Table("some_weeks", columns, rows, "Weeks on the way to the steady state")


def hours_table(machines: Iterable[str], points: Sequence[Point], keys: Sequence[str]) -> Table:
    """The take of each row of machines by hour of day; empty where never open."""
    columns = (
        *_keys_of(keys), Column("machines", "machines", "words"), Column("hour_of_day", "hour"),
        Column("credits_per_open_hour", MEASURES["credits_per_hour"].short, digits=1),
    )  # fmt: skip
    rows: list[list[Cell]] = [
        [*_where(point.where, keys), key, hour, take]
        for point in points
        for key, hours in zip(machines, point.hourly().tolist(), strict=True)
        for hour, take in enumerate(hours)
    ]
    return Table("by_hour", columns, rows)


def trade_off_table(result: SweepResult) -> Table:
    """The settings, the fairest first, with the chance that no other beats each in both fairness and take."""
    rows = [(result.points[item.place].where, item) for item in result.front]
    return table_of_trade_off(result.keys, [
        (at, (item.fair, item.earned, item.on_front), item.chance, item.price) for at, item in rows
    ])  # fmt: skip


def table_of_trade_off(
    keys: Sequence[str],
    settings: Iterable[tuple[Place, tuple[float, float, bool], float | None, tuple[float, float, float] | None]],
) -> Table:
    """The same from settings: fairness, take and whether on the front; the chance of that; the price, low and high."""
    columns = (
        *_keys_of(keys),
        Column("better_side_wins", "better side\nwins, %", measure=MEASURES["better_side_wins"], digits=1),
        Column("credits_per_hour", MEASURES["credits_per_hour"].short, digits=1),
        Column("on_front", "unbeaten\nin both"),
        Column("chance", "chance\nof that, %", measure=MEASURES["return_28d"], digits=0),
        Column("price", "credits per hour for one\nmore point of fairness", "estimate"),
    )  # fmt: skip
    rows: list[list[Cell]] = []
    for at, (fair, earned, on_front), chance, found in settings:
        price: Cell = None
        if found is not None:
            middle, low, high = found
            places = figures.decimals((high - low) / 2, middle)
            span = f"{figures.number(low, places)} to {figures.number(high, places)}"
            price = Said(Estimate(middle, low, high, 2), f"{figures.number(middle, places)} ({span})")
        rows.append([*_where(at, keys), fair, earned, Said(on_front, "yes" if on_front else "perhaps"), chance, price])
    return Table("trade_off", columns, rows, "The trade-off, the fairest first")


def likely(table: Table) -> Table:
    """Of a trade-off the settings that are on its front, or may well be."""
    on, chance = (next(p for p, c in enumerate(table.columns) if c.key == key) for key in ("on_front", "chance"))
    rows = []
    for row in table.rows:
        front, sure = row[on], row[chance]
        if (isinstance(front, Said) and front.value) or (isinstance(sure, float) and sure >= _LIKELY):
            rows.append(row)
    return Table(table.name, table.columns, rows, table.caption)


def accounts_table(result: RunResult) -> Table:
    """The accounts of a run, which must balance."""
    columns = (Column("name", "account", "words"), Column("left", "left"), Column("right", "right"))
    rows: list[list[Cell]] = [[item.name, float(item.left), float(item.right)] for item in result.point.accounts()]
    return Table("accounts", columns, rows)


def _people(points: Sequence[Point], keys: Sequence[str]) -> list[Table]:
    return [
        shares_table("left_because", points, keys), offers_table(points, keys), return_table(points, keys),
        cohorts_table(points, keys), weeks_table(points, keys), shares_table("moved_because", points, keys),
    ]  # fmt: skip


def run_files(result: RunResult) -> list[Table]:
    """Tables of a run's folder."""
    scenario, points = result.loaded.scenario, (result.point,)
    money = scenario.venue.money
    machines = machines_table(scenario.machines, points, every=True)
    return [
        measures_table(result.point.measures(), money),
        _long(machines, "machines", MACHINE_MEASURES, money), accounts_table(result),
        hours_table(scenario.machines, points, ("strength",)), *_people(points, ()),
    ]  # fmt: skip


@dataclass(frozen=True)
class FrameFile:
    """A data frame as a file: rows by the hundred thousand, which nobody reads in a terminal."""

    name: str
    frame: pd.DataFrame

    def to_csv(self) -> str:
        """Its text; what a spreadsheet would take for a formula stands behind an apostrophe."""
        changed = self.frame.rename(columns=safe)
        for column in changed.select_dtypes(include=["object", "string"]).columns:
            changed[column] = [safe(cell) for cell in changed[column]]
        return str(changed.to_csv(index=False))


def row_files(result: RunResult) -> list[FrameFile]:
    """Every play, visit and offer of a run that kept its rows; the head of a column names its unit.

    Cells are empty where there is nothing to say: the result of a contest that was left, a visit without a next one.
    """
    heads = {column: f"{column}_{unit}" for column, unit in UNITS.items()}
    return [
        FrameFile(name, frame.replace(math.inf, math.nan).rename(columns=heads))
        for name, frame in (("plays", result.plays), ("visits", result.visits), ("offers", result.offers))
    ]


def sweep_files(result: SweepResult) -> list[Table]:
    """Tables of a sweep's folder."""
    scenario, points, keys = result.loaded.scenario, result.points, result.keys
    money = scenario.venue.money
    machines = machines_table(scenario.machines, points, keys, every=True)
    return [
        _long(settings_table(result, every=True), "measures", MEASURES, money),
        _long(machines, "machines", MACHINE_MEASURES, money),
        hours_table(scenario.machines, points, keys), *_people(points, keys),
        *([trade_off_table(result)] if result.front else []),
    ]  # fmt: skip


def changes_table(result: CompareResult, measures: Iterable[str]) -> Table:
    """A row a scenario: the means of the first, then by what the others differ from it, in pairs; ~ where not sure."""
    base = result.points[0].measures()
    names = [name for name in measures if name in base]
    found = [{difference.measure: difference for difference in item.differences} for item in result.comparisons]
    columns = [Column("scenario", "scenario", "words", longest=_LONGEST_KEY)]
    rows: list[list[Cell]] = [[name] for name in result.names]
    for name in names:
        measure = MEASURES[name]
        columns.append(Column.of(name, measure))
        apart = [item.get(name) for item in found]
        texts = figures.column([None if item is None else item.estimate for item in apart], measure, "+")
        rows[0].append(base[name])
        for row, item, text in zip(rows[1:], apart, texts, strict=True):
            row.append(None if item is None else Said(item.estimate, text + ("" if item.told_apart else " ~")))
    return Table("changes", tuple(columns), rows, f"{result.names[0]}, and by what the others differ from it")


def differences_table(items: Sequence[Comparison] | Sequence[StoredComparison], caption: str = "") -> Table:
    """Every difference from the first scenario, those that are sure first (~: not sure), the largest first."""
    columns = (
        Column("scenario", "scenario", "words", shown_to="files"), Column("measure", "measure", "words"),
        Column("unit", "unit", "words", shown_to="files"), Column("base", "before"), Column("other", "after"),
        Column("difference", "difference", "interval"),
        Column("change", "change, %", measure=MEASURES["return_28d"], digits=1, sign="+"),
        Column("told_apart", "sure", shown_to="files"), Column("variance_ratio", "runs\nsaved", spare=2),
        Column("unit_shown", "unit", "words", spare=1, shown_to="people"),
    )  # fmt: skip
    rows = [_difference_row(item.name, difference) for item in items for difference in item.differences]
    return Table("differences", columns, rows, caption)


def _difference_row(scenario: str, item: Difference | StoredDifference) -> list[Cell]:
    measure, ratio = MEASURES[item.measure], item.variance_ratio
    scale = 100.0 if measure.is_share else 1.0
    places = _places(item, scale)
    mean, span = (
        f"{figures.number(scale * item.estimate.mean, places, '+')}",
        "-" if math.isnan(item.estimate.low)
        else f"{figures.number(scale * item.estimate.low, places, '+')} to "
        f"{figures.number(scale * item.estimate.high, places, '+')}",
    )  # fmt: skip
    saved = "-" if math.isnan(ratio) else "all" if math.isinf(ratio) else f"{ratio:.1f} x"
    return [
        scenario, Said(item.measure, item.measure + ("" if item.told_apart else " ~")), item.unit,
        Said(item.base, figures.number(scale * item.base, places)),
        Said(item.other, figures.number(scale * item.other, places)),
        Said(item.estimate, f"{mean} | {span}"), item.change, item.told_apart,
        Said(ratio, saved), "%" if measure.is_share else item.unit,
    ]  # fmt: skip


def _places(item: Difference | StoredDifference, scale: float) -> int:
    """Decimals that the interval deserves, and as many more as it takes to show that a sure one ends before zero."""
    low, high = scale * item.estimate.low, scale * item.estimate.high
    places = figures.decimals(scale * item.estimate.half_width, scale * item.estimate.mean)
    near = min(abs(low), abs(high))
    while item.told_apart and round(near, places) == 0.0 and places < _MOST_PLACES:
        places += 1
    return places


def compare_files(result: CompareResult) -> list[Table]:
    """Tables of a comparison's folder."""
    money = result.loaded.scenario.venue.money
    columns = (Column("scenario", "scenario", "words"), *(Column.of(name, item) for name, item in MEASURES.items()))
    rows: list[list[Cell]] = []
    for name, point in zip(result.names, result.points, strict=True):
        known = point.measures()
        rows.append([name, *(known.get(measure) for measure in MEASURES)])
    return [
        differences_table(result.comparisons),
        _long(Table("measures", columns, rows), "measures", MEASURES, money),
    ]


_RANKING = (
    Column("number", "number", "words", longest=_LONGEST_KEY), Column("from", "from", "words"),
    Column("value", "value", shown_to="files"), Column("low", "low", shown_to="files"),
    Column("high", "high", shown_to="files"), Column("range", "moved between", shown_to="people"),
    Column("unit", "unit", "words", shown_to="files"), Column("effect", "effect"),
    Column("half_width", "half", shown_to="files"), Column("mean_effect", "with sign"),
    Column("spread", "spread", shown_to="files"), Column("share_first", "share of\nvariance"),
    Column("share_total", "with\ninterplay"), Column("share_first_half_width", "", shown_to="files"),
    Column("share_total_half_width", "", shown_to="files"),
)  # fmt: skip


def ranking_of(numbers: Sequence[MovedNumber], measure: str) -> Table:
    """The numbers of a record by their effect on the measure, the greatest first, without the shares of variance."""
    rows = _ranking_rows([dict(item) | {"from": item.source} for item in numbers])
    caption = f"Numbers by what they change in {measure}, the greatest effect first"
    return Table("ranking", _RANKING, rows, caption).without("share_first", "share_total")


def ranking_table(result: SensitivityResult) -> Table:
    """The numbers by their effect on the measure, the greatest first."""
    rows = _ranking_rows(result.ranking.reset_index().to_dict("records"))
    caption = f"Numbers by what they change in {result.plan.measure}, the greatest effect first"
    table = Table("ranking", _RANKING, rows, caption)
    return table if result.shares is not None else table.without("share_first", "share_total")


def _ranking_rows(items: Sequence[Mapping[Any, Any]]) -> list[list[Cell]]:
    most = {key: max((item[key] for item in items), default=math.nan) for key in ("half_width", "effect")}
    places = figures.decimals(float(most["half_width"]), float(most["effect"]))
    found: list[list[Cell]] = []
    for item in items:
        row: list[Cell] = []
        for column in _RANKING:
            if column.key == "range":
                row.append(_range(item))
            elif column.key == "effect":
                row.append(Said(item["effect"], _with_half(item["effect"], item["half_width"], places)))
            elif column.key == "mean_effect":
                row.append(Said(item["mean_effect"], figures.number(item["mean_effect"], places, "+")))
            elif column.key in ("share_first", "share_total"):
                row.append(Said(item[column.key], _with_half(item[column.key], item[f"{column.key}_half_width"], 2)))
            else:
                row.append(item[column.key])
        found.append(row)
    return found


def _with_half(value: float, half: float, places: int) -> str:
    if math.isnan(half) or math.isnan(value):
        return figures.number(value, places)
    return f"{figures.number(value, places)} ± {half:.{places}f}"


def _range(item: Mapping[Any, Any]) -> str:
    if item["unit"] == "s":
        return f"{_duration(item['low'])} to {_duration(item['high'])}"
    return f"{item['low']:.4g} to {item['high']:.4g}"


def _duration(seconds: float) -> str:
    unit, size = next((name, size) for name, size in _SIZES if seconds >= 2 * size or size == 1.0)
    return f"{seconds / size:.3g} {unit}"


def sensitivity_files(result: SensitivityResult) -> list[Table]:
    """Tables of a sensitivity study's folder: the ranking, and the effects on every measure."""
    names = ("number", "from", "value", "low", "high", "unit", "effect", "half_width", "mean_effect", "spread")
    columns = (Column("measure", "measure", "words"), *(Column(name, name) for name in names))
    rows: list[list[Cell]] = [
        [measure, *(row[name] for name in names)]
        for measure in MEASURES
        for row in result.effects_on(measure).reset_index().to_dict("records")
    ]
    rankings = Table("ranking", _RANKING, _ranking_rows(result.ranking.reset_index().to_dict("records")))
    return [rankings, Table("effects", columns, rows)]
