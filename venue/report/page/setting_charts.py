"""Charts over the settings of a sweep: take, machines, retention, fairness, why people left, those who may be hurt."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from venue.report.columns import short
from venue.report.drawing import COLOURS
from venue.report.page.course import along, course, stations
from venue.report.page.figures import both, half, percent
from venue.report.page.picture import Chart
from venue.report.page.reading import FAIR, TAKE, SettingView, Study
from venue.report.page.scatter import scatter
from venue.report.page.strokes import LABEL, Line, over_settings
from venue.study.intervals import Estimate

RETURN = "return_28d"
EMPTY = "empty_wallets"
_MOST_REASONS = 6
_LEAST_SHARE = 0.01


def _line(study: Study, label: str, measure: str) -> Line:
    return Line(label, [item.measures.get(measure) for item in study.settings])


def _ends(study: Study, measure: str) -> tuple[SettingView, SettingView] | None:
    """The first and the last setting that could tell a measure."""
    known = [item for item in study.settings if measure in item.measures]
    return (known[0], known[-1]) if len(known) > 1 else None


def take_chart(study: Study) -> Chart | None:
    """Credits per open hour over the settings."""
    known = [item for item in study.settings if TAKE in item.measures]
    if len(known) < 2:
        return None
    return over_settings(study, "take", _take_finding(study, known), [_line(study, "venue", TAKE)],
                         "credits per open hour", study.unit(TAKE))  # fmt: skip


def _take_finding(study: Study, known: Sequence[SettingView]) -> str:
    best = max(known, key=lambda item: item.measures[TAKE].mean)
    least = min(known, key=lambda item: item.measures[TAKE].mean)
    top, bottom = both(best.measures[TAKE], least.measures[TAKE])
    figures = f"{top} credits per open hour at {best.name}, {bottom} at {least.label}"
    if study.surely(TAKE, best, least):
        return f"The take depends on the {study.word}: {figures}"
    return f"No {study.word} surely earns more than another: {figures}"


def machines_chart(study: Study) -> Chart | None:
    """Credits per open hour of one machine of each row, over the settings."""
    keys = list(study.settings[0].machines)
    names = study.record.loaded.scenario.machines
    lines = [
        Line(names[key].label or key if key in names else key,
             [item.machines.get(key, {}).get(TAKE) for item in study.settings])
        for key in keys
    ]  # fmt: skip
    lines = [line for line in lines if any(item is not None for item in line.values)]
    if len(study.settings) < 2 or not lines or len(study.keys) > 1:
        return None
    lines = sorted(lines, key=lambda line: -_foremost(study, line))[: len(COLOURS)]
    top = lines[0]
    finding = f"Of all machines one of {short(top.label, LABEL)} earns most"
    told = [(item, found) for item in stations(study, study.settings) if (found := top.values[item.place]) is not None]
    if len(told) > 1:
        finding += f": credits per open hour {along(told)}"
    return over_settings(study, "machines", finding, lines, "credits per hour and machine", "")


def _foremost(study: Study, line: Line) -> float:
    """What a line comes to at the setting that is shown first, or at its highest."""
    shown = line.values[study.first_shown.place]
    return max(item.mean for item in line.values if item) if shown is None else shown.mean


def money_chart(study: Study) -> Chart | None:
    """Take in money a week, the operator's part of it, and what upkeep and floor cost leave."""
    names = {"take_per_week": "take", "operator_share_per_week": "operator's share", "profit_per_week": "profit"}
    lines = [_line(study, label, name) for name, label in names.items() if _ends(study, name)]
    if not lines or len(study.keys) > 1:
        return None
    told = next(name for name in reversed(names) if _ends(study, name))
    finding = f"{course(study, told, _MONEY[told])} ({study.unit(told)})"
    return over_settings(study, "money", finding, lines, study.unit(told), "")


_MONEY = {
    "take_per_week": "The take a week",
    "operator_share_per_week": "The operator's share a week",
    "profit_per_week": "What is left to the operator a week, after upkeep and floor cost,",
}


def retention_chart(study: Study) -> Chart | None:
    """Share of visits followed by another within 28 days."""
    if _ends(study, RETURN) is None:
        return None
    floor = study.record.loaded.scenario.study.keep_return_28d
    return over_settings(
        study, "retention", course(study, RETURN, "Return within 28 days"), [_line(study, "return", RETURN)],
        "return within 28 days (visits)", "share", floor=(floor, f"floor {percent(floor, 0)}"),
    )  # fmt: skip


