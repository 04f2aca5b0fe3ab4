"""A comparison as charts: what differs most, and how sure that is."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
from matplotlib.figure import Figure

from venue.report.columns import short
from venue.report.drawing import COLOURS, GREY, INK, new_figure
from venue.report.study_text import finding
from venue.study.compare import CompareResult, Comparison

_LONGEST_NAME = 56


def compare_charts(result: CompareResult) -> Mapping[str, Figure]:
    """A chart for each scenario against the first."""
    one = len(result.comparisons) == 1
    return {
        "differences" if one else f"differences-{place}": difference_chart(result, item)
        for place, item in enumerate(result.comparisons, 1)
    }


def difference_chart(result: CompareResult, item: Comparison) -> Figure:
    """Change of each measure in percent of the first scenario's, with paired intervals, largest at the top."""
    shown = [difference for difference in item.differences if not math.isnan(difference.change)]
    base = short(result.names[0], _LONGEST_NAME)
    study = result.loaded.scenario.study
    note = (
        f"{short(result.loaded.scenario.venue.name, 48)}: {study.replications} replications of {study.days} days, "
        f"the first {study.warm_up} left out; seed {study.seed}. Bars: 95 % intervals of the difference in pairs, "
        "on the same visitors; hollow where the sign is in doubt."
    )
    title = finding(item, short(item.name, _LONGEST_NAME), base).rstrip(".")
    figure, axes = new_figure(title, f"change against {base} (% of its mean)", "", note)
    places = np.arange(len(shown))[::-1]
    axes.axvline(0.0, color=GREY, lw=1, zorder=0)
    for place, difference in zip(places, shown, strict=True):
        scale = 100.0 / abs(difference.base)
        half = 0.0 if math.isnan(difference.estimate.low) else difference.estimate.half_width * scale
        colour = COLOURS[0] if difference.told_apart else GREY
        axes.errorbar(difference.estimate.mean * scale, place, xerr=half, fmt="o", ms=5, color=colour, capsize=3,
                      mfc=colour if difference.told_apart else "white")  # fmt: skip
    axes.set_yticks(places, [difference.measure for difference in shown], color=INK)
    axes.set_ylim(-0.7, len(shown) - 0.3)
    figure.set_size_inches(7.2, max(3.0, 1.6 + 0.24 * len(shown)))
    return figure
