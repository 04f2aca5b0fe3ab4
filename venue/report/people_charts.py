"""What people did, as charts: who comes back when, the way to the steady state, what is taken at which margin."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from venue.report.columns import short
from venue.report.drawing import COLOURS, DASHES, GREY, MARKERS, label_ends, new_figure, new_panels
from venue.report.heading import LONGEST_NAME, note
from venue.scenario.load import Loaded
from venue.study.point import Point

Plain = dict[str, Any]

_BANDS = "Bands: 95 % intervals."
_MOST_COHORTS = 4
# Margins with fewer offers than this share of a title's are left out of its chart: their means say little.
_LEAST_SHARE = 0.002


def people_charts(loaded: Loaded, point: Point) -> dict[str, Figure]:
    """All of them by file name, those that there is something to draw in."""
    found = {
        "cohorts": cohorts_chart(loaded, point),
        "weeks": weeks_chart(loaded, point),
        "by-margin": margins_chart(loaded, point),
    }
    return {name: figure for name, figure in found.items() if figure is not None}


def _line(axes: Axes, x: Sequence[float], items: Sequence[Plain], index: int, *, band: bool = True) -> None:
    """A line of means with its band; the band only where every interval is known."""
    axes.plot(x, [item["mean"] for item in items], color=COLOURS[index], ls=DASHES[index], marker=MARKERS[index], ms=4)
    if band and all(item["low"] is not None for item in items):
        low, high = ([item[name] for item in items] for name in ("low", "high"))
        axes.fill_between(x, low, high, color=COLOURS[index], alpha=0.15, lw=0)


def cohorts_chart(loaded: Loaded, point: Point) -> Figure | None:
    """Share that has come back by days after the visit: all visits, and first-time visitors of a few weeks."""
    everybody = point.return_curve()
    if not everybody:
        return None
    cohorts = [cohort for cohort in point.cohorts() if len(cohort["curve"]) > 1]
    picked = dict.fromkeys(round(part * (len(cohorts) - 1) / (_MOST_COHORTS - 1)) for part in range(_MOST_COHORTS))
    lines = [("all visits", everybody)]
    lines += [(f"first visit in week {cohorts[index]['week']}", cohorts[index]["curve"]) for index in picked if cohorts]
    day = max((row["days"] for row in everybody if row["days"] <= 28), default=everybody[0]["days"])
    share = next(row["mean"] for row in everybody if row["days"] == day)
    figure, axes = new_figure(
        f"{share:.1%} of visits are followed by another within {day} days, at {point.name}", "days after the visit",
        "come back by then (share)",
        note(loaded, len(point.replications), "Kaplan-Meier; the band of all visits is the 95 % interval."),
    )  # fmt: skip
    for index, (_, curve) in enumerate(lines):
        start = {"days": 0, "mean": 0.0, "low": 0.0, "high": 0.0}
        _line(axes, [0, *(row["days"] for row in curve)], [start, *curve], index, band=index == 0)
    axes.set_ylim(0, max(axes.get_ylim()[1], 1e-9))
    label_ends(axes, [(name, curve[-1]["mean"]) for name, curve in lines], [curve[-1]["days"] for _, curve in lines])
    return figure


WEEKLY = {
    "visits_per_hour": "visits per open hour",
    "credits_per_hour": "credits per open hour",
    "suspicion": "suspicion (level)",
}


def weeks_chart(loaded: Loaded, point: Point) -> Figure | None:
    """Visits, take and suspicion by week of the run, the warm-up shaded."""
    weeks = [week for week in point.weeks() if all(name in week for name in WEEKLY)]
    if len(weeks) < 2:
        return None
    first, last = (week["visits_per_hour"]["mean"] for week in (weeks[0], weeks[-1]))
    title = (
        f"Visits per open hour go from {first:.1f} in week {weeks[0]['week']} to {last:.1f} in week {weeks[-1]['week']}"
    )
    grey = " Grey: weeks that the warm-up reaches into." if any(week["warm_up"] for week in weeks) else ""
    figure, panels = new_panels(f"{title}, at {point.name}", ["week of the run"] * len(WEEKLY),
                                note(loaded, len(point.replications), _BANDS) + grey)  # fmt: skip
    numbers = [week["week"] for week in weeks]
    for index, (axes, (name, meaning)) in enumerate(zip(panels, WEEKLY.items(), strict=True)):
        axes.set_title(meaning, loc="left", fontsize=9)
        _line(axes, numbers, [week[name] for week in weeks], index)
        axes.set_ylim(0, max(axes.get_ylim()[1], 1e-9))
        axes.xaxis.set_major_locator(MaxNLocator(integer=True))
        for week in weeks:
            if week["warm_up"]:
                axes.axvspan(week["week"] - 0.5, week["week"] + 0.5, color=GREY, alpha=0.12, lw=0, zorder=0)
    return figure


def margins_chart(loaded: Loaded, point: Point) -> Figure | None:
    """Buy-ins taken, perceived and true chance against margin, for the title with the most offers at breaks."""
    found = point.by_margin()
    if not found:
        return None
    titles = {item["title"]: 0 for item in found}
    for item in found:
        titles[item["title"]] += item["offers"]
    title = max(titles, key=lambda name: titles[name])
    items = [item for item in found if item["title"] == title and item["offers"] >= _LEAST_SHARE * titles[title]]
    worst = max(items, key=lambda item: abs(item["perceived"]["mean"] - item["true"]["mean"]))
    name = short(loaded.scenario.titles[title].label or title, LONGEST_NAME)
    figure, axes = new_figure(
        f"{name}: at {worst['margin']:+d} visitors see a chance of {worst['perceived']['mean']:.0%} where it is "
        f"{worst['true']['mean']:.0%}, and {worst['taken']['mean']:.0%} go on",
        "points ahead at the break", "share of offers taken; chance to win",
        note(loaded, len(point.replications), _BANDS + " Margins with few offers are left out."),
    )  # fmt: skip
    margins = [item["margin"] for item in items]
    lines = {"taken": "taken", "perceived": "perceived chance", "true": "true chance"}
    for index, key in enumerate(lines):
        _line(axes, margins, [item[key] for item in items], index)
    top = max(1.0, *(item[key]["mean"] for item in items for key in lines))
    axes.set_ylim(0, math.ceil(20 * top) / 20)
    label_ends(axes, [(text, items[-1][key]["mean"]) for key, text in lines.items()], float(margins[-1]))
    return figure