def fairness_chart(study: Study) -> Chart | None:
    """Better side wins, skill edge kept, close finishes."""
    names = {FAIR: "better side wins", "skill_edge": "skill edge kept", "close_finishes": "close finishes"}
    lines = [_line(study, label, name) for name, label in names.items() if _ends(study, name)]
    if not lines or len(study.keys) > 1:
        return None
    floor = study.record.loaded.scenario.study.keep_better_side_wins
    finding = course(study, FAIR, "The better side's share of wins")
    close = [(item, item.measures["close_finishes"]) for item in stations(study, _known(study, "close_finishes"))]
    if len(close) > 1:
        finding += f"; close finishes: {along(close, 'share')}"
    return over_settings(study, "fairness", finding, lines, "share of contests (or of the edge)", "share",
                         floor=(floor, f"floor {percent(floor, 0)}"))  # fmt: skip


def leaving_chart(study: Study) -> Chart | None:
    """Why people left, a line a reason."""
    if len(study.settings) < 2 or len(study.keys) > 1:
        return None
    reasons = list(dict.fromkeys(reason for item in study.settings for reason in item.left))
    most = {reason: max(item.left.get(reason, 0.0) for item in study.settings) for reason in reasons}
    ordered = [reason for reason in sorted(reasons, key=lambda reason: -most[reason]) if most[reason] >= _LEAST_SHARE]
    if not ordered:
        return None
    lines = [Line(reason, [_alone(item.left.get(reason, 0.0)) for item in study.settings])
             for reason in ordered[:_MOST_REASONS]]  # fmt: skip
    at, told = study.first_shown, stations(study, study.settings)
    here = max(reasons, key=lambda reason: at.left.get(reason, 0.0))
    moved = max(reasons, key=lambda reason: np.ptp([item.left.get(reason, 0.0) for item in study.settings]))
    figures = along([(item, _alone(item.left.get(moved, 0.0))) for item in told], "share")
    finding = (
        f'At {at.name} the commonest reason to leave is "{here}", {percent(at.left.get(here, 0.0))} of visits; over '
        f'the {study.word}s what changes most is "{moved}": {figures}'
    )
    chart = over_settings(study, "why-people-left", finding, lines, "share of visits", "share")
    return replace(chart, note="Execution over replications; their intervals were not computed.")


def _alone(value: float) -> Estimate:
    return Estimate(value, math.nan, math.nan, 1)


def protection_chart(study: Study) -> Chart | None:
    """Empty wallets and the largest spenders' share of the take."""
    names = {
        "empty_wallets": "empty wallets, of visits",
        "spend_top_tenth": "from the top tenth, of the take",
        "limit_reached": "limit reached",
    }
    lines = [_line(study, label, name) for name, label in names.items() if study.ever(name) and _ends(study, name)]
    if not lines or len(study.keys) > 1:
        return None
    finding = course(study, "empty_wallets", "The share of visits that end with an empty wallet")
    return over_settings(study, "protection", finding, lines, "share (of visits; of the take)", "share")


def trade_off_chart(study: Study) -> Chart | None:
    """Fairness across, take up, a labelled point a setting."""
    known = _known(study, FAIR, TAKE)
    if len(known) < 2:
        return None
    floor = study.record.loaded.scenario.study.keep_better_side_wins
    figure = scatter(study, known, FAIR, "contests won by the better side", floor)
    wins = course(study, FAIR, "The better side's wins", plural=True)
    finding = f"{wins}; {course(study, TAKE, 'the take')}"
    return Chart(
        "trade-off",
        finding,
        figure,
        _points_alt(study, known, FAIR, "won by the better side"),
        f"Up earns more, right is fairer. {_CROSSES}",
    )


def hurt_chart(study: Study) -> Chart | None:
    """Empty wallets across, take up: what the take stands beside."""
    known = _known(study, EMPTY, TAKE)
    if len(known) < 2:
        return None
    wallets = course(study, EMPTY, "Visits that end with an empty wallet", plural=True)
    finding = f"{wallets}; {course(study, TAKE, 'the take')}"
    figure = scatter(study, known, EMPTY, "visits that end with an empty wallet")
    return Chart(
        "take-and-wallets",
        finding,
        figure,
        _points_alt(study, known, EMPTY, "of visits end with an empty wallet"),
        f"Up earns more, right leaves more wallets empty. {_CROSSES}",
    )


_CROSSES = "Diamond: the recommended one. Bars: 95 % intervals of the difference from it, on the same visitors."


def _known(study: Study, *measures: str) -> list[SettingView]:
    return [item for item in study.settings if all(measure in item.measures for measure in measures)]


def _points_alt(study: Study, known: Sequence[SettingView], measure: str, words: str) -> str:
    points = [
        f"{item.label}{' (recommended)' if item.place == study.best else ''}: "
        f"{half(item.measures[measure], study.unit(measure))} "
        f"{words}, {half(item.measures[TAKE])} credits per open hour"
        for item in known[:12]
    ]
    return f"Scatter of the take, one point for each {study.word}. " + "; ".join(points) + "."
