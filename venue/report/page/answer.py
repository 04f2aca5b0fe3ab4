"""The first screen: the answer in at most 60 words, what it is worth, five key figures, and the chart that shows it."""

from __future__ import annotations

import math
from collections.abc import Sequence

from venue.report.columns import short
from venue.report.page.parts import Answer, Figure, Strong, Tile, Words, said
from venue.report.page.reading import SettingView, Study
from venue.report.quantities import half, percent, shown, span, written
from venue.report.sentences import changes, costs, intervals, numbers, runs, settling, sweeps, titles
from venue.report.sentences.parts import Sentence, capitalised, sentence_text
from venue.study.findings import Changed
from venue.study.floor_records import CompareRecord, MovedNumber, RunRecord, SensitivityRecord, SweepRecord
from venue.study.intervals import Estimate
from venue.study.registry import FAIR, MEASURES, TAKE, TITLE_MEASURES
from venue.study.title_records import ContestRecord
from venue.study.title_rules import does_most

_PROFIT, _GROSS = "profit_per_week", "take_per_week"
_MONEY = (_PROFIT, _GROSS, TAKE)
_NAME, _LABEL, _CURRENCY = 32, 40, 16
_MOST_TILES = 5
_MOST_WORDS = 60
# In the order of what is asked first; five of those that results tell are shown.
_KEY = (TAKE, _PROFIT, _GROSS, FAIR, "return_28d", "empty_wallets", "close_finishes", "visits_per_hour",
        "plays_per_visit")  # fmt: skip
_KEY_OF_TITLE = ("better_side_wins", "skill_edge", "close_finishes", "comebacks", "lead_changes")


def answer_of(study: Study) -> Answer:
    """The answer of a record."""
    data = study.record.data
    if isinstance(data, SweepRecord):
        return _sweep(study)
    if isinstance(data, CompareRecord):
        return _compare(study, data)
    if isinstance(data, ContestRecord):
        return _contest(data)
    return _sensitivity(data) if isinstance(data, SensitivityRecord) else _run(study, data)


def figure_of(item: Estimate, unit: str = "", sign: str = "") -> Figure:
    """A mean with the number that it stands for."""
    return Figure(shown(item, unit, sign), item.mean)


def _said(lead: Sequence[Sentence]) -> list[Words]:
    """Sentences as the page has them, the first one standing out."""
    lines = [said(capitalised(item)) for item in lead if item]
    return [[Strong(lines[0])], *lines[1:]] if lines else []


def _sweep(study: Study) -> Answer:
    chart = (
        "credits-per-hour" if len(study.keys) == 1 else "map-credits-per-hour" if len(study.keys) == 2 else "trade-off"
    )
    view = study.view
    if view is None or study.best is None:
        lead = [] if view is None else [sweeps.recommended(view), *sweeps.requirements(view)]
        return Answer(_said(lead), None, f"At {study.first_shown.name}", _tiles(study, study.first_shown), chart)
    best = study.settings[study.best]
    lead = [sweeps.recommended(view), sweeps.against_today(view), sweeps.fairer(view), _moving(study, best)]
    at = study.today if study.today is not None and study.today in study.tied else best
    stake = view.findings.stake
    tile = None
    if stake is not None:
        sign = "+" if stake.kind == "move" else ""
        item = stake.difference.estimate
        figure = _at_stake(item, stake.measure, study.unit(stake.measure), sign)
        tile = Tile(sentence_text(costs.stake(view)), figure, intervals.of_mean(item, "", sign))
    return Answer(_said(lead), tile, _figures_of(study, at), _tiles(study, at), chart)


def _moving(study: Study, item: SettingView) -> Sentence:
    warning = settling.not_settled(study.settled(item))
    return (*warning, " Run longer before you trust this.") if warning else ()


def _figures_of(study: Study, at: SettingView) -> str:
    return f"At {short(at.name, 2 * _NAME)}" + (", as today" if at is study.today else "")


def _at_stake(item: Estimate, measure: str, unit: str, sign: str) -> Figure:
    """A difference in money a week, or in credits, with what it is of."""
    what = {_PROFIT: "profit", _GROSS: "take"}.get(measure)
    words = f"{short(unit.partition(' ')[0], _CURRENCY)} {what} a week" if what else unit
    return Figure(f"{shown(item, '', sign)} {words}", item.mean)


def _tiles(study: Study, item: SettingView) -> list[Tile]:
    """Five key figures of a setting."""
    names = [name for name in _KEY if name in item.measures]
    if _PROFIT in names and _GROSS in names:
        names.remove(_GROSS)
    tiles = []
    for name in names[:_MOST_TILES]:
        unit, level = study.unit(name), item.measures[name]
        money = f" ({study.unit(name).partition(' ')[0]})" if name in (_PROFIT, _GROSS) else ""
        label = short(f"{MEASURES[name].label}{money}", _LABEL)
        tiles.append(Tile(label, figure_of(level, unit), span(level, unit), name))
    return tiles


