"""Two swept keys as a map: one cell for each pair of values, its figure in it, lines of equal height across."""

from __future__ import annotations

import math
import warnings

import numpy as np
from matplotlib import colormaps
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from numpy.typing import NDArray

from venue.report.axes import across
from venue.report.columns import short
from venue.report.drawing import COLOURS, GREY, INK, new_figure
from venue.study.intervals import LEVEL
from venue.study.measures import MEASURES
from venue.study.point import difference, value_of
from venue.study.results import SweepResult, unit_of

# One hue from light to dark, so that it reads in grey too; its darkest part is left out, that figures can be read.
_COLOURS = colormaps["cividis"]
_MOST_FIGURES = 80
_SHOWN = {
    "credits_per_hour": ("take", 1),
    "better_side_wins": ("better side's share of wins", 3),
    "return_28d": ("return rate within 28 days", 3),
}


def heat_maps(result: SweepResult) -> dict[str, Figure]:
    """Maps of take, fairness and retention, those that could be told."""
    found = {name: heat_map(result, name) for name in _SHOWN}
    return {f"map-{name.replace('_', '-')}": figure for name, figure in found.items() if figure is not None}


def heat_map(result: SweepResult, name: str) -> Figure | None:
    """A measure over two swept keys, the first upward and the second across; None if it could not be told."""
    heights = _grid(result, name)
    if np.isnan(heights).all():
        return None
    unit = unit_of(name, MEASURES[name], result.loaded.scenario.venue.money)
    study = result.loaded.scenario.study
    note = (
        f"{short(result.loaded.scenario.venue.name, 48)}: {study.replications} replications of {study.days} days, the "
        f"first {study.warm_up} left out; seed {study.seed}; every cell met the same visitors. Each cell is the mean "
        f"({unit}); lines join equal heights, read between cells; the box is the recommended setting."
    )
    figure, axes = new_figure(_title(result, name, heights), across(result, 1), across(result, 0), note)
    _draw(figure, axes, result, heights, _SHOWN[name][1], unit)
    return figure


def _grid(result: SweepResult, name: str) -> NDArray[np.float64]:
    rows, columns = len(result.settings(0)), len(result.settings(1))
    means = [item.mean if (item := point.measures().get(name)) else math.nan for point in result.points]
    return np.array(means).reshape(rows, columns)


def _draw(
    figure: Figure, axes: Axes, result: SweepResult, heights: NDArray[np.float64], digits: int, unit: str
) -> None:
    rows, columns = heights.shape
    image = axes.imshow(heights, origin="lower", aspect="auto", cmap=_COLOURS)
    axes.grid(visible=False)
    for axis, setter in ((1, axes.set_xticks), (0, axes.set_yticks)):
        labels = [short(value_of(value), 16) for value in result.settings(axis)]
        step = max(1, math.ceil(len(labels) / 12))
        setter(range(0, len(labels), step), labels[::step])
    _contours(axes, heights)
    middle = (np.nanmin(heights) + np.nanmax(heights)) / 2
    if heights.size <= _MOST_FIGURES:
        for row in range(rows):
            for column in range(columns):
                height = heights[row, column]
                if not math.isnan(height):
                    axes.annotate(
                        f"{height:.{digits}f}", (column, row), ha="center", va="center", fontsize=8,
                        color="white" if height < middle else INK,
                    )  # fmt: skip
    if result.best.place is not None:
        row, column = divmod(result.best.place, columns)
        box = Rectangle((column - 0.47, row - 0.46), 0.94, 0.92, fill=False, edgecolor=COLOURS[1], linewidth=2.5)
        axes.add_patch(box)
    bar = figure.colorbar(image, ax=axes, label=unit, pad=0.02)
    bar.outline.set_edgecolor(GREY)


def _contours(axes: Axes, heights: NDArray[np.float64]) -> None:
    """Lines of equal height, where there is anything to draw between."""
    if min(heights.shape) < 2 or np.isnan(heights).any() or np.ptp(heights) == 0.0:
        return
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="No contour levels")
        lines = axes.contour(heights, levels=6, colors=INK, linewidths=0.8, alpha=0.75)
    labels = axes.clabel(lines, fontsize=7, fmt="%g", inline=True)
    for label in labels:
        label.set_bbox({"facecolor": "white", "edgecolor": "none", "alpha": 0.75, "pad": 0.6})


def _title(result: SweepResult, name: str, heights: NDArray[np.float64]) -> str:
    what, digits = _SHOWN[name]
    top, low = int(np.nanargmax(heights)), int(np.nanargmin(heights))
    points = result.points
    pairs = len(points) * (len(points) - 1) // 2
    apart = difference(points[top], points[low], name, 1 - (1 - LEVEL) / max(pairs, 1))
    sure = apart is not None and apart.low > 0
    greatest = f"{heights.flat[top]:.{digits}f} at {points[top].name}"
    least = f"least, {heights.flat[low]:.{digits}f}, at {points[low].label}"
    return f"The {what} is greatest, {greatest}; {least}" + ("" if sure else " (not surely)")
