"""Charts of results, in one style: the finding as title, units on the axes, labels at the lines, readable in grey."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import matplotlib
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from venue.scenario.load import Loaded
from venue.study.intervals import Estimate
from venue.study.measures import MEASURES
from venue.study.point import Point
from venue.study.results import RunResult, SweepResult
from venue.study.title import TitleResult

# Okabe & Ito 2008, "Color universal design": told apart with every common kind of colour vision. Line style and marker
# say the same again, for print in grey.
COLOURS = ("#0072B2", "#D55E00", "#009E73", "#CC79A7", "#E69F00", "#56B4E9", "#000000")
DASHES = ("-", (0, (5, 2)), (0, (1, 1.3)), (0, (5, 1.5, 1, 1.5)), (0, (8, 3)), (0, (3, 1, 1, 1, 1, 1)), "-")
MARKERS = ("o", "s", "^", "D", "v", "P", "X")
_INK, _GREY = "#222222", "#6b6b6b"
_SIZE = (7.2, 4.5)
_TITLE_WIDTH = 66
_MOST_LINES = len(COLOURS)

_STYLE: Any = {
    "font.size": 10,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.edgecolor": _GREY,
    "axes.labelcolor": _INK,
    "axes.grid": True,
    "grid.color": "#e4e4e4",
    "grid.linewidth": 0.8,
    "xtick.color": _INK,
    "ytick.color": _INK,
    "text.parse_math": False,
}
# The same chart gives the same file.
_SAVING: Any = {"svg.fonttype": "path", "svg.hashsalt": "venue"}
_DPI = 150

_INTERVALS = "Bands and bars: 95 % intervals over replications"


def save(figure: Figure, path: Path) -> None:
    """Write a chart as PNG and SVG; `path` has no ending."""
    with matplotlib.rc_context(_SAVING):
        figure.savefig(path.with_suffix(".png"), dpi=_DPI)
        figure.savefig(path.with_suffix(".svg"), metadata={"Date": None})


def _figure(title: str, x: str, y: str, note: str = "") -> tuple[Figure, Axes]:
    with matplotlib.rc_context(_STYLE):
        figure = Figure(figsize=_SIZE, layout="constrained")
        axes = figure.add_subplot()
    axes.set_title(textwrap.fill(title, _TITLE_WIDTH), loc="left", fontsize=12, color=_INK, pad=10)
    axes.set_xlabel(x)
    axes.set_ylabel(y)
    if note:
        figure.supxlabel(textwrap.fill(note, 110), fontsize=8, color=_GREY, x=0.01, ha="left")
    return figure, axes


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
    return [point.strength for point in result.points], [point.measures().get(name) for point in result.points]


def _note(loaded: Loaded, replications: int) -> str:
    study = loaded.scenario.study
    return (
        f"{loaded.scenario.venue.name}. {_INTERVALS} ({replications} of {study.days} days, the first {study.warm_up} "
        f"left out; seed {study.seed})."
    )


def _mark_best(axes: Axes, result: SweepResult) -> None:
    if result.best.strength is not None:
        axes.axvline(result.best.strength, color=_GREY, lw=1, ls=(0, (2, 2)), zorder=0)
        _, top = axes.get_ylim()
        axes.annotate(
            "recommended", (result.best.strength, top), xytext=(3, -2), textcoords="offset points",
            fontsize=8, color=_GREY, va="top", rotation=90,
        )  # fmt: skip


def _floor_line(axes: Axes, value: float, text: str) -> None:
    axes.axhline(value, color=_GREY, lw=1, ls=(0, (4, 3)), zorder=0)
    axes.annotate(
        text, (1.0, value), xycoords=("axes fraction", "data"), xytext=(-2, 3), textcoords="offset points",
        ha="right", fontsize=8, color=_GREY,
    )  # fmt: skip


def credits_chart(result: SweepResult) -> Figure:
    """Credits per open hour against strength."""
    strengths, items = _series(result, "credits_per_hour")
    means = {strength: item.mean for strength, item in zip(strengths, items, strict=True) if item is not None}
    top = max(means, key=means.__getitem__)
    low = min(means, key=means.__getitem__)
    title = (
        f"The take is greatest at strength {top:g}: {means[top]:.1f} credits per open hour, {means[low]:.1f} at {low:g}"
    )
    figure, axes = _figure(
        title, "catch-up strength (0 off, 1 as designed)", "credits per open hour",
        _note(result.loaded, result.loaded.scenario.study.replications),
    )  # fmt: skip
    _band(axes, strengths, items, 0)
    _mark_best(axes, result)
    return figure


def retention_chart(result: SweepResult) -> Figure | None:
    """Share of visits followed by another within 28 days, against strength; None if no run was long enough."""
    strengths, items = _series(result, "return_28d")
    known = [(strength, item) for strength, item in zip(strengths, items, strict=True) if item is not None]
    if not known:
        return None
    first, last = known[0], known[-1]
    word = "rises" if last[1].mean > first[1].mean else "falls"
    if abs(last[1].mean - first[1].mean) <= max(first[1].half_width, last[1].half_width):
        word = "hardly changes"
    title = (
        f"Return within 28 days {word}: {first[1].mean:.1%} at strength {first[0]:g}, {last[1].mean:.1%} at {last[0]:g}"
    )
    figure, axes = _figure(
        title, "catch-up strength (0 off, 1 as designed)", "visits followed by another within 28 days (share)",
        _note(result.loaded, result.loaded.scenario.study.replications),
    )  # fmt: skip
    _band(axes, strengths, items, 0)
    floor = result.loaded.scenario.study.keep_return_28d
    low, high = axes.get_ylim()
    if low - (high - low) < floor < high + (high - low):
        _floor_line(axes, floor, f"retention floor {floor:g}")
    _mark_best(axes, result)
    return figure


def trade_off_chart(result: SweepResult) -> Figure | None:
    """Fairness across, credits per hour up, one labelled point a strength; None if no title has a contest."""
    _, fair = _series(result, "better_side_wins")
    strengths, earned = _series(result, "credits_per_hour")
    known = [(s, f, e) for s, f, e in zip(strengths, fair, earned, strict=True) if f is not None and e is not None]
    if not known:
        return None
    first, last = known[0], known[-1]
    title = (
        f"From strength {first[0]:g} to {last[0]:g} the better side's wins go from {first[1].mean:.0%} to "
        f"{last[1].mean:.0%}, the take from {first[2].mean:.1f} to {last[2].mean:.1f}"
    )
    figure, axes = _figure(
        title, "contests won by the better side (share)", "credits per open hour",
        _note(result.loaded, result.loaded.scenario.study.replications),
    )  # fmt: skip
    x, y = [f.mean for _, f, _ in known], [e.mean for _, _, e in known]
    axes.plot(x, y, color=_GREY, lw=1, zorder=1)
    axes.errorbar(
        x, y, xerr=[f.half_width for _, f, _ in known], yerr=[e.half_width for _, _, e in known],
        fmt="none", ecolor=COLOURS[0], elinewidth=1, alpha=0.5, zorder=2,
    )  # fmt: skip
    for strength, f, e in known:
        best = strength == result.best.strength
        axes.plot(f.mean, e.mean, marker="D" if best else "o", ms=8 if best else 5,
                  color=COLOURS[1] if best else COLOURS[0], zorder=3)  # fmt: skip
        axes.annotate(
            f"{strength:g}" + (" recommended" if best else ""), (f.mean, e.mean), xytext=(6, 6),
            textcoords="offset points", fontsize=9, color=_INK, fontweight="bold" if best else "normal",
        )  # fmt: skip
    floor = result.loaded.scenario.study.keep_better_side_wins
    low, high = axes.get_xlim()
    if low - (high - low) < floor < high + (high - low):
        axes.axvline(floor, color=_GREY, lw=1, ls=(0, (4, 3)), zorder=0)
        axes.annotate(f"fairness floor {floor:g}", (floor, 0.02), xycoords=("data", "axes fraction"), rotation=90,
                      xytext=(3, 0), textcoords="offset points", fontsize=8, color=_GREY, va="bottom")  # fmt: skip
    return figure


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
    strength = f"strength {point.strength:g}"
    title = f"The busiest hour is {peak:02d}:00, with {total[peak]:.1f} credits per open hour at {strength}"
    figure, axes = _figure(
        title, "hour of day (beginning)", "credits per open hour", _note(loaded, len(point.replications))
    )
    order = np.argsort(-np.nansum(hourly, axis=1), kind="stable")
    shown = [int(row) for row in order[: _MOST_LINES - 1]] if len(order) > _MOST_LINES else [int(row) for row in order]
    lines = [(_name(loaded, keys[row]), hourly[row]) for row in shown]
    if len(shown) < len(order):
        rest = [int(row) for row in order[len(shown) :]]
        lines.append((f"{len(rest)} others", hourly[rest].sum(axis=0)))
    places = np.arange(len(open_hours))
    for index, (_, values) in enumerate(lines):
        axes.plot(places, values[open_hours], color=COLOURS[index], ls=DASHES[index], marker=MARKERS[index], ms=4)
    _label_ends(axes, [(name, float(values[open_hours][-1])) for name, values in lines], float(places[-1]))
    axes.set_ylim(bottom=0)
    axes.set_xticks(places, [f"{hour:02d}" for hour in open_hours])
    return figure


def _name(loaded: Loaded, key: str) -> str:
    machine = loaded.scenario.machines[key]
    return textwrap.shorten(machine.label or key, 24, placeholder="…")


def _label_ends(axes: Axes, ends: Sequence[tuple[str, float]], x: float) -> None:
    """Labels at the right ends of lines, moved apart where they would overlap."""
    low, high = 0.0, max(axes.get_ylim()[1], 1e-9)
    least = 0.055 * (high - low)
    ordered = sorted(range(len(ends)), key=lambda index: ends[index][1])
    place = -float("inf")
    places = {}
    for index in ordered:
        place = max(ends[index][1], place + least)
        places[index] = place
    for index, (name, value) in enumerate(ends):
        axes.annotate(
            name, (x, value), xytext=(1.02, places[index]), textcoords=("axes fraction", "data"),
            color=COLOURS[index], fontsize=9, va="center", annotation_clip=False,
            arrowprops={"arrowstyle": "-", "color": COLOURS[index], "lw": 0.6, "shrinkA": 0, "shrinkB": 3},
        )  # fmt: skip


def margin_chart(result: TitleResult) -> Figure:
    """Distribution of the final margin at each strength."""
    first, last = result.headlines[0], result.headlines[-1]
    title = (
        f"Final margins spread {first.margin_sd:.1f} points at strength {first.strength:g}, "
        f"{last.margin_sd:.1f} at {last.strength:g}"
        if len(result.headlines) > 1
        else f"Final margins spread {first.margin_sd:.1f} points at strength {first.strength:g}"
    )
    figure, axes = _figure(title, "final margin of side A (points)", "chance", f"{_title_name(result)}, exact.")
    picked = (
        result.headlines if len(result.headlines) <= 5 else result.headlines[:: max(1, len(result.headlines) // 4)][:5]
    )
    ends = []
    for index, item in enumerate(picked):
        points, chances = np.array(list(item.margin)), np.array(list(item.margin.values()))
        shown = chances > 2e-4
        axes.plot(points[shown], chances[shown], color=COLOURS[index], ls=DASHES[index])
        peak = int(np.argmax(chances))
        ends.append((f"strength {item.strength:g}", int(points[peak]), float(chances[peak])))
    axes.set_ylim(bottom=0)
    for index, (name, _, _) in enumerate(ends):
        axes.plot([], [], color=COLOURS[index], ls=DASHES[index], label=name)
    axes.legend(frameon=False, loc="upper right", fontsize=9)
    return figure


def fairness_chart(result: TitleResult) -> Figure:
    """Better side wins, skill edge kept and close finishes against strength."""
    strengths = [item.strength for item in result.headlines]
    lines = {
        MEASURES["better_side_wins"].meaning: [item.better_side_wins for item in result.headlines],
        "edge of skill that is kept": [item.skill_edge for item in result.headlines],
        MEASURES["close_finishes"].meaning: [item.close_finishes for item in result.headlines],
    }
    first, last = result.headlines[0], result.headlines[-1]
    title = (
        f"The better side wins {first.better_side_wins:.0%} at strength {first.strength:g}, "
        f"{last.better_side_wins:.0%} at {last.strength:g}; close finishes go from {first.close_finishes:.0%} to "
        f"{last.close_finishes:.0%}"
    )
    figure, axes = _figure(title, "catch-up strength (0 off, 1 as designed)", "share", f"{_title_name(result)}, exact.")
    for index, values in enumerate(lines.values()):
        axes.plot(strengths, values, color=COLOURS[index], ls=DASHES[index], marker=MARKERS[index], ms=4)
    axes.set_ylim(0, 1.05)
    known = [(name, values[-1]) for name, values in lines.items() if not np.isnan(values[-1])]
    _label_ends(axes, known, strengths[-1])
    return figure


def _title_name(result: TitleResult) -> str:
    return result.loaded.scenario.titles[result.title].label or result.title


def sweep_charts(result: SweepResult) -> dict[str, Figure]:
    """All charts of a sweep by file name."""
    best = next((point for point in result.points if point.strength == result.best.strength), result.points[0])
    found = {
        "credits-per-hour": credits_chart(result),
        "retention": retention_chart(result),
        "trade-off": trade_off_chart(result),
        "by-hour": hourly_chart(result.loaded, best),
    }
    return {name: figure for name, figure in found.items() if figure is not None}


def run_charts(result: RunResult) -> dict[str, Figure]:
    """All charts of a run by file name."""
    return {"by-hour": hourly_chart(result.loaded, result.point)}


def title_charts(result: TitleResult) -> dict[str, Figure]:
    """All charts of a title by file name."""
    return {"fairness": fairness_chart(result), "final-margin": margin_chart(result)}
