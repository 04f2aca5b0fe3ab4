"""What people did, as tables for people: offers by margin, why they moved on or left, the weeks of a run."""

from __future__ import annotations

import math
from typing import Any

from venue.report.columns import in_columns, left, short
from venue.report.figures import number
from venue.report.heading import LONGEST_NAME
from venue.scenario.load import Loaded
from venue.study.point import Point

Plain = dict[str, Any]

_MOST_BANDS = 7
# What lies beyond bands of a table: a share of the offers at either end.
_TAIL = 0.01
_RETURN_DAYS = 28
_WHY = "Why visits ended, and why people went to other machines"


def people_tables(loaded: Loaded, point: Point, width: int) -> list[str]:
    """The tables of a run, those that there is something to say in."""
    return [
        table for table in (_reasons(point, width), _by_margin(loaded, point, width), _weeks(point, width)) if table
    ]


def _reasons(point: Point, width: int) -> str:
    """Why people left, and why they went to other machines instead."""
    gone, moved = point.left_because(), point.moved_because()
    rows = [
        [reason, f"{gone[reason]:.1%}" if reason in gone else "-", f"{moved[reason]:.1%}" if reason in moved else "-"]
        for reason in dict.fromkeys([*gone, *moved])
    ]
    head = ["because", "left (share\nof visits)", "moved on (share\nof changes)"]
    count = 3 if moved else 2
    return in_columns(head[:count], [row[:count] for row in rows], width=width, caption=_WHY) if rows else ""


def _by_margin(loaded: Loaded, point: Point, width: int) -> str:
    """Offers at breaks: how many, how many taken, what visitors thought of their chance, and what it was."""
    rows = []
    found = point.by_margin()
    for title in dict.fromkeys(item["title"] for item in found):
        items = [item for item in found if item["title"] == title]
        total = sum(item["offers"] for item in items)
        for label, band in banded(items):
            offers = sum(item["offers"] for item in band)
            means = [
                f"{sum(item['offers'] * item[name]['mean'] for item in band) / offers:.3f}"
                for name in ("taken", "perceived", "true")
            ]
            rows.append([short(loaded.scenario.titles[title].label or title, LONGEST_NAME), label,
                         f"{offers / total:.1%}", *means])  # fmt: skip
    if not rows:
        return ""
    head = [
        "offers at breaks",
        "points ahead",
        "share of\noffers",
        "taken\n(share)",
        "perceived\nchance",
        "true\nchance",
    ]
    return in_columns(head, rows, width=width, caption="Offers at period breaks, by points ahead")


def banded(items: list[Plain]) -> list[tuple[str, list[Plain]]]:
    """Margins of one title in a few bands of equal width about level, the ends open; those without offers left out."""
    total = sum(item["offers"] for item in items)
    unit = items[0]["band"]
    reach, beyond = 0, total
    for item in sorted(items, key=lambda item: abs(item["margin"])):
        if beyond <= _TAIL * total:
            break
        beyond -= item["offers"]
        reach = abs(item["margin"]) // unit
    # As many bands on either side of level as it takes; each an odd number of units wide.
    half = math.ceil(((2 * reach + 1) / _MOST_BANDS - 1) / 2)
    size = 2 * half + 1
    sides = max(math.ceil((reach - half) / size), 0)
    bands: dict[int, list[Plain]] = {}
    for item in items:
        place = round(item["margin"] / unit / size)
        bands.setdefault(max(-sides, min(sides, place)), []).append(item)
    return [(_label(place, sides, size * unit), bands[place]) for place in sorted(bands)]


def _label(place: int, sides: int, size: int) -> str:
    low, high = place * size - size // 2, place * size + size // 2
    if place == -sides:
        return "any" if not sides else f"{high} or less"
    if place == sides:
        return f"{low} or more"
    return f"{low}" if low == high else f"{low} to {high}"


def _weeks(point: Point, width: int) -> str:
    """The way to the steady state, in a few of the weeks, with what became of their first-time visitors."""
    weeks = point.weeks()
    cohorts = {cohort["week"]: cohort for cohort in point.cohorts()}
    last = len(weeks)
    rows = []
    for place, week in enumerate(weeks, start=1):
        if place != last and place & (place - 1):
            continue  # first, second, fourth, eighth …, and the last
        cohort = cohorts.get(week["week"], {"curve": []})
        back = [row["mean"] for row in cohort["curve"] if row["days"] == _RETURN_DAYS]
        rows.append(
            [
                f"{week['week']}" + (" (warm-up)" if week["warm_up"] else ""),
                number(week["visits_per_hour"]["mean"], 2),
                number(week["credits_per_hour"]["mean"], 1),
                number(week["suspicion"]["mean"], 3) if "suspicion" in week else "-",
                number(cohort["visitors"], 0) if cohort["curve"] else "-",
                number(back[0], 3) if back else "-",
            ]
        )
    if not rows:
        return ""
    size = max(len(row[0]) for row in rows)
    head = ["week", "visits per\nopen hour", "credits per\nopen hour", "suspicion\n(level)", "first-time\nvisitors",
            "of them back\nwithin 28 d"]  # fmt: skip
    cells = [[left(row[0], size), *row[1:]] for row in rows]
    return in_columns(head, cells, width=width, caption="Weeks on the way to the steady state")
