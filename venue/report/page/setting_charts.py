"""Charts over the settings of a sweep: take, machines, retention, fairness, why people left, those who may be hurt."""

from __future__ import annotations

import math
from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from venue.report.columns import short
from venue.report.drawing import COLOURS, GREY, INK, keep_apart
from venue.report.page.figures import both, half, percent
from venue.report.page.picture import Chart, only_at
from venue.report.page.reading import Shown, Study
from venue.report.page.strokes import LABEL, Line, blank, over_settings, percents
from venue.study.intervals import Estimate

TAKE, FAIR, RETURN = "credits_per_hour", "better_side_wins", "return_28d"
EMPTY = "empty_wallets"
_MOST_REASONS = 6
_MOST_LABELS = 30
_LEAST_SHARE = 0.01


def _line(study: Study, label: str, measure: str) -> Line:
    return Line(label, [item.measures.get(measure) for item in study.settings])


def _ends(study: Study, measure: str) -> tuple[Shown, Shown] | None:
    """The first and the last setting that could tell a measure."""
    known = [item for item in study.settings if measure in item.measures]
    return (known[0], known[-1]) if len(known) > 1 else None


def _course(study: Study, measure: str, what: str) -> str:
    """How a measure goes from the first setting to the last, and whether that is sure."""
    ends = _ends(study, measure)
    if ends is None:
        return what
    first, last = ends
    unit = study.unit(measure)
    one, other = (item.measures[measure] for item in ends)
    before, after = both(one, other, unit)
    figures = f"{before} at {first.name}, {after} at {last.label}"
    if not study.surely(measure, first, last):
        return f"{what} does not surely change: {figures}"
    return f"{what} {'rises' if other.mean > one.mean else 'falls'}: {figures}"


def take_chart(study: Study) -> Chart | None:
    """Credits per open hour over the settings."""
    known = [item for item in study.settings if TAKE in item.measures]
    if len(known) < 2:
        return None
    return over_settings(study, "take", _take_finding(study, known), [_line(study, "venue", TAKE)],
                         "credits per open hour", study.unit(TAKE))  # fmt: skip


def _take_finding(study: Study, known: Sequence[Shown]) -> str:
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
    lines = sorted(lines, key=lambda line: -max(item.mean for item in line.values if item))[: len(COLOURS)]
    top = lines[0]
    first, last = top.values[0], top.values[-1]
    finding = f"{short(top.label, LABEL)} earns most by the machine"
    if first is not None and last is not None:
        ends = study.settings[0], study.settings[-1]
        one, other = both(first, last)
        finding += f": {one} credits per open hour at {ends[0].name}, {other} at {ends[1].label}"
    return over_settings(study, "machines", finding, lines, "credits per hour and machine", "")


def money_chart(study: Study) -> Chart | None:
    """Take in money a week, the operator's part of it, and what upkeep and floor cost leave."""
    names = {"take_per_week": "take", "operator_share_per_week": "operator's share", "margin_per_week": "margin"}
    lines = [_line(study, label, name) for name, label in names.items() if _ends(study, name)]
    if not lines or len(study.keys) > 1:
        return None
    told = next(name for name in reversed(names) if _ends(study, name))
    finding = _course(study, told, _MONEY[told])
    return over_settings(study, "money", finding, lines, study.unit(told), "")


_MONEY = {
    "take_per_week": "The take a week",
    "operator_share_per_week": "The operator's share a week",
    "margin_per_week": "What is left to the operator a week, after upkeep and floor cost,",
}


def retention_chart(study: Study) -> Chart | None:
    """Share of visits followed by another within 28 days."""
    if _ends(study, RETURN) is None:
        return None
    floor = study.record.loaded.scenario.study.keep_return_28d
    return over_settings(
        study, "retention", _course(study, RETURN, "Return within 28 days"), [_line(study, "return", RETURN)],
        "return within 28 days (visits)", "share", floor=(floor, f"floor {percent(floor, 0)}"),
    )  # fmt: skip