def _run(study: Study, data: RunRecord) -> Answer:
    item = study.settings[0]
    money, name = study.record.loaded.scenario.venue.money, study.record.venue_name
    moving = _moving(study, item)
    lead = [
        runs.earns(short(name, _NAME), data.strength, item.measures, short(money, _CURRENCY)),
        runs.fair_and_back(item.measures),
        moving,
    ]
    measure = next((name for name in (_PROFIT, _GROSS) if name in item.measures), None)
    stake = None
    if measure is not None:
        level, word = item.measures[measure], "Profit" if measure == _PROFIT else "Take"
        figure = Figure(f"{shown(level)} {short(study.unit(measure).partition(' ')[0], _CURRENCY)}", level.mean)
        stake = Tile(f"{word} a week", figure, intervals.of_mean(level))
    return Answer(_said(lead), stake, _figures_of(study, item), _tiles(study, item), "weeks" if moving else "by-hour")


def _compare(study: Study, data: CompareRecord) -> Answer:
    base = short(data.scenarios[0].name, _NAME)
    lines = [changes.change(change, base, rows) for change, rows in changes.of_record(data)]
    moving, shown_lines = changes.not_settled(data), lines
    # The first ones, as many as 60 words hold.
    while len(shown_lines) > 1 and _words(shown_lines, moving) > _MOST_WORDS:
        shown_lines = shown_lines[:-1]
    rest = len(lines) - len(shown_lines)
    more: Sentence = (f"{rest} more below.",) if rest else ()
    lead = _said([*shown_lines, more, moving])
    return Answer(lead, *_changed(data, data.findings.changes[0], base))


def _words(lines: Sequence[Sentence], moving: Sentence) -> int:
    """How many words these take, with a note on those that are left out."""
    return len(sentence_text(*lines, moving).split()) + len(["3", "more", "below."])


def _changed(data: CompareRecord, change: Changed, base: str) -> tuple[Tile | None, str, list[Tile], str]:
    """What the first change is worth, and its key figures."""
    rows, name = {row.measure: row for row in data.comparisons[0].differences}, short(change.name, _NAME)
    stake = next((rows[measure] for measure in _MONEY if measure in rows), None)
    tile = None
    if stake is not None:
        item = stake.estimate
        sure = "" if stake.told_apart else f"{changes.MAY_BE_CHANCE}; "
        figure = _at_stake(item, stake.measure, stake.unit, "+")
        tile = Tile(f"{name} against {base}", figure, f"{sure}{intervals.of_mean(item, '', '+')}")
    tiles: list[Tile] = []
    for row in [rows[measure] for measure in _KEY if measure in rows and measure != _GROSS][:_MOST_TILES]:
        item, share = row.estimate, MEASURES[row.measure].is_share
        text = f"{written(100 * item.mean, 1, '+')} in 100" if share else shown(item, "", "+")
        note = "" if row.told_apart else changes.THE_SAME if row.low == row.high == 0.0 else changes.MAY_BE_CHANCE
        tiles.append(Tile(MEASURES[row.measure].label, Figure(text, item.mean), note))
    chart = "differences" if len(data.comparisons) == 1 else "differences-1"
    return tile, f"What {name} changes", tiles, chart


def _contest(data: ContestRecord) -> Answer:
    whole, bare, strength = data.apart.whole, data.apart.bare, data.apart.strength
    lead: list[Sentence] = [titles.better_side(data.apart)]
    most = does_most(data.apart)
    if most is not None:
        lead.append((f"{titles.does_most(*most)}.",))
        lead.append(titles.trailing(data.findings))
    cost = 100 * (whole["better_side_wins"] - bare["better_side_wins"])
    stake = Tile("What the rules change for the better side",
                 Figure(f"{written(cost, 1, '+')} wins in a hundred", cost),
                 "exact: computed, not simulated")  # fmt: skip
    tiles = [
        Tile(TITLE_MEASURES[name].label, Figure(_plain(name, whole[name]), whole[name]),
             "" if math.isnan(bare.get(name, math.nan)) else f"without rules {_plain(name, bare[name])}", name)
        for name in _KEY_OF_TITLE if not math.isnan(whole.get(name, math.nan))
    ]  # fmt: skip
    return Answer(_said(lead), stake, f"At strength {strength:g}", tiles, "fairness" if most is None else "rules")


def _plain(name: str, value: float) -> str:
    return f"{value:.2f}" if name == "lead_changes" else percent(value)


def _sensitivity(data: SensitivityRecord) -> Answer:
    rows = [row for row in data.numbers if not math.isnan(row.effect)]
    measure = MEASURES[data.measure].label
    lead = _said(numbers.depends(data.findings, measure, {row.number: row.source for row in rows}))
    if not rows:
        return Answer(lead, None, "Numbers", [], None)
    item = _effect(rows[0])
    stake = Tile("Over the range in which it may lie", Figure(f"{half(item)} {data.unit}", item.mean),
                 intervals.of_mean(item))  # fmt: skip
    tiles = [Tile(short(row.number, _LABEL), Figure(half(_effect(row)), row.effect), row.source)
             for row in rows[:_MOST_TILES]]  # fmt: skip
    return Answer(lead, stake, f"What changes {measure} most", tiles, "ranking")


def _effect(row: MovedNumber) -> Estimate:
    if math.isnan(row.half_width):
        return Estimate(row.effect, math.nan, math.nan, 1)
    return Estimate(row.effect, row.effect - row.half_width, row.effect + row.half_width, 2)
