"""Charts over the settings of a sweep that has one axis: what changes against today's setting, with its band.

All settings meet the same visitors, whose luck cancels out in a difference. So a difference is drawn with the interval
of the paired differences, which tells settings apart where the intervals of their levels would overlap.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from matplotlib.axes import Axes

from venue.report.charts.frame import (
    LABEL,
    Chart,
    Theme,
    at_end,
    band,
    blank,
    capital,
    change_limits,
    ends_of,
    from_zero,
    names_under,
    numbers_of,
    only_at,
    over_line,
    percents,
    scaled,
    value_mark,
)
from venue.report.charts.titles import course, leaving_title, take_title
from venue.report.columns import short
from venue.report.drawing import COLOURS, GREY, INK, label_ends
from venue.report.heading import STRENGTH
from venue.report.page.reading import Study
from venue.report.quantities import half, percent, scale_of, written
from venue.report.sentences.intervals import DIFFERENCE
from venue.study.intervals import Estimate
from venue.study.point import value_of
from venue.study.registry import FAIR, MEASURES, TAKE

RETURN = "return_28d"
EMPTY = "empty_wallets"
_MOST_REASONS = 6
_LEAST_SHARE = 0.01
_BANDS = f"Bands: {DIFFERENCE}, on the same visitors."
_MONEY = ("take_per_week", "operator_share_per_week", "profit_per_week")
_FAIRNESS = (FAIR, "skill_edge", "close_finishes")
_PROTECTION = (EMPTY, "spend_top_tenth", "limit_reached")


@dataclass(frozen=True)
class Line:
    """A line over the settings: its name, and a figure for each of them or None where there is none."""

    label: str
    values: Sequence[Estimate | None]


def has_one_axis(study: Study) -> bool:
    """Whether there are several settings along one axis."""
    return len(study.settings) > 1 and len(study.keys) == 1


def across(study: Study) -> tuple[list[float], str, list[str] | None]:
    """Where the settings stand on the first key, what the axis is called, and names where it has no numbers."""
    key, values = study.keys[0], [item.at[0][1] for item in study.settings]
    name = STRENGTH if key == "strength" else short(key, 40)
    numbers = numbers_of(values)
    if numbers is None:
        turns = {value: float(turn) for turn, value in enumerate(dict.fromkeys(values))}
        return [turns[value] for value in values], name, [value_of(value) for value in turns]
    unit = numbers[1] or study.key_unit()
    return numbers[0], name if key == "strength" or not unit else f"{name} ({unit})", None


def _scale(study: Study, measure: str) -> float:
    """What a difference is multiplied by: shares become points of a hundred, amounts percents of the reference."""
    if scale_of(study.unit(measure))[1]:
        return 100.0
    base = study.reference.measures.get(measure)
    return 100.0 / abs(base.mean) if base is not None and base.mean else math.nan


def _changed(study: Study, theme: Theme, name: str, finding: str, measures: Sequence[str], y: str, *,
             requirement: tuple[str, float] | None = None, mark: str = "") -> Chart | None:  # fmt: skip
    """Paired differences of one or several measures from today's setting, or from the recommended one."""
    lines: dict[str, Line] = {}
    for measure in measures:
        scale = _scale(study, measure)
        values = [study.change(item, measure) for item in study.settings]
        if sum(item is not None for item in values) > 1 and not math.isnan(scale):
            lines[measure] = Line(_short(measure), [None if item is None else scaled(item, scale) for item in values])
    if not has_one_axis(study):
        return None
    if not lines:  # results of an earlier version, which hold no differences
        levels = [Line(MEASURES[measure].label, [item.measures.get(measure) for item in study.settings])
                  for measure in measures]  # fmt: skip
        told = [line for line in levels if sum(item is not None for item in line.values) > 1]
        unit = study.unit(next(iter(measures), ""))
        return _levels(study, theme, name, finding, told, unit, unit) if told else None
    x, across_name, names = across(study)
    figure, axes = blank(theme, across_name, y)
    every = [item for line in lines.values() for item in line.values if item is not None]
    limits = ends_of(every)
    if requirement is not None:
        gap = 100.0 * (requirement[1] - study.reference.measures[requirement[0]].mean)
        if abs(gap) <= 2 * max(5.0, *map(abs, limits)):
            at_end(axes, gap, f"required: {percent(requirement[1], 0)}")
            limits = [*limits, gap]
    axes.axhline(0.0, color=GREY, lw=0.8, zorder=0)
    ends = []
    for index, line in enumerate(lines.values()):
        known = [(x[place], item) for place, item in enumerate(line.values) if item is not None]
        band(axes, sorted(known, key=lambda pair: pair[0]), index)
        ends.append((line.label, max(known, key=lambda pair: pair[0])[1].mean))
    change_limits(axes, "y", limits)
    percents(axes, scale=1.0, sign="+", mark=mark)
    _settings_axis(study, axes, x, names, ties=TAKE in lines)
    _rings(study, axes, x, lines)
    if len(ends) > 1:
        label_ends(axes, [(short(label, LABEL), value) for label, value in ends], max(x))
    return Chart(name, finding, figure, _changes_alt(study, finding, lines), _BANDS if _has_bands(every) else "")


