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

from venue.report.charts.frame import LEAST_SPAN, Chart, Theme, blank, capital, numbers_of, only_at
from venue.report.columns import short
from venue.report.drawing import COLOURS, GREY, INK
from venue.report.heading import STRENGTH
from venue.report.page.reading import Study
from venue.report.quantities import scale_of, shown
from venue.study.point import Value, value_of
from venue.study.registry import FAIR, MEASURES, TAKE

# One hue from light to dark, so that it reads in grey too.
_COLOURS = colormaps["cividis"]
_MOST_FIGURES = 80
# In a map of fewer rows or columns lines between cells would say nothing, and hide the figures.
_LEAST_FOR_LINES = 4
_SHOWN = (TAKE, FAIR, "return_28d")
_READING = "Each cell is a mean, on the same visitors; lines join equal heights. The heavy box: recommended."


def map_charts(study: Study, theme: Theme) -> list[Chart]:
    """Maps of take, fairness and retention, those that are known."""
    return [chart for name in _SHOWN if (chart := map_chart(study, theme, name)) is not None]


def map_chart(study: Study, theme: Theme, name: str) -> Chart | None:
    """A measure over two swept keys, the first upward and the second across; None if it is unknown."""
    if len(study.keys) != 2:
        return None
    rows, columns = (list(dict.fromkeys(item.at[place][1] for item in study.settings)) for place in (0, 1))
    heights = np.full((len(rows), len(columns)), math.nan)
    for item in study.settings:
        if name in item.measures:
            heights[rows.index(item.at[0][1]), columns.index(item.at[1][1])] = item.measures[name].mean
    if np.isnan(heights).all():
        return None
    # Room for the scale of colours beside the map.
    figure, axes = blank(
        theme, _axis(study, 1, columns), _axis(study, 0, rows), width=theme.width + 1.0, height=1.25 * theme.height
    )
    _draw(figure, axes, study, name, heights)
    for values, setter in ((columns, axes.set_xticks), (rows, axes.set_yticks)):
        labels = [short(value_of(value), 16) for value in values]
        step = max(1, math.ceil(len(labels) / 12))
        setter(range(0, len(labels), step), labels[::step])
    for item in study.overlaid:
        box = _box(columns.index(item.at[1][1]), rows.index(item.at[0][1]), INK, 1.4)
        axes.add_patch(box)
        only_at(box, item.place)
    if study.best is not None:
        best = study.settings[study.best]
        axes.add_patch(_box(columns.index(best.at[1][1]), rows.index(best.at[0][1]), COLOURS[1], 2.5))
    finding = _title(study, name)
    return Chart(f"map-{name.replace('_', '-')}", finding, figure, f"Map over {study.keys[1]} and {study.keys[0]}. "
                 f"{finding}.", _READING, wide=True)  # fmt: skip


def _box(column: int, row: int, colour: str, width: float) -> Rectangle:
    return Rectangle((column - 0.47, row - 0.46), 0.94, 0.92, fill=False, edgecolor=colour, linewidth=width)


def _axis(study: Study, place: int, values: list[Value]) -> str:
    key, numbers = study.keys[place], numbers_of(values)
    if key == "strength":
        return STRENGTH
    unit = "" if numbers is None else numbers[1] or study.key_unit(place)
    return short(key, 48) + (f" ({unit})" if unit else "")


def _draw(figure: Figure, axes: Axes, study: Study, name: str, heights: NDArray[np.float64]) -> None:
    scale, mark = scale_of(study.unit(name))
    low, high = _colour_range(scale * heights, percents=bool(mark))
    image = axes.imshow(scale * heights, origin="lower", aspect="auto", cmap=_COLOURS, vmin=low, vmax=high)
    axes.grid(visible=False)
    _contours(axes, scale * heights)
    middle = (low + high) / 2 / scale
    if heights.size <= _MOST_FIGURES:
        for row, column in np.argwhere(~np.isnan(heights)).tolist():
            figure_in = f"{scale * heights[row, column]:.{MEASURES[name].digits}f}"
            axes.annotate(figure_in, (column, row), ha="center", va="center", fontsize=9,
                          color="white" if heights[row, column] < middle else "black")  # fmt: skip
    unit = "per cent" if mark else study.unit(name)
    bar = figure.colorbar(image, ax=axes, label=unit, pad=0.02)
    bar.outline.set_edgecolor(GREY)


def _colour_range(heights: NDArray[np.float64], *, percents: bool) -> tuple[float, float]:
    """Ends of the scale of colours: as wide as an axis of changes at least, so that a small change looks small."""
    low, high = float(np.nanmin(heights)), float(np.nanmax(heights))
    middle = (low + high) / 2
    half = max((high - low) / 2, LEAST_SPAN if percents else abs(middle) * LEAST_SPAN / 100)
    return middle - half, middle + half


def _contours(axes: Axes, heights: NDArray[np.float64]) -> None:
    """Lines of equal height, where there is anything to draw between."""
    if min(heights.shape) < _LEAST_FOR_LINES or np.isnan(heights).any() or np.ptp(heights) == 0.0:
        return
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="No contour levels")
        lines = axes.contour(heights, levels=6, colors=INK, linewidths=0.8, alpha=0.75)
    labels = axes.clabel(lines, fontsize=7, fmt="%g", inline=True)
    for label in labels:
        label.set_bbox({"facecolor": "white", "edgecolor": "none", "alpha": 0.75, "pad": 0.6})


def _title(study: Study, name: str) -> str:
    known = [item for item in study.settings if name in item.measures]
    top = max(known, key=lambda item: item.measures[name].mean)
    low = min(known, key=lambda item: item.measures[name].mean)
    unit = study.unit(name)
    least = f"least at {short(low.label, 24)}: {shown(low.measures[name], unit)}"
    doubt = "" if top is low else f"; {least}" if study.differs(name) else "; no sure difference"
    most = f"most at {short(top.label, 24)}: {shown(top.measures[name], unit)}"
    return f"{capital(MEASURES[name].label)}: {most}{doubt}"
