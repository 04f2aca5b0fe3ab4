"""Charts of results: the finding as title and nothing beyond it, units on the axes, readable in grey."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.text import Annotation

from venue.report.axes import across, name_places, places, what_varies
from venue.report.columns import short
from venue.report.drawing import COLOURS, DASHES, GREY, INK, MARKERS, keep_apart, label_ends, new_figure
from venue.report.heading import note
from venue.report.heat_map import heat_maps
from venue.report.people_charts import people_charts
from venue.scenario.load import Loaded
from venue.study.intervals import LEVEL, Estimate
from venue.study.point import Point, difference
from venue.study.results import RunResult, SweepResult

_NAME_WIDTH = 24
_MOST_LINES = len(COLOURS)
_MOST_LABELS = 30
_TAKE = "credits per open hour"


def _band(axes: Axes, x: Sequence[float], items: Sequence[Estimate | None], index: int) -> None:
    known = [(value, item) for value, item in zip(x, items, strict=True) if item is not None]
    places = [value for value, _ in known]
    axes.plot(
        places,
        [item.mean for _, item in known],
        color=COLOURS[index],
        linestyle=DASHES[index],
        marker=MARKERS[index],
        ms=5,
    )
    axes.fill_between(
        places,
        [item.low for _, item in known],
        [item.high for _, item in known],
        color=COLOURS[index],
        alpha=0.18,
        lw=0,
    )


def _series(result: SweepResult, name: str) -> tuple[list[float], list[Estimate | None]]:
    return places(result)[0], [point.measures().get(name) for point in result.points]


_BANDS = "Bands: 95 % intervals; all settings met the same visitors, so differences are surer than the bands look."


def _difference(result: SweepResult, name: str, first: int, second: int, tries: int = 1) -> Estimate | None:
    """A measure at the second point less the same at the first, by common visitors.

    `tries` is how many differences the two were picked from: the interval is widened for it (Bonferroni).
    """
    points = result.points
    return difference(points[second], points[first], name, 1 - (1 - LEVEL) / tries)


def _told_apart(difference: Estimate | None) -> bool:
    """Whether an interval leaves no doubt about the sign; one replication always leaves it."""
    return difference is not None and (difference.low > 0 or difference.high < 0)


def _mark_best(axes: Axes, result: SweepResult) -> None:
    if result.best.place is not None:
        best = places(result)[0][result.best.place]
        axes.axvline(best, color=GREY, lw=1, ls=(0, (2, 2)), zorder=0)
        _, top = axes.get_ylim()
        axes.annotate(
            "recommended", (best, top), xytext=(3, -2), textcoords="offset points",
            fontsize=8, color=GREY, va="top", rotation=90,
        )  # fmt: skip


def _floor_line(axes: Axes, value: float, text: str) -> None:
    axes.axhline(value, color=GREY, lw=1, ls=(0, (4, 3)), zorder=0)
    axes.annotate(
        text, (1.0, value), xycoords=("axes fraction", "data"), xytext=(-2, 3), textcoords="offset points",
        ha="right", fontsize=8, color=GREY,
    )  # fmt: skip


def credits_chart(result: SweepResult) -> Figure:
    """Credits per open hour against strength."""
    strengths, items = _series(result, "credits_per_hour")
    figure, axes = new_figure(_credits_title(result), across(result), _TAKE, _sweep_note(result, _BANDS))
    _band(axes, strengths, items, 0)
    name_places(axes, result)
    _mark_best(axes, result)
    return figure


def _sweep_note(result: SweepResult, what: str) -> str:
    return note(result.loaded, result.loaded.scenario.study.replications, what)


def _credits_title(result: SweepResult) -> str:
    _, items = _series(result, "credits_per_hour")
    names, labels = [point.name for point in result.points], [point.label for point in result.points]
    means = [item.mean if item else math.nan for item in items]
    top, low = int(np.nanargmax(means)), int(np.nanargmin(means))
    if top == low:
        return f"The take is {means[top]:.1f} credits per open hour at {names[top]}"
    figures = f"{means[top]:.1f} credits per open hour at {names[top]}, {means[low]:.1f} at"
    pairs = len(means) * (len(means) - 1) // 2
    if _told_apart(_difference(result, "credits_per_hour", low, top, pairs)):
        return f"The take depends on {what_varies(result)}: {figures} {labels[low]}"
    word = "strength" if result.keys == ("strength",) else "setting"
    return f"No {word} surely earns more than another: {figures} {labels[low]}"


def retention_chart(result: SweepResult) -> Figure | None:
    """Share of visits followed by another within 28 days, against strength; None if no run was long enough."""
    strengths, items = _series(result, "return_28d")
    known = [index for index, item in enumerate(items) if item is not None]
    if not known:
        return None
    figure, axes = new_figure(
        _retention_title(result, known[0], known[-1]), across(result), "return within 28 days (share of visits)",
        _sweep_note(result, _BANDS),
    )  # fmt: skip
    _band(axes, strengths, items, 0)
    name_places(axes, result)
    floor = result.loaded.scenario.study.keep_return_28d
    low, high = axes.get_ylim()
    if low - (high - low) < floor < high + (high - low):
        _floor_line(axes, floor, f"retention floor {floor:g}")
    _mark_best(axes, result)
    return figure


def _retention_title(result: SweepResult, first: int, last: int) -> str:
    before, after = (result.points[index].measures()["return_28d"].mean for index in (first, last))
    start, end = result.points[first].name, result.points[last].label
    if first == last:
        return f"{before:.1%} of visits are followed by another within 28 days at {start}"
    if _told_apart(_difference(result, "return_28d", first, last)):
        word = "rises" if after > before else "falls"
        return f"Return within 28 days {word} from {before:.1%} at {start} to {after:.1%} at {end}"
    return f"No sure change of return within 28 days: {before:.1%} at {start}, {after:.1%} at {end}"


def trade_off_chart(result: SweepResult) -> Figure | None:
    """Fairness across, credits per hour up, one labelled point a strength; None if no title has a contest."""
    found = [(point, point.measures()) for point in result.points]
    known = [
        (index, point.label, measures["better_side_wins"].mean, measures["credits_per_hour"].mean)
        for index, (point, measures) in enumerate(found)
        if "better_side_wins" in measures and "credits_per_hour" in measures
    ]
    if not known:
        return None
    start = result.points[known[0][0]].name
    bars = f"Bars: 95 % intervals of the difference from {start}, on the same visitors."
    figure, axes = new_figure(
        _trade_off_title(result, known[0][0], known[-1][0]), "contests won by the better side (share)", _TAKE,
        _sweep_note(result, bars if len(known) > 1 else ""),
    )  # fmt: skip
    x, y = [item[2] for item in known], [item[3] for item in known]
    if len(result.keys) == 1:
        axes.plot(x, y, color=GREY, lw=1, zorder=1)
    fair, earned = (
        [_half(_difference(result, name, known[0][0], item[0])) for item in known]
        for name in ("better_side_wins", "credits_per_hour")
    )
    axes.errorbar(x, y, xerr=fair, yerr=earned, fmt="none", ecolor=COLOURS[0], elinewidth=1, alpha=0.45, zorder=2)
    _fairness_floor(axes, result.loaded.scenario.study.keep_better_side_wins)
    axes.margins(0.08)
    named = {item.place for item in result.front if item.on_front} | {result.best.place}
    labels = [
        _strength_mark(axes, *item[1:], best=item[0] == result.best.place)
        for item in known
        if len(known) <= _MOST_LABELS or item[0] in named
    ]
    if len(known) > _MOST_LABELS:  # too many to tell apart: those that no other beats have names
        axes.plot(x, y, ls="none", marker="o", ms=3, color=COLOURS[0], alpha=0.6, zorder=2)
    keep_apart(figure, axes, labels)
    return figure


def _strength_mark(axes: Axes, label: str, fair: float, earned: float, *, best: bool) -> Annotation:
    """A point of the trade-off and its label; the recommended one stands out by shape, size and weight."""
    axes.plot(fair, earned, marker="D" if best else "o", ms=8 if best else 5,
              color=COLOURS[1] if best else COLOURS[0], zorder=3)  # fmt: skip
    return axes.annotate(
        label + (" recommended" if best else ""), (fair, earned), xytext=(0, 0), textcoords="offset points",
        fontsize=9, color=INK, fontweight="bold" if best else "normal", ha="left", va="bottom", zorder=4,
        bbox={"boxstyle": "square,pad=0.1", "facecolor": "white", "edgecolor": "none", "alpha": 0.7},
    )  # fmt: skip


def _fairness_floor(axes: Axes, floor: float) -> None:
    low, high = axes.get_xlim()
    if low - (high - low) < floor < high + (high - low):
        axes.axvline(floor, color=GREY, lw=1, ls=(0, (4, 3)), zorder=0)
        axes.annotate(f"fairness floor {floor:g}", (floor, 0.02), xycoords=("data", "axes fraction"), rotation=90,
                      xytext=(3, 0), textcoords="offset points", fontsize=8, color=GREY, va="bottom")  # fmt: skip


def _half(item: Estimate | None) -> float:
    return 0.0 if item is None or math.isnan(item.low) else item.half_width


def _trade_off_title(result: SweepResult, first: int, last: int) -> str:
    start, end = result.points[first], result.points[last]
    fair = [point.measures()["better_side_wins"].mean for point in (start, end)]
    earned = [point.measures()["credits_per_hour"].mean for point in (start, end)]
    if first == last:
        return f"At {start.name} the better side wins {fair[0]:.1%}, the take is {earned[0]:.1f}"
    sure = [_told_apart(_difference(result, name, first, last)) for name in ("better_side_wins", "credits_per_hour")]
    wins = f"the better side's wins go from {fair[0]:.1%} to {fair[1]:.1%}"
    take = f"the take from {earned[0]:.1f} to {earned[1]:.1f}"
    doubt = {
        (True, True): "",
        (True, False): " (not surely)",
        (False, True): "; the wins not surely",
        (False, False): "; neither surely",
    }[sure[0], sure[1]]
    return f"From {start.name} to {end.label} {wins}, {take}{doubt}"


def hourly_chart(loaded: Loaded, point: Point) -> Figure:
    """Credits per open hour by hour of day, a line for each row of machines."""
    hourly = point.hourly()
    open_hours = np.flatnonzero(~np.isnan(hourly).all(axis=0))
    # Hours past midnight belong to the evening before: begin the axis after the longest closed spell.
    if 0 < len(open_hours) < 24:
        gaps = np.diff(np.append(open_hours, open_hours[0] + 24))
        open_hours = np.roll(open_hours, -(int(np.argmax(gaps)) + 1))
    keys = list(loaded.scenario.machines)
    total = np.nansum(hourly, axis=0)
    peak = int(open_hours[np.argmax(total[open_hours])])
    title = f"Busiest about {peak:02d}:00: {total[peak]:.1f} credits per open hour from all machines, at {point.name}"
    figure, axes = new_figure(
        title, "hour of day (each from its beginning)", _TAKE, note(loaded, len(point.replications), "")
    )
    order = np.argsort(-np.nansum(hourly, axis=1), kind="stable")
    shown = [int(row) for row in order[: _MOST_LINES - 1]] if len(order) > _MOST_LINES else [int(row) for row in order]
    lines = [(_name(loaded, keys[row]), hourly[row]) for row in shown]
    if len(shown) < len(order):
        rest = [int(row) for row in order[len(shown) :]]
        lines.append((f"{len(rest)} others", np.nansum(hourly[rest], axis=0)))
    places = np.arange(len(open_hours))
    for index, (_, values) in enumerate(lines):
        axes.plot(places, values[open_hours], color=COLOURS[index], ls=DASHES[index], marker=MARKERS[index], ms=4)
    axes.set_ylim(0, max(axes.get_ylim()[1], 1e-9))
    label_ends(axes, [(name, float(values[open_hours][-1])) for name, values in lines], float(places[-1]))
    axes.set_xticks(places, [f"{hour:02d}" for hour in open_hours])
    return figure


def _name(loaded: Loaded, key: str) -> str:
    machine = loaded.scenario.machines[key]
    return short(machine.label or key, _NAME_WIDTH)


def sweep_charts(result: SweepResult) -> dict[str, Figure]:
    """All charts of a sweep by file name."""
    best = result.best_point or result.points[0]
    curves = {"credits-per-hour": credits_chart, "retention": retention_chart} if len(result.keys) == 1 else {}
    found = {
        **{name: chart(result) for name, chart in curves.items()},
        **(heat_maps(result) if len(result.keys) == 2 else {}),
        "trade-off": trade_off_chart(result),
        "by-hour": hourly_chart(result.loaded, best),
    }
    return {name: figure for name, figure in found.items() if figure is not None}


def run_charts(result: RunResult) -> dict[str, Figure]:
    """All charts of a run by file name."""
    return {"by-hour": hourly_chart(result.loaded, result.point), **people_charts(result.loaded, result.point)}