def _settings_axis(
    study: Study, axes: Axes, x: Sequence[float], names: list[str] | None, *, ties: bool = False
) -> None:
    """Marks of today's setting, of the recommended one and of its ties; names where settings are words."""
    if names is not None:
        names_under(axes, range(len(names)), names)
    low, high = min(x), max(x)
    is_range = len(study.tied) > 1 and study.tie_is_a_range
    if is_range and ties:
        first, last = (extreme(x[item.place] for item in study.tied) for extreme in (min, max))
        axes.axvspan(first, last, color=GREY, alpha=0.10, lw=0, zorder=-1)
        axes.annotate("will do", (first, 0.0), xycoords=("data", "axes fraction"),
                      xytext=(4, 3), textcoords="offset points", fontsize=9, color=GREY, ha="left")  # fmt: skip
    marked = {"today": study.today, "recommended": None if study.best is None else study.settings[study.best]}
    if marked["today"] is not None and marked["today"] is marked["recommended"]:
        marked = {"today, recommended": marked["today"]}
    elif is_range:
        marked = {"today": marked["today"]}
    for text, item in marked.items():
        if item is not None:
            at = x[item.place]
            side = "left" if at < low + 0.2 * (high - low) else "right" if at > high - 0.2 * (high - low) else "center"
            over_line(axes, at, text, side=side)


def _rings(study: Study, axes: Axes, x: Sequence[float], lines: Mapping[str, Line]) -> None:
    """A ring round each figure of the chosen setting, and the figure itself where there is one line only."""
    middle = (min(x) + max(x)) / 2
    for item in study.overlaid:
        for measure, line in lines.items():
            found = line.values[item.place]
            if found is None:
                continue
            at = (x[item.place], found.mean)
            (ring,) = axes.plot(*at, ls="none", marker="o", ms=10, mfc="none", mec=INK, mew=1.4)
            only_at(ring, item.place)
            level = item.measures.get(measure)
            if len(lines) == 1 and level is not None:
                value_mark(axes, half(level, study.unit(measure)), at, item.place, left=at[0] > middle)


def _has_bands(items: Sequence[Estimate]) -> bool:
    return any(not math.isnan(item.low) and item.low != item.high for item in items)


def _changes_alt(study: Study, finding: str, lines: Mapping[str, Line]) -> str:
    parts = [f"Line chart over {study.keys[0]}: differences from {study.reference.name}. {finding}."]
    for line in lines.values():
        values = [
            f"{written(found.mean, 2, '+')} at {item.label}"
            for item, found in zip(study.settings, line.values, strict=True) if found is not None
        ]  # fmt: skip
        parts.append(f"{line.label}: {'; '.join(values[:12])}" + ("; and more" if len(values) > 12 else "") + ".")
    return " ".join(parts)


def _against(study: Study) -> str:
    return "today" if study.reference is study.today else study.reference.label


def take_chart(study: Study, theme: Theme) -> Chart | None:
    """Credits per open hour against today's setting."""
    return _changed(study, theme, "credits-per-hour", take_title(study), [TAKE],
                    f"take against {_against(study)}", mark=" %")  # fmt: skip


def money_chart(study: Study, theme: Theme) -> Chart | None:
    """Take in money a week, the operator's part of it, and what upkeep and floor cost leave, against today's."""
    told = next((name for name in reversed(_MONEY) if any(name in item.measures for item in study.settings)), None)
    if told is None:
        return None
    return _changed(study, theme, "money", _course(study, told), _MONEY,
                    f"money a week against {_against(study)}", mark=" %")  # fmt: skip


def retention_chart(study: Study, theme: Theme) -> Chart | None:
    """Share of visits followed by another within 28 days, against today's setting."""
    if RETURN not in study.reference.measures:
        return None
    least = study.record.loaded.scenario.study.keep_return_28d
    return _changed(study, theme, "retention", _course(study, RETURN), [RETURN],
                    f"visits in a hundred, against {_against(study)}",
                    requirement=(RETURN, least) if least > 0 else None)  # fmt: skip