def fairness_chart(study: Study) -> Chart | None:
    """Better side wins, skill edge kept, close finishes."""
    names = {FAIR: "better side wins", "skill_edge": "skill edge kept", "close_finishes": "close finishes"}
    lines = [_line(study, label, name) for name, label in names.items() if _ends(study, name)]
    if not lines or len(study.keys) > 1:
        return None
    floor = study.record.loaded.scenario.study.keep_better_side_wins
    finding = _course(study, FAIR, "The better side's share of wins")
    close = _ends(study, "close_finishes")
    if close is not None:
        one, other = both(close[0].measures["close_finishes"], close[1].measures["close_finishes"], "share")
        finding += f"; close finishes go from {one} to {other}"
    return over_settings(study, "fairness", finding, lines, "share of contests (edge: of strength 0)", "share",
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
    first, last = study.settings[0], study.settings[-1]
    moved = max(reasons, key=lambda reason: abs(last.left.get(reason, 0.0) - first.left.get(reason, 0.0)))
    finding = (
        f'Most leave with "{ordered[0]}"; what changes most is "{moved}": '
        f"{percent(first.left.get(moved, 0.0))} of visits "
        f"at {first.name}, {percent(last.left.get(moved, 0.0))} at {last.label}"
    )
    return over_settings(study, "why-people-left", finding, lines, "share of visits", "share")


def _alone(value: float) -> Estimate:
    return Estimate(value, math.nan, math.nan, 1)


def protection_chart(study: Study) -> Chart | None:
    """Empty wallets and the largest spenders' share of the take."""
    names = {
        "empty_wallets": "empty wallets",
        "spend_top_tenth": "take from top tenth",
        "limit_reached": "limit reached",
    }
    lines = [_line(study, label, name) for name, label in names.items() if study.ever(name) and _ends(study, name)]
    if not lines or len(study.keys) > 1:
        return None
    finding = _course(study, "empty_wallets", "The share of visits that end with an empty wallet")
    return over_settings(study, "protection", finding, lines, "share (of visits; of the take)", "share")


def trade_off_chart(study: Study) -> Chart | None:
    """Fairness across, take up, a labelled point a setting."""
    known = _known(study, FAIR, TAKE)
    if len(known) < 2:
        return None
    floor = study.record.loaded.scenario.study.keep_better_side_wins
    figure = _scatter(study, known, FAIR, "contests won by the better side", floor)
    first, last = known[0], known[-1]
    finding = (
        f"From {first.name} to {last.label}, the better side's wins go from {_move(study, FAIR, first, last)} "
        f"and the take "
        f"from {_move(study, TAKE, first, last)}"
    )
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
    first, last = known[0], known[-1]
    finding = (
        f"From {first.name} to {last.label}, visits that end with an empty wallet go from "
        f"{_move(study, EMPTY, first, last)} "
        f"and the take from {_move(study, TAKE, first, last)}"
    )
    figure = _scatter(study, known, EMPTY, "visits that end with an empty wallet")
    return Chart(
        "take-and-wallets",
        finding,
        figure,
        _points_alt(study, known, EMPTY, "of visits end with an empty wallet"),
        f"Up earns more, right leaves more wallets empty. {_CROSSES}",
    )


_CROSSES = "Bars: 95 % intervals of the difference from the recommended one, on the same visitors."


def _known(study: Study, *measures: str) -> list[Shown]:
    return [item for item in study.settings if all(measure in item.measures for measure in measures)]


def _move(study: Study, measure: str, first: Shown, last: Shown) -> str:
    one, other = both(first.measures[measure], last.measures[measure], study.unit(measure))
    return f"{one} to {other}" + ("" if study.surely(measure, first, last) else " (not surely)")


def _scatter(study: Study, known: Sequence[Shown], measure: str, across: str, floor: float | None = None) -> Figure:
    """The take over another measure, both with what is known of their difference from the recommended setting."""
    figure, axes = blank(across, "credits per open hour", (5.0, 3.6))
    points = [(item.measures[measure].mean, item.measures[TAKE].mean) for item in known]
    if len(study.keys) == 1:
        axes.plot(*zip(*points, strict=True), color=GREY, lw=1, zorder=1)
    for item, (x, earned) in zip(known, points, strict=True):
        spans = [item.against.get(name) for name in (measure, TAKE)]
        halves = [0.0 if found is None or math.isnan(found.low) else found.half_width for found in spans]
        best = item.place == study.best
        axes.errorbar(
            x, earned, xerr=halves[0], yerr=halves[1], fmt="none", ecolor=COLOURS[0], elinewidth=1, alpha=0.45, zorder=2
        )
        axes.plot(
            x, earned, ls="none", marker="D" if best else "o", ms=8 if best else 5, color=COLOURS[1 if best else 0],
            zorder=3,
        )  # fmt: skip
        if item in study.overlaid:
            (ring,) = axes.plot(x, earned, ls="none", marker="o", ms=14, mfc="none", mec=INK, mew=1.4, zorder=4)
            only_at(ring, item.place)
    axes.margins(0.12)
    percents(axes, study.unit(measure), "x")
    low, high = axes.get_xlim()
    if floor is not None and low - (high - low) / 2 < floor < high:
        axes.axvline(floor, color=GREY, lw=1, ls=(0, (4, 3)), zorder=0)
        axes.annotate(f"floor {percent(floor, 0)}", (floor, 1.0), xycoords=("data", "axes fraction"), xytext=(0, 3),
                      textcoords="offset points", fontsize=8, color=GREY, va="bottom", ha="center")  # fmt: skip
    _label_points(figure, axes, study, list(zip(known, points, strict=True)))
    return figure


def _label_points(
    figure: Figure, axes: Axes, study: Study, points: Sequence[tuple[Shown, tuple[float, float]]]
) -> None:
    named = points if len(points) <= _MOST_LABELS else [point for point in points if point[0].place == study.best]
    labels = [
        axes.annotate(
            short(item.label, 16) + (" recommended" if item.place == study.best else ""),
            at,
            xytext=(0, 0),
            textcoords="offset points",
            fontsize=9,
            color=INK,
            fontweight="bold" if item.place == study.best else "normal",
            bbox={"boxstyle": "square,pad=0.1", "facecolor": "white", "edgecolor": "none", "alpha": 0.7},
            zorder=4,
        )
        for item, at in named
    ]
    keep_apart(figure, axes, labels)


def _points_alt(study: Study, known: Sequence[Shown], measure: str, words: str) -> str:
    points = [
        f"{item.label}{' (recommended)' if item.place == study.best else ''}: "
        f"{half(item.measures[measure], study.unit(measure))} "
        f"{words}, {half(item.measures[TAKE])} credits per open hour"
        for item in known[:12]
    ]
    return f"Scatter of the take, one point for each {study.word}. " + "; ".join(points) + "."
