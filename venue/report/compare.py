"""A comparison as tables: what differs most, and how sure that is."""

from __future__ import annotations

import math

import pandas as pd

from venue.report.columns import in_columns, left, paragraph, room, short
from venue.report.figures import decimals, number
from venue.report.heading import heading
from venue.report.tables import caution, how, precision
from venue.study.compare import CompareResult, Comparison, Difference

_LONGEST_NAME = 56
_MOST_PLACES = 6


def compare_text(result: CompareResult, width: int = 100) -> str:
    """Differences as text, one table for each scenario against the first."""
    names = [short(name, _LONGEST_NAME) for name in result.names]
    replications = result.loaded.scenario.study.replications
    parts = [heading(result.loaded, f"compared with {names[0]}; {how(result.loaded, replications)}", width)]
    for item, name in zip(result.comparisons, names[1:], strict=True):
        parts += [paragraph(_finding(item, name, names[0]), width), _table(item, width)]
    parts += [paragraph(_reading(replications), width), *precision(result.reached, width), caution(width)]
    return "\n\n".join(parts)


def _finding(item: Comparison, name: str, base: str) -> str:
    apart = [difference for difference in item.differences if difference.told_apart]
    if not apart:
        return f"{name} against {base}: no measure surely differs."
    first = apart[0]
    change = "" if math.isnan(first.change) else f" ({first.change:+.1%})"
    return (
        f"{name} against {base}: {len(apart)} of {len(item.differences)} measures surely differ, most of all "
        f"{first.measure}{change}."
    )


def _table(item: Comparison, width: int) -> str:
    rows = [_row(difference) for difference in item.differences]
    head = ["measure", "before", "after", "difference", "95 % interval", "change", "runs\nsaved", "unit"]
    units = max(room(row[-1]) for row in [["unit"], *rows])
    rows = [[*row[:-1], left(row[-1], units)] for row in rows]
    head[-1] = left(head[-1], units)
    # The unit goes where the line is too short for it.
    widths = [max(max(map(room, head[place].split("\n"))), *(room(row[place]) for row in rows)) for place in range(8)]
    if sum(widths) + 14 > width:
        head, rows = head[:-1], [row[:-1] for row in rows]
    return in_columns(head, rows, width=width, caption=f"{item.name}: differences, the largest first")


def _places(item: Difference) -> int:
    """Decimals that the interval deserves, and as many more as it takes to show that a sure one ends before nought."""
    low, high = item.estimate.low, item.estimate.high
    places = decimals(item.estimate.half_width, item.estimate.mean)
    near = min(abs(low), abs(high))
    while item.told_apart and round(near, places) == 0.0 and places < _MOST_PLACES:
        places += 1
    return places


def _row(item: Difference) -> list[str]:
    places = _places(item)
    unknown = math.isnan(item.estimate.low)
    span = "-" if unknown else f"{number(item.estimate.low, places, '+')} to {number(item.estimate.high, places, '+')}"
    change = "-" if math.isnan(item.change) else f"{item.change:+.1%}"
    ratio = item.variance_ratio
    saved = "-" if math.isnan(ratio) else "all" if math.isinf(ratio) else f"{ratio:.1f} x"
    return [
        item.measure + ("" if item.told_apart else " ~"), number(item.base, places), number(item.other, places),
        number(item.estimate.mean, places, "+"), span, change, saved, item.unit,
    ]  # fmt: skip


def _reading(replications: int) -> str:
    if replications == 1:
        return "One replication: differences without intervals, and none of them sure (~)."
    return (
        "Differences replication by replication, on the same visitors; ~ marks those whose interval reaches over "
        "nought. Each interval is right 19 times in 20, so of 20 measures that do not differ one may be called "
        "different. Runs saved: how many times more replications scenarios with visitors of their own would have "
        "taken for the same precision, measured here."
    )


def compare_tables(result: CompareResult) -> dict[str, pd.DataFrame]:
    """Tables by file name."""
    return {"differences": result.differences.reset_index(), "measures": result.measures.reset_index()}
