"""Charts of a course within each setting: the day, the weeks, the time until people come back, the margin of a contest.

Settings lie over one another in one frame, so that they can be compared; the chosen one stands out, the others are
faint.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.ticker import MaxNLocator

from venue.report.charts.frame import (
    LABEL,
    STEPS,
    Chart,
    Theme,
    band,
    belonging,
    blank,
    end_labels,
    ends_of,
    from_zero,
    only_at,
    over_line,
    percents,
)
from venue.report.columns import short
from venue.report.drawing import COLOURS, DASHES, GREY, INK, MARKERS
from venue.report.page.reading import Offer, SettingView, Study
from venue.report.quantities import percent, shown
from venue.report.sentences.parts import sentence_text
from venue.report.sentences.settling import settled_title
from venue.study.floor_records import Return
from venue.study.intervals import Estimate

_MOST_LINES = 5
_MOST_COHORTS = 5
# A margin at which so few of the offers were made says nothing.
_LEAST_OFFERS = 0.002
_MONTH = 28.0
# From so many days on a week's first visitors are drawn, and compared.
_WEEK, _FORTNIGHT = 7.0, 14.0
_OFFERS = "Offers of the next period, made at breaks; margins with few offers are left out. Bands: 95 % intervals."

Points = Sequence[tuple[float, Estimate]]


def _here(study: Study) -> str:
    """Which setting a title speaks of, where there are several."""
    return f", at {short(study.first_shown.label, LABEL)}" if study.keys and len(study.settings) > 1 else ""


def _ghosts(study: Study) -> str:
    if len(study.settings) < 2:
        return ""
    few = len(study.overlaid) < len(study.settings)
    some = f" {len(study.overlaid)} of {len(study.settings)} are drawn." if few else ""
    return f"In full: the chosen {study.word}; faint: the others.{some}"


def hours_chart(study: Study, theme: Theme) -> Chart | None:
    """Credits per open hour by hour of day, a line for each row of machines."""
    found = [item for item in study.overlaid if item.hours]
    if not found:
        return None
    rows = {item.place: _foremost(study, item) for item in found}
    every = np.array([values for lines in rows.values() for _, values in lines])
    hours = _open_hours(every)
    if not len(hours):
        return None
    figure, axes = blank(theme, "hour of day (14 is 14:00 to 15:00)", "credits per open hour")
    ends = {}
    for item in found:
        lines = rows[item.place]
        with belonging(axes, item.place):
            _day(axes, lines, hours)
        last = [(name, float(np.nan_to_num(values[hours[-1]]))) for name, values in lines]
        ends[item.place] = (last, float(len(hours) - 1))
    from_zero(axes, [float(np.nanmax(every))])
    step = 1 if len(hours) <= 2 * theme.ticks else 2
    axes.set_xticks(range(0, len(hours), step), [f"{hour:02d}" for hour in hours[::step]])
    end_labels(axes, ends)
    shown_first = rows.get(study.first_shown.place) or next(iter(rows.values()))
    total = np.nansum([values for _, values in shown_first], axis=0)
    peak = int(hours[np.argmax(total[hours])])
    finding = f"Busiest from {peak:02d}:00: {total[peak]:.1f} credits an hour{_here(study)}"
    alt = f"Line chart of the take by hour of day, a line for each row of machines. {finding}."
    return Chart("by-hour", finding, figure, alt, _ghosts(study))


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


def return_chart(study: Study, theme: Theme) -> Chart | None:
    """Share of visits followed by another, by the days since."""
    curves = {item.place: _curve(item.setting.return_curve) for item in study.overlaid if item.setting}
    curves = {place: curve for place, curve in curves.items() if len(curve) > 1}
    if not curves:
        return None
    figure, axes = blank(theme, "days since the visit", "followed by another visit")
    for place, curve in curves.items():
        with belonging(axes, place):
            band(axes, [(0.0, Estimate(0.0, 0.0, 0.0, 1)), *curve], 0, marks=False)
    _days(axes, max(day for curve in curves.values() for day, _ in curve))
    from_zero(axes, ends_of([item for curve in curves.values() for _, item in curve]))
    percents(axes)
    first = curves.get(study.first_shown.place) or next(iter(curves.values()))
    day, end = max((point for point in first if point[0] <= _MONTH), default=first[-1], key=lambda point: point[0])
    finding = f"{shown(end, 'share')} of visits have another within {day:g} days{_here(study)}"
    alt = f"Curve of the share of visits followed by another, by days. {finding}."
    note = f"Kaplan–Meier estimate (counts those still out); band: 95 % interval. {_ghosts(study)}"
    return Chart("return-curve", finding, figure, alt, note)


def _curve(rows: Sequence[Return]) -> list[tuple[float, Estimate]]:
    """A curve over days, where it is known."""
    return [(float(row.days), row.estimate) for row in rows if not math.isnan(row.mean)]


def _days(axes: Axes, last: float) -> None:
    """An axis of days in weeks, with a line at 28."""
    step = 7 if last <= 60 else 28
    axes.set_xticks(np.arange(0, last + 1, step))
    if last >= _MONTH:
        over_line(axes, _MONTH, "28 days")


def cohort_chart(study: Study, theme: Theme) -> Chart | None:
    """First-time visitors of each week: how many have come back by so many days."""
    found = {item.place: _cohorts(item) for item in study.overlaid}
    found = {place: cohorts for place, cohorts in found.items() if cohorts}
    if not found:
        return None
    figure, axes = blank(theme, "days since the first visit", "have come back")
    curves = [curve for cohorts in found.values() for _, curve in cohorts]
    for place, cohorts in found.items():
        with belonging(axes, place, only_at):
            for index, (_, curve) in enumerate(cohorts):
                axes.plot([day for day, _ in curve], [item.mean for _, item in curve], color=COLOURS[index],
                          ls=DASHES[index], lw=1.6)  # fmt: skip
    from_zero(axes, [item.mean for curve in curves for _, item in curve])
    _days(axes, max(day for curve in curves for day, _ in curve))
    percents(axes)
    cohorts = found.get(study.first_shown.place) or next(iter(found.values()))
    _name_weeks(axes, [week for week, _ in cohorts])
    finding = f"{_earlier_and_later(cohorts)}{_here(study)}"
    alt = f"Curves of first-time visitors who have come back, a line for each of some weeks. {finding}."
    only = f" Shown for the chosen {study.word}." if len(study.settings) > 1 else ""
    return Chart("cohorts", finding, figure, alt, f"First-time visitors by the week they came.{only}")


def _earlier_and_later(cohorts: Sequence[tuple[int, Points]]) -> str:
    """How many of the first week's and of a late week's visitors are back, by a day that both can tell of."""
    long = [item for item in cohorts if item[1][-1][0] >= _FORTNIGHT]
    (one, first), (other, newest) = cohorts[0], (long or cohorts)[-1]
    reach = min(first[-1][0], newest[-1][0])
    early, late = (max((point for point in curve if point[0] <= reach), key=lambda point: point[0])[1]
                   for curve in (first, newest))  # fmt: skip
    finding = f"Back in {reach:g} days: week {one} {shown(early, 'share')}"
    return finding if other == one else f"{finding}, week {other} {shown(late, 'share')}"


def _cohorts(item: SettingView) -> list[tuple[int, Points]]:
    cohorts = () if item.setting is None else item.setting.cohorts
    rows: list[tuple[int, Points]] = [(row.week, _curve(row.curve)) for row in cohorts]
    rows = [(week, curve) for week, curve in rows if len(curve) > 1]
    rows = [(week, curve) for week, curve in rows if curve[-1][0] >= _WEEK] or rows
    if len(rows) <= _MOST_COHORTS:
        return rows
    places = np.linspace(0, len(rows) - 1, _MOST_COHORTS).round().astype(int).tolist()
    return [rows[place] for place in places]


def _name_weeks(axes: Axes, weeks: Sequence[int]) -> None:
    """Names of the lines where curves that rise to the right leave room."""
    handles = [Line2D([], [], color=COLOURS[index], ls=DASHES[index], lw=1.6, label=f"week {week}")
               for index, week in enumerate(weeks)]  # fmt: skip
    axes.legend(
        handles=handles, title="first visit in", loc="lower right", fontsize=9, title_fontsize=9, labelcolor=INK,
        facecolor="white", edgecolor="none", framealpha=0.9, handlelength=2.6, borderaxespad=0.2, labelspacing=0.3,
    )  # fmt: skip


def weeks_chart(study: Study, theme: Theme) -> Chart | None:
    """The take week by week: whether the warm-up that is left out was long enough."""
    found = {item.place: weeks for item in study.overlaid if (weeks := study.weeks(item)) is not None}
    if not found:
        return None
    figure, axes = blank(theme, "week of the run", "credits per open hour")
    for place, weeks in found.items():
        with belonging(axes, place):
            band(axes, weeks.take, 0)
    from_zero(axes, ends_of([item for weeks in found.values() for _, item in weeks.take]))
    axes.xaxis.set_major_locator(MaxNLocator(theme.ticks, integer=True, steps=STEPS))
    chosen = found.get(study.first_shown.place) or next(iter(found.values()))
    warm = chosen.warm_up
    if warm:
        axes.axvspan(min(warm) - 0.5, max(warm) + 0.5, color=GREY, alpha=0.12, lw=0)
        axes.annotate("left out", (min(warm) - 0.5, 0.0), xycoords=("data", "axes fraction"), xytext=(3, 3),
                      textcoords="offset points", fontsize=9, color=GREY, va="bottom")  # fmt: skip
    at = next(item for item in study.settings if found.get(item.place) is chosen)
    finding = sentence_text(settled_title(study.settled(at)))
    alt = f"Line chart of the take by week of the run. {finding}."
    return Chart("weeks", finding, figure, alt, f"Bands: 95 % intervals. {_ghosts(study)}")


def margin_charts(study: Study, theme: Theme) -> list[Chart]:
    """Perceived and true chance to win and offers taken by margin, a chart for each title."""
    titles = list(dict.fromkeys(title for item in study.settings for title in item.offers))
    made = [_margins(study, theme, place, title) for place, title in enumerate(titles)]
    return [chart for chart in made if chart is not None]


_KINDS = {"taken": "taken", "perceived": "perceived chance", "true": "true chance"}


def _margins(study: Study, theme: Theme, number: int, title: str) -> Chart | None:
    found = {item.place: _often(item.offers.get(title, ())) for item in study.overlaid}
    found = {place: rows for place, rows in found.items() if rows}
    if not found:
        return None
    figure, axes = blank(theme, "points ahead at the offer (negative: behind)", "offers taken; chance to win")
    ends = {}
    for place, rows in found.items():
        names, stops = [], []
        for index, (kind, label) in enumerate(_KINDS.items()):
            points = [(row.margin, item) for row in rows if (item := getattr(row, kind)) is not None]
            if points:
                with belonging(axes, place):
                    band(axes, points, index)
                names.append((label, points[-1][1].mean))
                stops.append(points[-1][0])
        if stops:
            ends[place] = (names, max(stops))
    axes.set_ylim(0, 1.02)
    axes.axvline(0, color=GREY, lw=0.8, zorder=0)
    axes.xaxis.set_major_locator(MaxNLocator(theme.ticks, integer=True, steps=STEPS))
    percents(axes)
    end_labels(axes, ends)
    chosen = found.get(study.first_shown.place) or next(iter(found.values()))
    finding = f"{short(title_name(study, title), LABEL)}{_gap(chosen)}"
    alt = f"Lines of offers taken, perceived and true chance to win over the margin. {finding}{_here(study)}."
    name = "by-margin" if number == 0 else f"by-margin-{number + 1}"
    return Chart(name, finding, figure, alt, f"{_OFFERS} {_ghosts(study)}")


def title_name(study: Study, title: str) -> str:
    """What a title is called."""
    titles = study.record.loaded.scenario.titles
    return (titles[title].label or title) if title in titles else title


def _often(rows: Sequence[Offer]) -> list[Offer]:
    total = sum(row.count for row in rows)
    return [row for row in rows if row.count > 0 and row.count >= _LEAST_OFFERS * total]


def _gap(rows: Sequence[Offer]) -> str:
    """The margin at which belief and truth differ most, weighted by how often it was met."""
    known = [row for row in rows if row.perceived is not None and row.true is not None]
    if not known:
        return ": offers taken by margin"
    behind = [row for row in known if row.margin < 0] or known
    worst = max(behind, key=lambda row: row.count * abs(_mean(row.perceived) - _mean(row.true)))
    where = f"{-worst.margin:g} behind" if worst.margin < 0 else f"{worst.margin:g} ahead" if worst.margin else "level"
    return f", {where}: seen as {percent(_mean(worst.perceived), 0)}, in truth {percent(_mean(worst.true), 0)}"


def _mean(item: Estimate | None) -> float:
    return math.nan if item is None else item.mean
