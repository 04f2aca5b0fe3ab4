"""Charts of a course within each setting: the day, the weeks, the time until people come back, the margin of a contest.

Settings lie over one another in one frame, so that they can be compared; the chosen one stands out, the others are
faint.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.ticker import MaxNLocator

from venue.report.columns import short
from venue.report.drawing import COLOURS, DASHES, GREY, INK, MARKERS, label_ends
from venue.report.page.figures import percent, shown
from venue.report.page.picture import Chart, ghost_at, only_at
from venue.report.page.reading import Offer, SettingView, Study
from venue.report.page.strokes import LABEL, band, blank, percents
from venue.report.weeks import Weeks
from venue.study.intervals import Estimate, estimate_of

_MOST_LINES = 5
_MOST_COHORTS = 5
# A margin at which so few of the offers were made says nothing.
_LEAST_OFFERS = 0.002
_MONTH = 28.0
# From so many days on a week's first visitors are drawn, and compared.
_WEEK, _FORTNIGHT = 7.0, 14.0
# A share known to so much, either way, can stand in a title.
_KNOWN = 0.1
_MARGIN = "points ahead at the offer (negative: behind)"
_OFFERS = "Offers of the next period, made at breaks. Bands: 95 % intervals."

Points = Sequence[tuple[float, Estimate]]


@contextmanager
def _belonging(axes: Axes, place: int, mark: Callable[[Artist, int], None] = ghost_at) -> Iterator[None]:
    """Whatever is drawn within belongs to one setting."""
    before = set(axes.get_children())
    yield
    for artist in axes.get_children():
        if artist not in before:
            mark(artist, place)


def _labels(axes: Axes, ends: Mapping[int, tuple[list[tuple[str, float]], float]]) -> None:
    """Names at the ends of each setting's lines, shown with it."""
    for place, (names, last) in ends.items():
        with _belonging(axes, place, only_at):
            label_ends(axes, names, last)


def hours_chart(study: Study) -> Chart | None:
    """Credits per open hour by hour of day, a line for each row of machines."""
    found = [item for item in study.overlaid if item.hours]
    if not found:
        return None
    rows = {item.place: _foremost(study, item) for item in found}
    every = np.array([values for lines in rows.values() for _, values in lines])
    hours = _open_hours(every)
    if not len(hours):
        return None
    figure, axes = blank("hour of day (14 is 14:00 to 15:00)", "credits per open hour")
    ends = {}
    for item in found:
        lines = rows[item.place]
        with _belonging(axes, item.place):
            _day(axes, lines, hours)
        ends[item.place] = (
            [(name, float(np.nan_to_num(values[hours[-1]]))) for name, values in lines],
            float(len(hours) - 1),
        )
    axes.set_ylim(0, max(float(np.nanmax(every)) * 1.06, 1e-9))
    axes.set_xticks(range(0, len(hours), 2), [f"{hour:02d}" for hour in hours[::2]])
    _labels(axes, ends)
    shown_first = rows.get(study.first_shown.place) or next(iter(rows.values()))
    total = np.nansum([values for _, values in shown_first], axis=0)
    peak = int(hours[np.argmax(total[hours])])
    finding = f"Busiest from {peak:02d}:00: {total[peak]:.1f} credits per open hour from all machines{_here(study)}"
    alt = f"Line chart of the take by hour of day, a line for each row of machines. {finding}."
    return Chart("by-hour", finding, figure, alt, _ghosts(study))


def _here(study: Study) -> str:
    """Which setting a title speaks of, where there are several."""
    return f", at {study.first_shown.name}" if study.keys and len(study.settings) > 1 else ""


def _ghosts(study: Study) -> str:
    if len(study.settings) < 2:
        return ""
    some = (
        ""
        if len(study.overlaid) == len(study.settings)
        else f"{len(study.overlaid)} of {len(study.settings)} are drawn. "
    )
    return f"In full: the chosen {study.word}; faint: the others. {some}"


def _foremost(study: Study, item: SettingView) -> list[tuple[str, np.ndarray[Any, Any]]]:
    """The machines that take most, by name, and the rest of them together."""
    names = study.record.loaded.scenario.machines
    rows = [(short(names[key].label or key if key in names else key, LABEL), np.array(values, dtype=float))
            for key, values in study.first_shown.hours.items()]  # fmt: skip
    order = np.argsort([-np.nansum(values) for _, values in rows], kind="stable").tolist()
    own = [(rows[place][0], np.array(list(item.hours.values())[place], dtype=float)) for place in order]
    if len(own) <= _MOST_LINES + 1:
        return own
    rest = own[_MOST_LINES:]
    return [*own[:_MOST_LINES], (f"{len(rest)} others", np.nansum([values for _, values in rest], axis=0))]


