"""Tables of a title's exact results, each declared once for terminal, notebook and files."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from venue.contest.incentives import Fault
from venue.contest.realised_rates import Rate
from venue.contest.results import Headline
from venue.contest.watch import Event
from venue.report import figures
from venue.report.heading import LONGEST_NAME
from venue.report.sentences.titles import move_name
from venue.report.tables import Cell, Column, Said, Table
from venue.scenario.title import Title
from venue.study.line_ups import LineUp
from venue.study.registry import TITLE_MEASURES
from venue.study.title import TitleResult
from venue.study.title_records import BestPlay
from venue.study.title_records import Fault as StoredFault

if TYPE_CHECKING:
    from venue.study.tune import Tuned

Band = tuple[int | None, int | None]

# What a title is shown by first, and what each rule is judged by.
FIRST = ("better_side_wins", "close_finishes", "lead_changes", "comebacks", "margin_sd")
_OF_RULES = (
    "side_a_wins", "better_side_wins", "skill_edge", "close_finishes", "lead_changes", "comebacks", "margin_sd",
    "assisted",
)  # fmt: skip
_OF_LINE_UPS = ("side_a_wins", "better_side_wins", "close_finishes", "comebacks")
_SHARE = TITLE_MEASURES["level"]


def unit(title: Title) -> str:
    """What margins are counted in."""
    return "lengths" if title.form == "race" else "points"


def _measures(names: Sequence[str]) -> tuple[Column, ...]:
    """Columns of exact figures, with two decimals."""
    return tuple(
        Column(name, TITLE_MEASURES[name].short + (", %" if TITLE_MEASURES[name].is_share else ""),
               measure=TITLE_MEASURES[name], digits=2)
        for name in names
    )  # fmt: skip


def _figures(item: Headline, names: Sequence[str]) -> list[Cell]:
    return [getattr(item, name) for name in names]


def headline_table(result: TitleResult) -> Table:
    """Every headline result, a row a strength."""
    columns = (Column("strength", "strength", "words"), *_measures(tuple(TITLE_MEASURES)))
    rows: list[list[Cell]] = [
        [Said(item.strength, f"{item.strength:g}"), *_figures(item, tuple(TITLE_MEASURES))] for item in result.headlines
    ]
    return Table("headline", columns, rows)


def owed_table(result: TitleResult) -> Table:
    """Points a contest owed to each rule, by strength and side."""
    columns = (Column("strength", "strength"), Column("rule", "rule", "words"),
               Column("side_a", "side A", digits=2), Column("side_b", "side B", digits=2))  # fmt: skip
    rows: list[list[Cell]] = [
        [item.strength, rule, *sides] for item in result.headlines for rule, sides in item.owed.items()
    ]
    return Table("owed", columns, rows)


def owed_by_strength(result: TitleResult) -> Table | None:
    """The same, both sides together, a column a strength; None where what one side gains the other loses."""
    rules = result.design.rules
    owed = {rule: [sum(item.owed[rule]) for item in result.headlines] for rule in rules}
    if all(abs(points) < 0.005 for row in owed.values() for points in row):
        return None
    columns = (
        Column("rule", "rule", "words", longest=LONGEST_NAME), Column("kind", "kind", "words"),
        *(Column(f"{item.strength:g}", f"{item.strength:g}", digits=2, sign="+") for item in result.headlines),
    )  # fmt: skip
    rows: list[list[Cell]] = [[rule, rules[rule].kind, *row] for rule, row in owed.items()]
    return Table("owed_by_strength", columns, rows)


def line_up_name(line_up: LineUp) -> str:
    """How many visitors sit on either side, and whether the computer does: `2 against 1 and computer`."""
    sides = zip(line_up.visitors, line_up.seats, strict=True)
    return " against ".join(
        "computer" if not visitors else f"{visitors}{' and computer' if visitors < room else ''}"
        for visitors, room in sides
    )


def line_ups_table(result: TitleResult) -> Table:
    """Every line-up that the floor makes, with its weight and results."""
    columns = (
        Column("line_up", "visitors on\neither side", "words"), Column("difficulty", "difficulty", "words", spare=1),
        Column("weight", "weight, %", measure=_SHARE, digits=1), *_measures(_OF_LINE_UPS),
    )  # fmt: skip
    rows: list[list[Cell]] = [
        [line_up_name(line_up), line_up.difficulty or "" if line_up.has_computer else "", line_up.weight,
         *_figures(item, _OF_LINE_UPS)]
        for line_up, item in zip(result.line_ups, result.by_line_up, strict=True)
    ]  # fmt: skip
    return Table("line_ups", columns, rows)


def rules_table(result: TitleResult) -> Table:
    """Each rule left out and alone, every switch off, and no rule at all."""
    title, apart = result.design, result.apart
    cases: list[tuple[str, str, str, Headline]] = [("whole", "", "all rules", apart.whole)]
    cases += [("without", rule, f"without {rule}", item) for rule, item in apart.without.items()]
    cases += [("alone", rule, f"{rule} alone", item) for rule, item in apart.alone.items()]
    cases += [("switched_off", "", "every switch off", apart.switched_off), ("bare", "", "no rule", apart.bare)]
    columns = (
        Column("rules", "rules", "words", shown_to="files"), Column("rule", "rule", "words", shown_to="files"),
        Column("name", "rules at work", "words", longest=LONGEST_NAME + 8, shown_to="people"),
        Column("switch", "switch", "words", longest=LONGEST_NAME, shown_to="people"), *_measures(_OF_RULES),
    )  # fmt: skip
    rows: list[list[Cell]] = [
        [rules, rule, name, (title.rules[rule].switch or "(none)") if rule else "", *_figures(item, _OF_RULES)]
        for rules, rule, name, item in cases
    ]
    return Table("rule_by_rule", columns, rows)


def rates_table(result: TitleResult) -> Table:
    """Coded against effective chances, a row a kind, side and margin band."""
    columns = (
        Column("attempt", "attempt", "words"), Column("side", "side", "words"), Column("behind_from", "behind from"),
        Column("behind_to", "behind to"), Column("written", "written"), Column("effective", "effective"),
        Column("ratio", "ratio"), Column("tried_a_contest", "tried a contest"),
    )  # fmt: skip
    rows: list[list[Cell]] = [
        [rate.attempt, "AB"[rate.side], rate.low, rate.high, rate.written, rate.effective, rate.ratio, rate.tried]
        for rate in result.rates
    ]
    return Table("coded_and_effective", columns, rows)


def effective_table(result: TitleResult) -> Table:
    """The same, a margin band a row, an attempt kind and side a column."""
    race = result.design.form == "race"
    found: dict[tuple[str, int], dict[Band, Rate]] = {}
    for rate in result.rates:
        found.setdefault((rate.attempt, rate.side), {})[rate.low, rate.high] = rate
    bands = sorted({band for row in found.values() for band in row}, key=_first)
    sides = ("visitor", "computer") if result.match_ups.side_b == "computer" else ("side A", "side B")
    columns = [Column("margin", f"margin ({unit(result.design)})", "words")]
    cells: list[list[str]] = []
    for attempt in dict.fromkeys(attempt for attempt, _ in found):
        known = [
            [_rate(found.get((attempt, side), {}).get(band), 3 if race else 2) for band in bands] for side in (0, 1)
        ]
        written = next(rate.written for rate in result.rates if rate.attempt == attempt)
        name = f"{attempt[:LONGEST_NAME]}\n" + ("even pace" if race else f"written {written:.0%}")
        if known[0] == known[1]:
            columns.append(Column(attempt, f"{name}\neach side"))
            cells.append(known[0])
        else:
            columns += [Column(f"{attempt} {sides[side]}", f"{name}\n{sides[side]}") for side in (0, 1)]
            cells += known
    rows: list[list[Cell]] = [[band_name(*band), *row] for band, *row in zip(bands, *cells, strict=True)]
    return Table("effective", tuple(columns), rows)


def _rate(rate: Rate | None, places: int) -> str:
    if rate is None:
        return "-"
    return f"{rate.effective:.1%}" + ("" if math.isnan(rate.ratio) else f"  ×{rate.ratio:.{places}f}")


def _first(band: Band) -> float:
    return -math.inf if band[0] is None else band[0]


def band_name(low: int | None, high: int | None) -> str:
    """A band of points behind in words."""
    if low is None and high is not None:
        return f"ahead {-high} or more"
    if high is None:
        return f"behind {low} or more"
    if low == high == 0:
        return "level"
    near, far = sorted((abs(low or 0), abs(high)))
    return f"{'behind' if high > 0 else 'ahead'} {near}" + (f" to {far}" if far > near else "")


def trailing_table(result: TitleResult) -> Table:
    """Where a player could profit from losing on purpose, the worst first."""
    return faults_table(result.trailing.faults, in_points=result.design.form == "first to")


def faults_table(faults: Sequence[Fault] | Sequence[StoredFault], *, in_points: bool) -> Table:
    """The same from the faults of a result or of a record.

    Parameters
    ----------
    in_points
        Whether what is left is counted in points, not in seconds.
    """
    columns = (
        Column("margin", "margin"), Column("left", "points left\nto win" if in_points else "time left"),
        Column("gain", "gained by a\npoint less, %", measure=_SHARE, digits=2),
        Column("blame", "rules to blame", "words"),
    )  # fmt: skip
    rows: list[list[Cell]] = []
    for fault in faults:
        left, blame = f"{fault.left}" if in_points else f"{fault.left} s", ", ".join(fault.blame)
        rows.append([Said(fault.margin, f"{fault.margin:+d}"), Said(fault.left, left), fault.gain,
                     Said(blame, blame or "several together")])  # fmt: skip
    return Table("trailing_pays", columns, rows)


def moves_table(result: TitleResult) -> Table:
    """What each move of side A gains by itself and all together, where, and the rules without which it is gone."""
    return gains_table(result.record.best_play, result.findings.best_play.play, result.record.moments.left_in)


def gains_table(best: BestPlay, play: str, left_in: str) -> Table:
    """The same from a record.

    Parameters
    ----------
    left_in
        Whether what is left is counted in seconds or in points.
    """
    columns = (
        Column("move", "move", "words"), Column("gain", "gained,\n%", measure=_SHARE, digits=2),
        Column("without_rules", "without\nrules, %", measure=_SHARE, digits=2, spare=2),
        Column("left", "most with\nso much left"), Column("margin", "at\nmargin"),
        Column("from", "nine tenths with\nso much left", "words", spare=1), Column("blame", "gone without", "words"),
    )  # fmt: skip
    mark = " s" if left_in == "seconds" else ""
    rows: list[list[Cell]] = []
    for item in (*best.alone, best.together):
        name = move_name(play, item.moves[0]) if len(item.moves) == 1 or item is not best.together else "all together"
        met = item.left is not None and item.margin is not None
        rows.append([
            name, item.gain, item.without_rules,
            Said(item.left, f"{item.left}{mark}") if met else None,
            Said(item.margin, f"{item.margin:+d}") if met else None,
            f"{item.earliest} to {item.latest}{mark}" if met else None, ", ".join(item.blame),
        ])  # fmt: skip
    return Table("best_play", columns, rows)


def title_files(result: TitleResult) -> list[Table]:
    """Tables of a title's folder."""
    margin = Table(
        "final_margin", (Column("strength", "strength"), Column("margin", "margin"), Column("chance", "chance")),
        [[item.strength, points, chance] for item in result.headlines for points, chance in item.margin.items()],
    )  # fmt: skip
    return [headline_table(result), line_ups_table(result), owed_table(result), margin, rules_table(result),
            rates_table(result), trailing_table(result), moves_table(result), _moments(result)]  # fmt: skip


