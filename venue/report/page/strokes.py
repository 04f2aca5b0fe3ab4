"""Strokes that the charts of the page are made of: a line with its band, labels, marks that follow the setting."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, MaxNLocator

from venue.report.axes import numbers_of
from venue.report.columns import short
from venue.report.drawing import COLOURS, DASHES, GREY, INK, MARKERS, label_ends, new_figure
from venue.report.heading import STRENGTH
from venue.report.page.figures import half, scale_of
from venue.report.page.picture import Chart, only_at
from venue.report.page.reading import SettingView, Study
from venue.study.intervals import Estimate
from venue.study.point import value_of

# Small, so that letters stay readable where a phone shows it whole.
SMALL = (4.2, 3.0)
LABEL = 22
_BAND = 0.18
_MOST_TICKS = 9
BANDS = "Bands: 95 % intervals of each setting by itself; differences between settings are surer than the bands look."


@dataclass(frozen=True)
class Line:
    """A line over the settings: its name, and a figure for each of them or None where there is none."""

    label: str
    values: Sequence[Estimate | None]


def blank(x: str, y: str, size: tuple[float, float] = SMALL) -> tuple[Figure, Axes]:
    """An empty chart of the page, whose title is set outside of it."""
    return new_figure("", x, y, size=size)


def percents(axes: Axes, unit: str, axis: str = "y") -> None:
    """Shares as percentages on an axis."""
    if scale_of(unit)[1]:
        getattr(axes, f"{axis}axis").set_major_locator(MaxNLocator(6))
        getattr(axes, f"{axis}axis").set_major_formatter(FuncFormatter(lambda value, _: f"{100 * value:.4g} %"))


def across(study: Study) -> tuple[list[float], str, list[str] | None]:
    """Where the settings stand on the first key that differs, what the axis is called, and names where it has no
    numbers."""
    key, values = study.keys[0], [item.at[0][1] for item in study.settings]
    name = STRENGTH if key == "strength" else short(key, 40)
    numbers = numbers_of(values)
    if numbers is None:
        turns = {value: float(turn) for turn, value in enumerate(dict.fromkeys(values))}
        return [turns[value] for value in values], name, [short(value_of(value), 14) for value in turns]
    unit = numbers[1] or study.key_unit()
    return numbers[0], name if key == "strength" or not unit else f"{name} ({unit})", None


def groups(study: Study) -> dict[str, list[SettingView]]:
    """Settings that share a line: all of them, or a line for each value of the second key."""
    found: dict[str, list[SettingView]] = {}
    for item in study.settings:
        rest = item.at[1:]
        found.setdefault(", ".join(f"{short(key, LABEL)} {value_of(value)}" for key, value in rest), []).append(item)
    return found


def over_settings(
    study: Study,
    name: str,
    finding: str,
    lines: Sequence[Line],
    y: str,
    unit: str,
    *,
    floor: tuple[float, str] | None = None,
) -> Chart:
    """Lines over the settings with their bands, named at their right ends; a mark stands at the chosen setting."""
    x, across_name, names = across(study)
    figure, axes = blank(across_name, y)
    ends: list[tuple[str, float]] = []
    split = groups(study)
    for index, (line, label, members) in enumerate(
        (line, label or line.label, members) for line in lines for label, members in split.items()
    ):
        known = [(x[item.place], found) for item in members if (found := line.values[item.place]) is not None]
        if known:
            band(axes, known, index % len(COLOURS))
            ends.append((label, known[-1][1].mean))
    if names is not None:
        axes.set_xticks(range(len(names)), names)
    elif len(set(x)) <= _MOST_TICKS:
        shown = sorted(set(x))[:: 1 if len(set(x)) <= _MOST_TICKS // 2 + 1 else 2]
        axes.set_xticks(shown, [f"{value:g}" for value in shown])
    percents(axes, unit)
    _mark_best(study, axes, x)
    _marks(study, axes, x, lines, unit, alone=len(ends) == 1)
    colours = [COLOURS[index % len(COLOURS)] for index in range(len(ends))]
    if len(ends) == 1:
        ends = []
    if floor is not None and _floor(axes, floor[0]):
        ends.append((floor[1], floor[0]))
        colours = [*colours[: len(ends) - 1], GREY]
    if ends:
        label_ends(axes, [(short(label, LABEL), value) for label, value in ends], max(x), colours)
    return Chart(name, finding, figure, _alt(study, finding, lines, unit), BANDS if _has_bands(lines) else "")


def _has_bands(lines: Sequence[Line]) -> bool:
    return any(item is not None and not math.isnan(item.low) for line in lines for item in line.values)


def band(axes: Axes, known: Sequence[tuple[float, Estimate]], index: int) -> None:
    """A line through points with the band of their intervals."""
    places = [place for place, _ in known]
    axes.plot(places, [item.mean for _, item in known], color=COLOURS[index], ls=DASHES[index],
              marker=MARKERS[index], ms=4)  # fmt: skip
    ends = [(item.mean, item.mean) if math.isnan(item.low) else (item.low, item.high) for _, item in known]
    axes.fill_between(
        places, [low for low, _ in ends], [high for _, high in ends], color=COLOURS[index], alpha=_BAND, lw=0
    )


def _floor(axes: Axes, value: float) -> bool:
    """A line at a floor, if it is near enough to what is drawn."""
    low, high = axes.get_ylim()
    near = low - (high - low) < value < high + (high - low)
    if near:
        axes.axhline(value, color=GREY, lw=1, ls=(0, (4, 3)), zorder=0)
    return near


def _mark_best(study: Study, axes: Axes, x: Sequence[float]) -> None:
    if study.best is not None:
        at = x[study.best]
        axes.axvline(at, color=GREY, lw=1, ls=(0, (2, 2)), zorder=0)
        low, high = min(x), max(x)
        side = "left" if at < low + 0.2 * (high - low) else "right" if at > high - 0.2 * (high - low) else "center"
        axes.annotate("recommended", (at, 1.0), xycoords=("data", "axes fraction"), xytext=(0, 3),
                      textcoords="offset points", fontsize=9, color=GREY, va="bottom", ha=side)  # fmt: skip


def _marks(study: Study, axes: Axes, x: Sequence[float], lines: Sequence[Line], unit: str, *, alone: bool) -> None:
    """A ring round each figure of the chosen setting, and the figure itself where there is one line only."""
    for item in study.overlaid:
        for line in lines:
            found = line.values[item.place]
            if found is None:
                continue
            (ring,) = axes.plot(
                [x[item.place]], [found.mean], ls="none", marker="o", ms=10, mfc="none", mec=INK, mew=1.4
            )
            only_at(ring, item.place)
            if alone:
                value_mark(
                    axes, half(found, unit), (x[item.place], found.mean), item.place, left=x[item.place] > _middle(x)
                )


def value_mark(axes: Axes, text: str, at: tuple[float, float], place: int, *, left: bool) -> None:
    """A figure beside its mark, shown while its setting is chosen."""
    label = axes.annotate(
        text, at, xytext=(-8 if left else 8, 9), textcoords="offset points", fontsize=9, color=INK,
        ha="right" if left else "left", va="bottom", fontweight="bold", zorder=5,
        bbox={"boxstyle": "square,pad=0.15", "facecolor": "white", "edgecolor": "none", "alpha": 0.85},
    )  # fmt: skip
    label.set_in_layout(False)
    only_at(label, place)


def _middle(x: Sequence[float]) -> float:
    return (min(x) + max(x)) / 2


def _alt(study: Study, finding: str, lines: Sequence[Line], unit: str) -> str:
    parts = [f"Line chart over {' and '.join(study.keys)}. {finding}."]
    for line in lines:
        values = [
            f"{half(found, unit)} at {item.label}"
            for item, found in zip(study.settings, line.values, strict=True)
            if found is not None
        ]
        parts.append(f"{line.label}: {'; '.join(values[:12])}" + ("; and more" if len(values) > 12 else "") + ".")
    return " ".join(parts)