def fairness_chart(study: Study, theme: Theme) -> Chart | None:
    """Better side wins, skill edge kept, close finishes, against today's setting."""
    least = study.record.loaded.scenario.study.keep_better_side_wins
    known = least > 0 and FAIR in study.reference.measures
    return _changed(study, theme, "fairness", _course(study, FAIR), _FAIRNESS,
                    f"in a hundred, against {_against(study)}",
                    requirement=(FAIR, least) if known else None)  # fmt: skip


def protection_chart(study: Study, theme: Theme) -> Chart | None:
    """Empty wallets and the largest spenders' share of the take, against today's setting."""
    names = [name for name in _PROTECTION if study.ever(name)]
    return _changed(study, theme, "protection", _course(study, EMPTY), names,
                    f"in a hundred, against {_against(study)}")  # fmt: skip


def _short(measure: str) -> str:
    return MEASURES[measure].label.removesuffix(" per week")


def _course(study: Study, measure: str) -> str:
    return course(study, measure, capital(MEASURES[measure].label))


def _levels(study: Study, theme: Theme, name: str, finding: str, lines: Sequence[Line], y: str, unit: str) -> Chart:
    """Levels over the settings, from zero, with their names at the right ends."""
    x, across_name, names = across(study)
    figure, axes = blank(theme, across_name, y)
    ends = []
    for index, line in enumerate(lines):
        known = sorted((x[place], item) for place, item in enumerate(line.values) if item is not None)
        band(axes, known, index)
        ends.append((short(line.label, LABEL), known[-1][1].mean))
    from_zero(axes, ends_of([item for line in lines for item in line.values if item is not None]))
    if scale_of(unit)[1]:
        percents(axes)
    _settings_axis(study, axes, x, names)
    _rings(study, axes, x, {line.label: line for line in lines})
    label_ends(axes, ends, max(x))
    parts = [f"Line chart over {study.keys[0]}. {finding}."]
    parts += [
        f"{line.label}: " + "; ".join(
            f"{half(found, unit)} at {item.label}"
            for item, found in list(zip(study.settings, line.values, strict=True))[:12] if found is not None
        ) + "." for line in lines
    ]  # fmt: skip
    return Chart(name, finding, figure, " ".join(parts))


def machines_chart(study: Study, theme: Theme) -> Chart | None:
    """Credits per open hour of one machine of each row, over the settings."""
    names = study.record.loaded.scenario.machines
    lines = [
        Line(names[key].label or key if key in names else key,
             [item.machines.get(key, {}).get(TAKE) for item in study.settings])
        for key in study.settings[0].machines
    ]  # fmt: skip
    lines = [line for line in lines if any(item is not None for item in line.values)]
    if not has_one_axis(study) or not lines:
        return None
    lines = sorted(lines, key=lambda line: -_foremost(study, line))[: len(COLOURS)]
    top, at = lines[0], study.first_shown
    found = top.values[at.place]
    finding = f"{short(top.label, LABEL)} takes most" + ("" if found is None else f": {half(found)} at {at.label}")
    return _levels(study, theme, "machines", finding, lines, "credits per hour and machine", "")


def _foremost(study: Study, line: Line) -> float:
    """What a line comes to at the setting that is shown first, or at its highest."""
    shown = line.values[study.first_shown.place]
    return max(item.mean for item in line.values if item) if shown is None else shown.mean


def leaving_chart(study: Study, theme: Theme) -> Chart | None:
    """Why people left, a line a reason."""
    reasons = list(dict.fromkeys(reason for item in study.settings for reason in item.left))
    most = {reason: max(item.left.get(reason, 0.0) for item in study.settings) for reason in reasons}
    ordered = [reason for reason in sorted(reasons, key=lambda reason: -most[reason]) if most[reason] >= _LEAST_SHARE]
    if not has_one_axis(study) or not ordered:
        return None
    lines = [Line(reason, [Estimate(item.left.get(reason, 0.0), math.nan, math.nan, 1) for item in study.settings])
             for reason in ordered[:_MOST_REASONS]]  # fmt: skip
    chart = _levels(study, theme, "why-people-left", leaving_title(study, reasons), lines, "share of visits", "share")
    left_out = len(reasons) - len(lines)
    rest = f" {left_out} rarer reasons are left out." if left_out else ""
    return Chart(chart.name, chart.finding, chart.figure, chart.alt,
                 f"Means over replications, without intervals.{rest}")  # fmt: skip
