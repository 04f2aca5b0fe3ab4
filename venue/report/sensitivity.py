"""What an answer depends on, as a ranked chart, each number with its origin."""

from __future__ import annotations

import math

import numpy as np
from matplotlib.figure import Figure
from matplotlib.patches import Patch

from venue.report.columns import short
from venue.report.drawing import COLOURS, GREY, INK, new_figure
from venue.scenario.numbers import DEFAULT, NOT_STATED
from venue.study.registry import MEASURES
from venue.study.results import unit_of
from venue.study.sensitivity import SensitivityResult

_MOST_BARS = 16
_LONGEST_NAME = 44
_ORIGINS = ("measured", "fitted", "common practice", "assumed", NOT_STATED, DEFAULT)
_HATCHES = ("", "", "..", "//", "xx", "\\\\")


def _unit(result: SensitivityResult) -> str:
    return unit_of(result.plan.measure, MEASURES[result.plan.measure], result.loaded.scenario.venue.money)


def sensitivity_charts(result: SensitivityResult) -> dict[str, Figure]:
    """Charts by file name."""
    return {"ranking": ranking_chart(result)}


def ranking_chart(result: SensitivityResult) -> Figure:
    """Effects on the measure, the greatest at the top, each bar marked by the origin of its number."""
    shown = result.ranking.iloc[:_MOST_BARS]
    study = result.loaded.scenario.study
    first = shown.iloc[0]
    title = f"{result.plan.measure} hangs most on {short(str(shown.index[0]), _LONGEST_NAME)} ({first['from']})"
    note = (
        f"{short(result.loaded.scenario.venue.name, 48)}: {result.runs} runs of {study.days} days, the first "
        f"{study.warm_up} left out; seed {study.seed}; strength {study.strength:g}; the same visitors throughout. "
        "Whiskers: 95 % intervals over trajectories."
    )
    figure, axes = new_figure(title, f"effect of the whole range ({_unit(result)})", "", note)
    places = np.arange(len(shown))[::-1]
    origins = [str(source) for source in shown["from"]]
    for place, source, (_, row) in zip(places, origins, shown.iterrows(), strict=True):
        kind = _ORIGINS.index(source)
        half = 0.0 if math.isnan(row["half_width"]) else row["half_width"]
        axes.barh(place, row["effect"], color=COLOURS[kind], hatch=_HATCHES[kind], edgecolor="white", height=0.72)
        axes.errorbar(row["effect"], place, xerr=half, fmt="none", ecolor=INK, elinewidth=1, capsize=2)
    axes.set_yticks(places, [short(str(key), _LONGEST_NAME) for key in shown.index], fontsize=9)
    axes.set_ylim(-0.7, len(shown) - 0.3)
    axes.set_xlim(left=0)
    axes.grid(visible=False, axis="y")
    handles = [
        Patch(facecolor=COLOURS[kind], hatch=_HATCHES[kind], edgecolor="white", label=name)
        for kind, name in enumerate(_ORIGINS)
        if name in origins
    ]
    axes.legend(handles=handles, title="the number is", loc="lower right", frameon=True, edgecolor=GREY, fontsize=9)
    figure.set_size_inches(8.4, max(3.2, 1.5 + 0.28 * len(shown)))
    return figure
