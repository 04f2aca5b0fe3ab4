"""Charts that are of no sweep: what the answer hangs on, what differs between scenarios, and those of a title."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from matplotlib.figure import Figure
from matplotlib.patches import Patch

from venue.report.columns import short
from venue.report.drawing import COLOURS, GREY, INK
from venue.report.page.picture import Chart
from venue.report.page.strokes import blank
from venue.scenario.numbers import DEFAULT, NOT_STATED

_MOST_BARS = 12
_ORIGINS = ("measured", "fitted", "common practice", "assumed", NOT_STATED, DEFAULT)
_HATCHES = ("", "", "..", "//", "xx", "\\\\")


def hangs_on_chart(sensitivity: Mapping[str, Any]) -> Chart | None:
    """Effects of the scenario's numbers on a measure, each bar marked by the origin of its number."""
    rows = [row for row in sensitivity["numbers"] if row.get("effect") is not None][:_MOST_BARS]
    if not rows:
        return None
    first = rows[0]
    finding = f"{sensitivity['measure']} hangs most on {short(str(first['number']), 40)}, which is {first['from']}"
    figure, axes = blank(
        f"effect of its whole range ({sensitivity['unit']})", "", (5.6, max(2.4, 1.3 + 0.27 * len(rows)))
    )
    origins = [str(row["from"]) for row in rows]
    for place, row, source in zip(range(len(rows), 0, -1), rows, origins, strict=True):
        kind = _ORIGINS.index(source) if source in _ORIGINS else len(_ORIGINS) - 1
        axes.barh(place, row["effect"], color=COLOURS[kind], hatch=_HATCHES[kind], edgecolor="white", height=0.72)
        axes.errorbar(
            row["effect"], place, xerr=row.get("half_width") or 0.0, fmt="none", ecolor=INK, elinewidth=1, capsize=2
        )
    axes.set_yticks(range(len(rows), 0, -1), [short(str(row["number"]), 30) for row in rows], fontsize=8)
    axes.set_xlim(left=0)
    axes.grid(visible=False, axis="y")
    handles = [Patch(facecolor=COLOURS[kind], hatch=_HATCHES[kind], edgecolor="white", label=name)
               for kind, name in enumerate(_ORIGINS) if name in origins]  # fmt: skip
    axes.legend(handles=handles, title="the number is", loc="lower right", frameon=False, fontsize=8, title_fontsize=8)
    alt = f"Bar chart of effects. {finding}. " + "; ".join(
        f"{row['number']} ({row['from']}): {row['effect']:.3g}" for row in rows
    )
    return Chart("hangs-on", finding, figure, alt, "Whiskers: 95 % intervals.", wide=True)


def differences_chart(place: int, comparison: Mapping[str, Any], finding: str) -> Chart | None:
    """Change of each measure in percent of the first scenario's, with paired intervals."""
    rows: Sequence[Mapping[str, Any]] = [row for row in comparison["differences"] if row.get("change") is not None]
    if not rows:
        return None
    base = short(str(comparison["against"]), 30)
    figure, axes = blank(f"change against {base} (% of its mean)", "", (5.6, max(2.6, 1.1 + 0.24 * len(rows))))
    axes.axvline(0.0, color=GREY, lw=1, zorder=0)
    places = np.arange(len(rows))[::-1]
    for at, row in zip(places, rows, strict=True):
        scale = 100.0 / abs(row["base"])
        half = 0.0 if row.get("low") is None else (row["high"] - row["low"]) / 2 * scale
        colour = COLOURS[0] if row["told_apart"] else GREY
        axes.errorbar(row["difference"] * scale, at, xerr=half, fmt="o", ms=5, color=colour, capsize=3,
                      mfc=colour if row["told_apart"] else "white")  # fmt: skip
    axes.set_yticks(places, [str(row["measure"]).replace("_", " ") for row in rows], color=INK, fontsize=8)
    axes.set_ylim(-0.7, len(rows) - 0.3)
    alt = f"Chart of changes with intervals. {finding}. " + "; ".join(
        f"{row['measure']}: {100 * row['change']:+.1f} %{'' if row['told_apart'] else ' (not surely)'}" for row in rows
    )
    note = "Bars: 95 % intervals of the difference in pairs, on the same visitors; hollow where the sign is in doubt."
    return Chart(f"differences-{place}", finding, figure, alt, note, wide=True)


def adopted(name: str, figure: Figure) -> Chart:
    """A chart made with its title in it, taken apart for the page."""
    first = figure.axes[0]
    finding = _percents(" ".join((figure.get_suptitle() or first.get_title(loc="left")).split()))
    note = _percents(" ".join(figure.get_supxlabel().split()))
    figure.suptitle("")
    figure.supxlabel("")
    first.set_title("", loc="left")
    return Chart(name, finding, figure, f"Chart. {finding}.", note, wide=True)


def _percents(text: str) -> str:
    """Percentages as the page writes them."""
    return re.sub(r"(\d)%", r"\1 %", text)