def _open_hours(values: np.ndarray[Any, Any]) -> np.ndarray[Any, Any]:
    """Hours in which anything is open, in the order of a business day: the longest closed spell is its night."""
    hours = np.flatnonzero(~np.isnan(values).all(axis=0))
    if 0 < len(hours) < 24:
        gaps = np.diff(np.append(hours, hours[0] + 24))
        hours = np.roll(hours, -(int(np.argmax(gaps)) + 1))
    return hours


def _day(axes: Axes, lines: Sequence[tuple[str, np.ndarray[Any, Any]]], hours: np.ndarray[Any, Any]) -> None:
    for index, (_, values) in enumerate(lines):
        axes.plot(range(len(hours)), values[hours], color=COLOURS[index % 7], ls=DASHES[index % 7],
                  marker=MARKERS[index % 7], ms=3.5)  # fmt: skip


def return_chart(study: Study) -> Chart | None:
    """Share of visits followed by another, by the days since."""
    curves = {item.place: curve_of(item.plain.get("return_curve")) for item in study.overlaid}
    curves = {place: curve for place, curve in curves.items() if len(curve) > 1}
    if not curves:
        return None
    figure, axes = blank("days since the visit", "followed by another visit")
    for place, curve in curves.items():
        with _belonging(axes, place):
            _step(axes, curve, 0)
    _month(axes, max(point for curve in curves.values() for point, _ in curve))
    percents(axes, "share")
    axes.set_ylim(bottom=0)
    first = curves.get(study.first_shown.place) or next(iter(curves.values()))
    day, end = max((point for point in first if point[0] <= _MONTH), default=first[-1], key=lambda point: point[0])
    finding = f"{shown(end, 'share')} of visits are followed by another within {day:g} days{_here(study)}"
    return Chart(
        "return-curve",
        finding,
        figure,
        f"Curve of the share of visits followed by another, by days. {finding}.",
        f"Kaplan–Meier estimate; band: 95 % interval. {_ghosts(study)}",
    )


def curve_of(rows: Any) -> list[tuple[float, Estimate]]:
    """A curve over days, as plain data has it."""
    found = [(float(row["days"]), estimate_of(row)) for row in rows or ()]
    return [(days, item) for days, item in found if item is not None]


def _step(axes: Axes, curve: Points, index: int) -> None:
    days = [day for day, _ in curve]
    axes.plot(days, [item.mean for _, item in curve], color=COLOURS[index], ls=DASHES[index], lw=1.8)
    ends = [(item.mean, item.mean) if math.isnan(item.low) else (item.low, item.high) for _, item in curve]
    axes.fill_between(
        days, [low for low, _ in ends], [high for _, high in ends], color=COLOURS[index], alpha=0.18, lw=0
    )


def _month(axes: Axes, last: float) -> None:
    if last >= _MONTH:
        axes.axvline(_MONTH, color=GREY, lw=1, ls=(0, (2, 2)), zorder=0)
        axes.annotate(
            "28 days",
            (_MONTH, 1.0),
            xycoords=("data", "axes fraction"),
            xytext=(0, 3),
            textcoords="offset points",
            fontsize=9,
            color=GREY,
            va="bottom",
            ha="center",
        )


def cohort_chart(study: Study) -> Chart | None:
    """First-time visitors of each week: how many have come back by so many days."""
    found = {item.place: _cohorts(item) for item in study.overlaid}
    found = {place: cohorts for place, cohorts in found.items() if cohorts}
    if not found:
        return None
    figure, axes = blank("days since the first visit", "have come back")
    tops = [item.mean for cohorts in found.values() for _, curve in cohorts for _, item in curve]
    axes.set_ylim(0, max(1.1 * max(tops), 1e-9))
    last = max(day for cohorts in found.values() for _, curve in cohorts for day, _ in curve)
    for place, cohorts in found.items():
        with _belonging(axes, place, only_at):
            _weeks_of(axes, cohorts)
    _month(axes, last)
    percents(axes, "share")
    cohorts = found.get(study.first_shown.place) or next(iter(found.values()))
    _name_weeks(axes, [week for week, _ in cohorts])
    finding = f"{_earlier_and_later(cohorts)}{_here(study)}"
    weeks = ", ".join(str(week) for week, _ in cohorts)
    return Chart(
        "cohorts",
        finding,
        figure,
        f"Curves of first-time visitors who have come back, a line for each of some weeks. {finding}.",
        f"Kaplan–Meier estimates, a line for those who first came in week {weeks}. "
        f"{'Shown for the chosen ' + study.word + '.' if len(study.settings) > 1 else ''}",
    )


