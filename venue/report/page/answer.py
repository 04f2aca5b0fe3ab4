"""The first screen: the answer in at most 60 words, what it is worth, five key figures, and the chart that shows it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from venue.report.charts.frame import capital
from venue.report.charts.title import greatest_rules, rule_changes
from venue.report.columns import short
from venue.report.page.parts import Answer, Figure, Name, Part, Strong, Tile, Words, said
from venue.report.page.reading import SettingView, Study
from venue.report.quantities import half, percent, shown, span, written
from venue.report.sentences import changes, settling, sweeps, titles
from venue.report.sentences.parts import Sentence, capitalised
from venue.study.findings import ContestFindings
from venue.study.intervals import Estimate
from venue.study.registry import FAIR, MEASURES, TAKE, TITLE_MEASURES

_PROFIT, _GROSS, _RETURN, _EMPTY = "profit_per_week", "take_per_week", "return_28d", "empty_wallets"
_NAME = 32
_MOST_NAMED = 4
_MOST_TILES = 5
# In the order of what is asked first; five of those that results tell are shown.
_KEY = (TAKE, _PROFIT, _GROSS, FAIR, _RETURN, _EMPTY, "close_finishes", "visits_per_hour", "plays_per_visit")
_KEY_OF_TITLE = ("better_side_wins", "skill_edge", "close_finishes", "comebacks", "lead_changes")


def answer_of(study: Study) -> Answer:
    """The answer of a record."""
    by_kind = {"sweep": _sweep, "run": _run, "compare": _compare, "contest": _contest, "sensitivity": _sensitivity}
    return by_kind[study.record.kind](study)


def figure_of(item: Estimate, unit: str = "", sign: str = "") -> Figure:
    """A mean with the number that it stands for."""
    return Figure(shown(item, unit, sign), item.mean)


def setting_name(study: Study, item: SettingView, *, label_only: bool = False) -> Part:
    """A setting in a sentence: `catch-up strength 0.75`, or its keys and values."""
    if study.keys == ("strength",):
        return item.label if label_only else f"catch-up strength {item.label}"
    return Name(short(item.label if label_only else item.name, 2 * _NAME))


def listed(items: Sequence[Part], last: str = "and") -> list[Part]:
    """Things in a sentence: a, b and c."""
    parts: list[Part] = []
    for place, item in enumerate(items):
        if place:
            parts.append(f" {last} " if place == len(items) - 1 else ", ")
        parts.append(item)
    return parts


def _sweep(study: Study) -> Answer:
    chart = (
        "credits-per-hour" if len(study.keys) == 1 else "map-credits-per-hour" if len(study.keys) == 2 else "trade-off"
    )
    view = study.view
    if view is None or study.best is None:
        lead = [] if view is None else [sweeps.recommended(view), *sweeps.requirements(view)]
        return Answer(_said(lead), None, f"At {study.first_shown.name}", _tiles(study, study.first_shown), chart)
    best = study.settings[study.best]
    said = [sweeps.recommended(view), sweeps.against_today(view), sweeps.fairer(view), _moving(study, best)]
    at = study.today if study.today in study.tied else best
    return Answer(_said(said), _sweep_stake(study, best), _figures_of(study, at), _tiles(study, at), chart)


def _said(lead: Sequence[Sentence]) -> list[Words]:
    """Sentences as the page has them, the first one standing out."""
    told = [said(capitalised(item)) for item in lead if item]
    return [[Strong(told[0])], *told[1:]] if told else []


def _moving(study: Study, item: SettingView) -> Sentence:
    warning = settling.not_settled(study.settled(item))
    return (*warning, " Run longer before you trust this.") if warning else ()


def _figures_of(study: Study, at: SettingView | None) -> str:
    name = study.first_shown.name if at is None else at.name
    return f"At {short(name, _NAME)}" + (", as today" if at is not None and at is study.today else "")


def _sweep_stake(study: Study, best: SettingView) -> Tile | None:
    """What moving from today's setting brings; where today's will do, what the worst of those tried would lose."""
    measure = _money(study, best)
    if measure is None or len(study.settings) < 2:
        return None
    today = study.today
    if today is not None and today not in study.tied and measure in today.against:
        gain = today.against[measure].turned
        return _change_tile(study, f"Worth, from today's {today.label} to {short(best.label, _NAME)}", gain, measure)
    known = [item for item in study.settings if measure in item.against and item not in study.tied]
    if known:
        worst = min(known, key=lambda item: item.against[measure].mean)
        label = f"{capital(short(worst.name, _NAME))}, the worst tried, would bring"
        return _change_tile(study, label, worst.against[measure], measure)
    rivals = [item for item in study.rivals if measure in item.against and not math.isnan(item.against[measure].low)]
    if not rivals:
        return None
    worst = min(rivals, key=lambda item: item.against[measure].mean)
    return _change_tile(study, f"At most, among those that will do: {short(worst.name, _NAME)} would bring",
                        worst.against[measure], measure)  # fmt: skip


def _money(study: Study, item: SettingView) -> str | None:
    """The measure in which a choice is counted: money where it is known."""
    told = [name for name in (_PROFIT, _GROSS, TAKE) if name in item.measures]
    moved = {name for other in study.settings for name, item in other.against.items() if item.mean}
    return next((name for name in told if name in moved), next(iter(told), None))


def _change_tile(study: Study, label: str, item: Estimate, measure: str) -> Tile:
    money, what = study.unit(measure).partition(" ")[0], {_PROFIT: "profit", _GROSS: "take"}.get(measure)
    words = f"{short(money, 16)} {what} a week" if what else study.unit(measure)
    figure = Figure(f"{shown(item, '', '+')} {words}", item.mean)
    return Tile(label, figure, _interval(item, "", "+"))


def _interval(item: Estimate, unit: str, sign: str = "") -> str:
    between = span(item, unit, sign)
    if between:
        return f"95 % interval (likely true range): {between}"
    return "no interval: one replication" if math.isnan(item.low) else "the same in every replication"


def _tiles(study: Study, item: SettingView | None) -> list[Tile]:
    """Five key figures of a setting."""
    found = item or study.first_shown
    names = [name for name in _KEY if name in found.measures]
    if _PROFIT in names and _GROSS in names:
        names.remove(_GROSS)
    tiles = []
    for name in names[:_MOST_TILES]:
        unit, level = study.unit(name), found.measures[name]
        money = f" ({study.unit(name).partition(' ')[0]})" if name in (_PROFIT, _GROSS) else ""
        tiles.append(Tile(short(f"{MEASURES[name].label}{money}", 40), figure_of(level, unit), span(level, unit), name))
    return tiles


def _run(study: Study) -> Answer:
    item = study.settings[0]
    take, fair, back = (item.measures.get(name) for name in (TAKE, FAIR, _RETURN))
    lead: list[Words] = []
    if take is not None:
        lead.append([Strong([figure_of(take), " credits per open hour"]),
                     f" is what the venue takes at catch-up strength {item.label}."])  # fmt: skip
    clauses: list[Words] = []
    if fair is not None:
        clauses.append(["the better side wins ", figure_of(fair, "share"), " of contests"])
    if back is not None:
        clauses.append([figure_of(back, "share"), " of visits are followed by another within 28 days"])
    if clauses:
        lead.append(_sentence(clauses))
    if moving := _moving(study, item):
        lead.append(said(moving))
    measure = _money(study, item)
    stake = None
    if measure not in (None, TAKE):
        level, word = item.measures[measure], "Profit" if measure == _PROFIT else "Take"
        money = short(study.unit(measure).partition(" ")[0], 16)
        stake = Tile(f"{word} a week", Figure(f"{shown(level)} {money}", level.mean), _interval(level, ""))
    chart = "weeks" if lead[-1] else "by-hour"
    return Answer([words for words in lead if words], stake, _figures_of(study, item), _tiles(study, item), chart)


def _sentence(clauses: Sequence[Words]) -> Words:
    """Clauses joined to one sentence."""
    parts: list[Part] = []
    for place, clause in enumerate(clauses):
        parts += [", and " if place else "", *clause]
    first = parts[1]
    if isinstance(first, str):
        parts[1] = first[:1].upper() + first[1:]
    return [*parts, "."]


def changed(row: Mapping[str, Any]) -> Estimate:
    """A difference of a comparison with its interval."""
    low, high = (math.nan if row[key] is None else float(row[key]) for key in ("low", "high"))
    return Estimate(float(row["difference"]), low, high, 2)


def _compare(study: Study) -> Answer:
    result = study.record.result
    base = short(str(result["scenarios"][0]["name"]), _NAME)
    found = changes.of_record(study.record.data)
    lead: list[Words] = []
    for change, changed_rows in found[:2]:
        lead.append([Strong(said(changes.change(change, base, changed_rows)))])
        if warning := settling.not_settled(change.settled):
            lead.append(said(warning))
    rest = len(result["comparisons"]) - 2
    if rest > 0:
        lead.append([f"{rest} more below."])
    first = result["comparisons"][0]
    rows = {row["measure"]: row for row in first["differences"]}
    stake = next((rows[name] for name in (_PROFIT, _GROSS, TAKE) if name in rows), None)
    tile = None
    if stake is not None:
        name = short(str(first["name"]), _NAME)
        item = changed(stake)
        sure = "" if stake["told_apart"] else "may be chance; "
        tile = Tile(f"{name} against {base}", Figure(f"{shown(item, '', '+')} {stake['unit']}", item.mean),
                    f"{sure}{_interval(item, '', '+')}")  # fmt: skip
    tiles: list[Tile] = []
    for name in _KEY:
        row = rows.get(name)
        if row is not None and name != _GROSS and len(tiles) < _MOST_TILES:
            item, share = changed(row), row["unit"] in ("share", "ratio")
            text = f"{written(100 * item.mean, 1, '+')} in 100" if share else shown(item, "", "+")
            tiles.append(
                Tile(MEASURES[name].label, Figure(text, item.mean), "" if row["told_apart"] else "may be chance")
            )
    chart = "differences" if len(result["comparisons"]) == 1 else "differences-1"
    return Answer(lead, tile, f"What {short(str(first['name']), _NAME)} changes", tiles, chart)


def _contest(study: Study) -> Answer:
    result = study.record.result
    apart = result["apart"]
    whole, bare, strength = apart["whole"], apart["bare"], apart["strength"]
    lead: list[Words] = [[
        Strong([f"At strength {strength:g} the better side wins ", _share(whole["better_side_wins"]), " of contests"]),
        ", without rules ", _share(bare["better_side_wins"]), ".",
    ]]  # fmt: skip
    if apart["alone"]:
        rule = greatest_rules(apart, 1)[0]
        alone = rule_changes(apart, rule)
        measure = max(alone, key=lambda name: abs(alone[name][0]))
        word = "close finishes" if measure == "close_finishes" else "the better side's wins"
        lead.append([Name(short(rule, _NAME)), f" does most: alone it moves {word} by "
                     f"{written(alone[measure][0], 1, '+')} in a hundred."])  # fmt: skip
        if isinstance(study.record.data.findings, ContestFindings):
            lead.append(said(titles.trailing(study.record.data.findings)))
    cost = 100 * (whole["better_side_wins"] - bare["better_side_wins"])
    stake = Tile("What the rules change for the better side",
                 Figure(f"{written(cost, 1, '+')} wins in a hundred", cost),
                 "exact: computed, not simulated")  # fmt: skip
    tiles = [
        Tile(TITLE_MEASURES[name].label, Figure(_plain(name, whole[name]), whole[name]),
             "" if bare.get(name) is None else f"without rules {_plain(name, bare[name])}", name)
        for name in _KEY_OF_TITLE if whole.get(name) is not None
    ]  # fmt: skip
    return Answer(lead, stake, f"At strength {strength:g}", tiles, "rules" if apart["alone"] else "fairness")


def _share(value: float) -> Figure:
    return Figure(percent(value), value)


def _plain(name: str, value: float) -> str:
    return f"{value:.2f}" if name == "lead_changes" else percent(value)


def _sensitivity(study: Study) -> Answer:
    result = study.record.result
    rows = [row for row in result["numbers"] if row.get("effect") is not None]
    measure = MEASURES[result["measure"]].label
    if not rows:
        return Answer([[f"No number that was moved changes {measure}."]], None, "Numbers", [], None)
    first = rows[0]
    name = Name(short(str(first["number"]), 2 * _NAME))
    lead: list[Words] = [[Strong([f"{capital(measure)} depends most on ", name, "."])]]
    known = first["from"] in ("measured", "fitted")
    lead.append([f"Its value is {first['from']}" + (", so that the answer stands on known ground." if known
                                             else ": measure it before you trust the answer.")])  # fmt: skip
    item = _effect(first)
    stake = Tile("Over the range in which it may lie", Figure(f"{half(item)} {result['unit']}", item.mean),
                 _interval(item, ""))  # fmt: skip
    tiles = [Tile(short(str(row["number"]), 40), Figure(half(_effect(row)), float(row["effect"])), str(row["from"]))
             for row in rows[:_MOST_TILES]]  # fmt: skip
    return Answer(lead, stake, f"What changes {measure} most", tiles, "ranking")


def _effect(row: Mapping[str, Any]) -> Estimate:
    width = row.get("half_width")
    mean = float(row["effect"])
    return Estimate(mean, math.nan, math.nan, 1) if width is None else Estimate(mean, mean - width, mean + width, 2)