def _moments(result: TitleResult) -> Table:
    """Chance to win and safety of a lead at every moment and margin."""
    moments = result.unfolded
    left, margins = np.meshgrid(moments.left, moments.margins, indexing="ij")
    names = (f"left_in_{'points' if moments.in_points else 'seconds'}", "margin", "side_a_wins", "lead_lasts")
    values = (left, margins, moments.win, moments.lasts)
    rows = list(map(list, zip(*(item.ravel().tolist() for item in values), strict=True)))
    return Table("moments", tuple(Column(name, name) for name in names), rows)


def tuned_table(tuned: Tuned) -> Table:
    """What the tuned number changes, result by result."""
    columns = (
        Column("result", "result", "words"), Column("was", f"was, at {tuned.before:.6g}"), Column("will_be", "will be"),
        Column("change", "change"),
    )  # fmt: skip
    rows: list[list[Cell]] = []
    for name in tuned.measures:
        measure = TITLE_MEASURES[name]
        scale, mark = (100.0, " %") if measure.is_share else (1.0, "")
        was, will = scale * getattr(tuned.was, name), scale * getattr(tuned.result, name)
        texts = [figures.number(value, 2, sign) + mark for value, sign in ((was, ""), (will, ""), (will - was, "+"))]
        rows.append([Said(name, measure.label), *texts])
    return Table("tuned", columns, rows)


