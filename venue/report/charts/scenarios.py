"""Charts of a comparison and of what an answer depends on: a bar or a mark for each measure or number."""

from __future__ import annotations

import math

import numpy as np
from matplotlib.patches import Patch

from venue.report.charts.frame import (
    FOLDER,
    LEAST_SPAN,
    PAGE,
    Chart,
    Theme,
    blank,
    change_limits,
    legend_over,
    percents,
)
from venue.report.columns import short
from venue.report.drawing import COLOURS, GREY, INK
from venue.report.page.reading import Study
from venue.report.sentences import changes, numbers
from venue.report.sentences.parts import sentence_text
from venue.scenario.numbers import DEFAULT, NOT_STATED
from venue.study.floor_records import CompareRecord, Comparison
from venue.study.records import Record
from venue.study.registry import MEASURES

# Measures by what is asked first, and how many there is room for.
_FOREMOST = ("credits_per_hour", "profit_per_week", "better_side_wins", "return_28d", "empty_wallets", "close_finishes",
             "skill_edge", "plays_per_visit", "visits_per_hour", "wait_minutes")  # fmt: skip
_ROOM = {PAGE: 6, FOLDER: 16}
_ORIGINS = ("measured", "fitted", "common practice", "assumed", NOT_STATED, DEFAULT)
_HATCHES = ("", "", "..", "//", "xx", "\\\\")


def ranking_chart(study: Study, theme: Theme) -> Chart | None:
    """Effects of the scenario's numbers on a measure, each bar marked by the origin of its number."""
    sensitivity = study.record.sensitivity
    every = [] if sensitivity is None else [row for row in sensitivity.numbers if not math.isnan(row.effect)]
    if sensitivity is None or not every:
        return None
    rows = every[: _ROOM[theme]]
    finding = numbers.changes_most(rows[0])
    height = max(2.4, 1.3 + 0.27 * len(rows))
    figure, axes = blank(theme, f"effect ({sensitivity.unit})", "", height=height)
    origins = [row.source for row in rows]
    for place, row, source in zip(range(len(rows), 0, -1), rows, origins, strict=True):
        kind = _ORIGINS.index(source) if source in _ORIGINS else len(_ORIGINS) - 1
        axes.barh(place, row.effect, color=COLOURS[kind], hatch=_HATCHES[kind], edgecolor="white", height=0.72)
        axes.errorbar(
            row.effect,
            place,
            xerr=0.0 if math.isnan(row.half_width) else row.half_width,
            fmt="none",
            ecolor=INK,
            elinewidth=1,
            capsize=2,
        )
    axes.set_yticks(range(len(rows), 0, -1), [short(row.number, 30) for row in rows], fontsize=9)
    axes.set_ylim(0.3, len(rows) + 0.7)
    axes.set_xlim(left=0)
    axes.grid(visible=False, axis="y")
    handles = [Patch(facecolor=COLOURS[kind], hatch=_HATCHES[kind], edgecolor="white", label=name)
               for kind, name in enumerate(_ORIGINS) if name in origins]  # fmt: skip
    legend_over(axes, handles, [str(handle.get_label()) for handle in handles], columns=2, right=True)
    alt = f"Bar chart of effects. {finding}. " + "; ".join(
        f"{row.number} ({row.source}): {row.effect:.3g}" for row in rows
    )
    left_out = len(every) - len(rows)
    rest = f" The {len(rows)} greatest; {left_out} smaller are left out." if left_out else ""
    return Chart(
        "ranking",
        finding,
        figure,
        alt,
        f"Effect: of the whole range in which the number may lie. Whiskers: 95 % intervals.{rest}",
    )


def difference_charts(study: Study, theme: Theme) -> list[Chart]:
    """A chart for each scenario against the first."""
    data = study.record.data
    every = data.comparisons if isinstance(data, CompareRecord) else ()
    titles = _titles(data)
    made = [_differences(theme, "differences" if len(every) == 1 else f"differences-{place}", item, title)
            for place, (item, title) in enumerate(zip(every, titles, strict=True), 1)]  # fmt: skip
    return [chart for chart in made if chart is not None]


def _titles(data: Record) -> list[str]:
    """What each scenario of a comparison changes, a line each."""
    return [sentence_text(changes.change_title(found, rows)) for found, rows in changes.of_record(data)]


def _differences(theme: Theme, name: str, comparison: Comparison, finding: str) -> Chart | None:
    """Change of each measure in percent of the first scenario's, with paired intervals."""
    told = [row for row in comparison.differences if not math.isnan(row.change)]
    rows = sorted((row for row in told if row.measure in _FOREMOST), key=lambda row: _FOREMOST.index(row.measure))
    rows += [row for row in told if row.measure not in _FOREMOST]
    rows = rows[: _ROOM[PAGE] if theme is PAGE else len(rows)]
    if not rows:
        return None
    base = short(comparison.against, 30)
    height = max(2.3, 0.95 + 0.24 * len(rows))
    figure, axes = blank(theme, f"change against {base}", "", height=height)
    axes.axvline(0.0, color=GREY, lw=1, zorder=0)
    places, ends = np.arange(len(rows))[::-1], [-LEAST_SPAN, LEAST_SPAN]
    for at, row in zip(places, rows, strict=True):
        scale = 100.0 / abs(row.base)
        half = 0.0 if math.isnan(row.low) else (row.high - row.low) / 2 * scale
        middle = row.difference * scale
        ends += [middle - half, middle + half]
        colour = COLOURS[0] if row.told_apart else GREY
        axes.errorbar(middle, at, xerr=half, fmt="o", ms=5, color=colour, capsize=3,
                      mfc=colour if row.told_apart else "white")  # fmt: skip
    change_limits(axes, "x", ends)
    percents(axes, "x", scale=1.0, sign="+")
    axes.set_yticks(places, [_words(row.measure) for row in rows], color=INK, fontsize=9)
    axes.set_ylim(-0.7, len(rows) - 0.3)
    alt = f"Chart of changes with intervals. {finding}. " + "; ".join(
        f"{_words(row.measure)}: {100 * row.change:+.1f} %{'' if row.told_apart else ' (not surely)'}" for row in rows
    )
    rest = f" {len(told) - len(rows)} more are in the table." if len(rows) < len(told) else ""
    note = f"Bars: 95 % intervals of the difference, on the same visitors; hollow where it may be chance.{rest}"
    return Chart(name, finding, figure, alt, note)


def _words(measure: str) -> str:
    return MEASURES[measure].label if measure in MEASURES else measure.replace("_", " ")