def _earlier_and_later(cohorts: Sequence[tuple[int, Points]]) -> str:
    """How many of the first week's and of a late week's visitors are back, by a day that both can tell of."""
    long = [item for item in cohorts if item[1][-1][0] >= _FORTNIGHT]
    (one, first), (other, newest) = cohorts[0], (long or cohorts)[-1]
    reach = min(first[-1][0], newest[-1][0])
    early, late = (max((point for point in curve if point[0] <= reach), key=lambda point: point[0])[1]
                   for curve in (first, newest))  # fmt: skip
    finding = f"{shown(early, 'share')} of those who first came in week {one} are back within {reach:g} days"
    return finding if other == one else f"{finding}; {shown(late, 'share')} of week {other}'s"


def _cohorts(item: SettingView) -> list[tuple[int, Points]]:
    rows: list[tuple[int, Points]] = [
        (int(row["week"]), curve_of(row.get("curve"))) for row in item.plain.get("cohorts") or ()
    ]
    rows = [(week, curve) for week, curve in rows if len(curve) > 1]
    rows = [(week, curve) for week, curve in rows if curve[-1][0] >= _WEEK] or rows
    if len(rows) <= _MOST_COHORTS:
        return rows
    places = np.linspace(0, len(rows) - 1, _MOST_COHORTS).round().astype(int).tolist()
    return [rows[place] for place in places]


def _weeks_of(axes: Axes, cohorts: Sequence[tuple[int, Points]]) -> None:
    for index, (_, curve) in enumerate(cohorts):
        axes.plot(
            [day for day, _ in curve], [item.mean for _, item in curve], color=COLOURS[index], ls=DASHES[index], lw=1.6
        )


def _name_weeks(axes: Axes, weeks: Sequence[int]) -> None:
    """Names of the lines where curves that rise to the right leave room."""
    handles = [Line2D([], [], color=COLOURS[index], ls=DASHES[index], lw=1.6, label=f"week {week}")
               for index, week in enumerate(weeks)]  # fmt: skip
    axes.legend(
        handles=handles, title="first visit in", loc="lower right", fontsize=9, title_fontsize=9, labelcolor=INK,
        facecolor="white", edgecolor="none", framealpha=0.9, handlelength=2.6, borderaxespad=0.2, labelspacing=0.3,
    )  # fmt: skip


def steady_chart(study: Study) -> Chart | None:
    """The take week by week: whether the warm-up that is left out was long enough."""
    found = {item.place: weeks for item in study.overlaid if (weeks := study.weeks(item)) is not None}
    if not found:
        return None
    figure, axes = blank("week of the run", "credits per open hour")
    for place, weeks in found.items():
        with _belonging(axes, place):
            band(axes, weeks.take, 0)
    chosen = found.get(study.first_shown.place) or next(iter(found.values()))
    warm = chosen.warm_up
    if warm:
        axes.axvspan(min(warm) - 0.5, max(warm) + 0.5, color=GREY, alpha=0.12, lw=0)
        axes.annotate("left out", (min(warm) - 0.5, 1.0), xycoords=("data", "axes fraction"), xytext=(3, -3),
                      textcoords="offset points", fontsize=9, color=GREY, va="top")  # fmt: skip
    finding = f"{_steady(chosen)}{_here(study)}"
    return Chart("weeks", finding, figure, f"Line chart of the take by week of the run. {finding}.",
                 f"Bands: 95 % intervals. {_ghosts(study)}")  # fmt: skip


def _steady(weeks: Weeks) -> str:
    first, last = weeks.counted[0], weeks.counted[-1]
    figures = f"{shown(first)} credits per open hour in the first week counted, {shown(last)} in the last"
    if weeks.moving:
        return f"The take is still moving from week to week, so that a longer run would tell more: {figures}"
    if not weeks.told:
        return f"One replication cannot say whether the take holds steady: {figures}"
    if not weeks.steady:
        return f"The take may still be moving from week to week; these replications cannot tell: {figures}"
    return f"After the warm-up the take holds steady: {figures}"


def _titles(study: Study) -> list[str]:
    return list(dict.fromkeys(title for item in study.settings for title in item.offers))


def _often(rows: Sequence[Offer]) -> list[Offer]:
    total = sum(row.count for row in rows)
    return [row for row in rows if row.count > 0 and row.count >= _LEAST_OFFERS * total]