def events_table(title: Title, events: Sequence[Event]) -> Table:
    """One contest, an event a line."""
    race, clock = title.form == "race", title.form != "first to"
    columns = (
        Column("period", "period", "words", spare=2 if clock else 0),
        *((Column("left", "left", "words"),) if clock else ()),
        Column("side", "side", "words"), Column("attempt", "attempt", "words", longest=LONGEST_NAME),
        Column("unaided", "unaided", spare=1), Column("chance", "with\nrules"), Column("outcome", "outcome", "words"),
        Column("score", "A's gap" if race else "A : B"), Column("rules", "rules that acted", "words"),
    )  # fmt: skip
    rows: list[list[Cell]] = [
        [
            str(event.period), *([_clock(event)] if clock else []), event.side, _attempt(event), f"{event.unaided:.1%}",
            f"{event.chance:.1%}", _outcome(event, race),
            f"{event.score[0]:+d}" if race else " : ".join(map(str, event.score)),
            ", ".join(f"{rule} {100 * part:+.1f} pp" for rule, part in event.rules),
        ]
        for event in events
    ]  # fmt: skip
    return Table("events", columns, rows, below="rules")


def _clock(event: Event) -> str:
    return "-" if event.left is None else f"{event.left // 60}:{event.left % 60:02d}"


def _attempt(event: Event) -> str:
    return event.attempt if event.player is None else f"{event.attempt}, {event.player}"


def _outcome(event: Event, race: bool) -> str:
    text = f"gains {event.points}" if race else f"scores {event.points}" if event.points else event.outcome
    return text + (" by the rules" if event.owed else "")