def title_name(study: Study, title: str) -> str:
    """What a title is called."""
    titles = study.record.loaded.scenario.titles
    return (titles[title].label or title) if title in titles else title


def chance_charts(study: Study) -> list[Chart]:
    """Perceived against true chance to win by margin, a chart for each title."""
    return [chart for place, title in enumerate(_titles(study)) if (chart := _chances(study, place, title)) is not None]


def _points(rows: Sequence[Offer], which: str) -> list[tuple[float, Estimate]]:
    return [(row.margin, item) for row in rows if (item := getattr(row, which)) is not None]


def _chances(study: Study, number: int, title: str) -> Chart | None:
    found = {item.place: _often(item.offers.get(title, ())) for item in study.overlaid}
    found = {place: rows for place, rows in found.items() if _points(rows, "perceived") and _points(rows, "true")}
    if not found:
        return None
    figure, axes = blank(_MARGIN, "chance to win")
    names = ("perceived", "true")
    ends = {}
    for place, rows in found.items():
        curves = [_points(rows, which) for which in names]
        for index, curve in enumerate(curves):
            with _belonging(axes, place):
                band(axes, curve, index)
        ends[place] = ([(name, curve[-1][1].mean) for name, curve in zip(names, curves, strict=True)],
                       max(curve[-1][0] for curve in curves))  # fmt: skip
    axes.set_ylim(0, 1)
    axes.axvline(0, color=GREY, lw=0.8, zorder=0)
    axes.xaxis.set_major_locator(MaxNLocator(7, integer=True))
    percents(axes, "share")
    _labels(axes, ends)
    rows = found.get(study.first_shown.place) or next(iter(found.values()))
    finding = f"{short(title_name(study, title), 32)}: {_gap(rows)}{_here(study)}"
    return Chart(
        f"chances-{number + 1}",
        finding,
        figure,
        f"Lines of perceived and true chance to win over the margin. {finding}.",
        f"{_OFFERS} {_ghosts(study)}",
    )


def _gap(rows: Sequence[Offer]) -> str:
    known = [row for row in rows if row.perceived is not None and row.true is not None]
    behind = [row for row in known if row.margin < 0] or known
    # The commonest of the margins behind which it matters most: weighted by how often it was met.
    worst = max(behind, key=lambda row: row.count * abs(_of(row.perceived) - _of(row.true)))
    where = f"{-worst.margin:g} behind" if worst.margin < 0 else f"{worst.margin:g} ahead" if worst.margin else "level"
    return (
        f"{where}, visitors think they win {percent(_of(worst.perceived), 0)}; in truth they win "
        f"{percent(_of(worst.true), 0)}"
    )


def _of(item: Estimate | None) -> float:
    return math.nan if item is None else item.mean


def buy_in_charts(study: Study) -> list[Chart]:
    """Share of offers taken by margin, a chart for each title."""
    return [chart for place, title in enumerate(_titles(study)) if (chart := _buy_ins(study, place, title)) is not None]


def _buy_ins(study: Study, number: int, title: str) -> Chart | None:
    found = {item.place: _points(_often(item.offers.get(title, ())), "taken") for item in study.overlaid}
    found = {place: points for place, points in found.items() if points}
    if not found:
        return None
    figure, axes = blank(_MARGIN, "offers of a buy-in taken")
    for place, points in found.items():
        with _belonging(axes, place):
            band(axes, points, 0)
    axes.axvline(0, color=GREY, lw=0.8, zorder=0)
    axes.xaxis.set_major_locator(MaxNLocator(7, integer=True))
    axes.set_ylim(0, 1.02)
    percents(axes, "share")
    points = found.get(study.first_shown.place) or next(iter(found.values()))
    sure = [point for point in points if math.isnan(point[1].low) or point[1].half_width <= _KNOWN]
    low = min(sure or points, key=lambda point: point[1].mean)
    level = min(points, key=lambda point: abs(point[0]))
    where = f"{-low[0]:g} behind" if low[0] < 0 else f"{low[0]:g} ahead"
    finding = (
        f"{short(title_name(study, title), 32)}: {shown(level[1], 'share')} go on when "
        f"{'level' if level[0] == 0 else 'all but level'}"
    )
    if low[0] != level[0]:
        finding += f", {shown(low[1], 'share')} when {where}"
    finding += _here(study)
    return Chart(
        f"buy-ins-{number + 1}",
        finding,
        figure,
        f"Line of the share of offers taken over the margin. {finding}.",
        f"{_OFFERS} {_ghosts(study)}",
    )
