"""Charts of a title's exact results: who wins from where, by how much, what each rule does, how safe a lead is.

All of them are drawn from the stored result; nothing is solved for them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator

from venue.report.charts.frame import (
    FOLDER,
    STEPS,
    Chart,
    Theme,
    blank,
    change_limits,
    from_zero,
    legend_over,
    percents,
)
from venue.report.columns import short
from venue.report.drawing import COLOURS, DASHES, GREY, INK, MARKERS, label_ends, new_panels
from venue.report.heading import STRENGTH
from venue.report.page.reading import Study
from venue.report.quantities import percent
from venue.report.sentences import titles
from venue.report.title_tables import unit
from venue.scenario.title import Title
from venue.study.registry import TITLE_MEASURES
from venue.study.title_records import ContestRecord, TitlePoint
from venue.study.title_rules import RULES_JUDGED_BY, does_most, greatest_rules, rule_changes

_MOST_MARGINS = 5
_MOST_RULES = 8
# Attempts a contest below which a point of the chart would be a rarity.
_SELDOM = 0.01
_WON = (0.05, 0.25, 0.5, 0.75, 0.95)
_LEADS = (1, 2, 4, 8)
_HEADS = {name: TITLE_MEASURES[name].label for name in RULES_JUDGED_BY}
_NAME = 22


@dataclass(frozen=True)
class _Exact:
    """What the charts of a title share."""

    result: ContestRecord
    design: Title
    theme: Theme

    @property
    def strength(self) -> float:
        return self.result.apart.strength

    @property
    def who(self) -> str:
        return "side A" if self.result.match_ups.side_b == "visitor" else "the visitor"

    @property
    def left(self) -> str:
        in_points = self.result.moments.left_in == "points"
        return "points the leader still needs" if in_points else "time left in the contest (seconds)"

    def moments(self) -> tuple[list[float], list[float], np.ndarray[Any, Any], np.ndarray[Any, Any]]:
        """What is left, margins, side A's chance to win and the chance that a lead lasts (what is left, margin)."""
        found = self.result.moments
        win, lasts = (np.array(table, dtype=float) for table in (found.side_a_wins, found.lead_lasts))
        return list(found.left), list(found.margins), win, lasts


def title_charts(study: Study, theme: Theme) -> list[Chart]:
    """All charts of a title."""
    result = study.record.data
    if not isinstance(result, ContestRecord):
        return []
    exact = _Exact(result, study.record.loaded.scenario.titles[result.title], theme)
    most = does_most(result.apart)
    rules = [] if most is None else [_rules_chart(exact, titles.does_most(*most))]
    return [
        _fairness_chart(exact), _margin_chart(exact), *rules, _win_map(exact), _effective_chart(exact),
        _lead_chart(exact),
    ]  # fmt: skip


def _margin_chart(exact: _Exact) -> Chart:
    """Distribution of the final margin at each strength."""
    points, measured = exact.result.points, unit(exact.design)
    first, last = points[0], points[-1]
    finding = f"Final margins: {first.margin_sd:.1f} {measured} typical at {first.strength:g}"
    if len(points) > 1:
        finding += f", {last.margin_sd:.1f} at {last.strength:g}"
    figure, axes = blank(exact.theme, f"final margin of {exact.who} ({measured})", "chance")
    every = []
    most = min(len(points), _MOST_MARGINS)
    ends: list[str] = []
    for line, index in enumerate(np.linspace(0, len(points) - 1, most).round().astype(int).tolist()):
        shown = [item for item in points[index].margin if item.chance > 2e-4]
        axes.plot([item.points for item in shown], [item.chance for item in shown], color=COLOURS[line],
                  ls=DASHES[line], label=f"{points[index].strength:g}")  # fmt: skip
        every += [item.chance for item in shown]
        ends.append(f"{points[index].strength:g}")
    from_zero(axes, every)
    percents(axes)
    axes.legend(title="strength", frameon=False, loc="upper right", fontsize=9, title_fontsize=9, handlelength=2.6)
    note = "Typically: one standard deviation (two of three contests end within it)."
    return Chart("final-margin", finding, figure, _alt("Line chart of the chance of each final margin", finding), note)


def _alt(what: str, finding: str) -> str:
    return f"{what}. {finding}."


def _fairness_chart(exact: _Exact) -> Chart:
    """Better side wins, skill edge kept and close finishes against strength."""
    points = exact.result.points
    strengths = [item.strength for item in points]
    names = {name: TITLE_MEASURES[name].label for name in ("better_side_wins", "skill_edge", "close_finishes")}
    figure, axes = blank(exact.theme, STRENGTH, "share of contests (of the edge)")
    ends, every = [], []
    for index, (measure, label) in enumerate(names.items()):
        known = [(item.strength, value) for item in points if not math.isnan(value := float(getattr(item, measure)))]
        if not known:
            continue
        axes.plot(*zip(*known, strict=True), color=COLOURS[index], ls=DASHES[index], marker=MARKERS[index], ms=4)
        ends.append((label, known[-1][1]))
        every += [value for _, value in known]
    axes.set_ylim(min(0.0, 1.05 * min(every)), max(1.05, 1.05 * max(every)))
    percents(axes)
    label_ends(axes, ends, strengths[-1])
    finding = fairness_title(points)
    return Chart("fairness", finding, figure, _alt("Line chart over strength", finding))


def fairness_title(points: Sequence[TitlePoint]) -> str:
    """What strength does to the better side's wins."""
    first, last = points[0], points[-1]
    ends = [first] if first is last else [first, last]
    figures = ", ".join(f"{percent(item.better_side_wins)} at {item.strength:g}" for item in ends)
    return f"Better side wins: {figures}"


def _win_map(exact: _Exact) -> Chart:
    """Side A's chance to win over what is left and the margin, with contours."""
    left, every, win, _ = exact.moments()
    doubt = np.nan_to_num(np.minimum(win, 1.0 - win))
    doubtful = np.flatnonzero(doubt.max(axis=0) > 0.01)
    rows = slice(int(doubtful[0]), int(doubtful[-1]) + 1) if len(doubtful) else slice(None)
    margins, shown = every[rows], win[:, rows]
    figure, axes = blank(FOLDER, exact.left, f"margin of {exact.who} ({unit(exact.design)})")
    axes.grid(visible=False)
    edges = (left[0] - 0.5, left[-1] + 0.5, margins[0] - 0.5, margins[-1] + 0.5)
    image = axes.imshow(
        shown.T, origin="lower", extent=edges, aspect="auto", cmap="PuOr_r", vmin=0, vmax=1, interpolation="nearest"
    )
    if min(shown.shape) > 1:
        shades = ["white" if abs(level - 0.5) > 0.4 else INK for level in _WON]  # the map is dark at its ends
        lines = axes.contour(left, margins, shown.T, levels=_WON, colors=shades, linewidths=0.9)
        axes.clabel(lines, fmt=lambda value: f"{100 * value:.0f} %", fontsize=9)
    axes.invert_xaxis()
    bar = figure.colorbar(image, ax=axes, ticks=[0, 0.25, 0.5, 0.75, 1], format=lambda value, _: f"{100 * value:.0f} %")
    bar.set_label(f"chance of {exact.who} to win")
    finding = f"Chance of {exact.who} to win{_needed(exact, left, every, win)}"
    return Chart("chance-to-win", finding, figure, _alt("Map over what is left and the margin", finding),
                 f"At strength {exact.strength:g}, between mean players.", wide=True)  # fmt: skip


def _needed(exact: _Exact, left: Sequence[float], margins: Sequence[float], win: np.ndarray[Any, Any]) -> str:
    """The finding of the map: the chance half-way at a margin worth a spread."""
    behind = -max(1, round(exact.result.spread_unaided / 2))
    half = len(left) // 2
    if behind not in margins or math.isnan(win[half, margins.index(behind)]):
        return ""
    in_points = exact.result.moments.left_in == "points"
    when = f"{left[half]:g} {'points' if in_points else 's'} to go"
    return f": {percent(win[half, margins.index(behind)], 0)} when {-behind} behind, {when}"


def _effective_chart(exact: _Exact) -> Chart:
    """Effective chance against the margin, a line for each attempt kind."""
    race = exact.design.form == "race"
    tables = [item for item in exact.result.attempts_by_margin
              if item.side == "A" and sum(item.tried) > _SELDOM][: len(COLOURS)]  # fmt: skip
    figure, axes = blank(exact.theme, f"{exact.who} behind by ({unit(exact.design)}; negative: ahead)",
                         "pace (share of even pace)" if race else "chance of an attempt")  # fmt: skip
    ends, tops = [], []
    last = 0.0
    worst = (0.0, "")
    for index, table in enumerate(tables):
        told = [(behind, made / tried) for behind, tried, made in
                zip(table.behind, table.tried, table.made, strict=True) if tried > _SELDOM]  # fmt: skip
        axes.plot(*zip(*told, strict=True), color=COLOURS[index], ls=DASHES[index], marker=MARKERS[index], ms=3.5)
        axes.axhline(table.written, color=COLOURS[index], ls=":", lw=1)
        name = "pace" if race else short(table.attempt, _NAME)
        ends.append((name, told[-1][1]))
        last = max(last, told[-1][0])
        tops += [table.written, *(rate for _, rate in told)]
        share = sum(table.made) / sum(table.tried)
        gap = abs(share / table.written - 1.0) if table.written else 0.0
        places = 1 if race else 0
        told_so = f"{name}: written {percent(table.written, places)}, in effect {percent(share, places)}"
        worst = max(worst, (gap, told_so))
    axes.axvline(0, color=GREY, lw=0.8)
    if tops:
        from_zero(axes, tops)
    percents(axes)
    label_ends(axes, ends, last)
    finding = worst[1] or "What the title writes down, and what results"
    return Chart("effective-chance", finding, figure, _alt("Line chart over the margin", finding),
                 f"Dotted: as written in the title. At strength {exact.strength:g}.")  # fmt: skip


def _rules_chart(exact: _Exact, finding: str) -> Chart:
    """What each rule does to fairness and to close finishes, alone and taken out."""
    apart = exact.result.apart
    rules = greatest_rules(apart)[:_MOST_RULES]
    found = {rule: rule_changes(apart, rule) for rule in rules}
    figure, panels = new_panels("", [f"{head}:\nchange in a hundred" for head in _HEADS.values()])
    for axes, measure in zip(panels, _HEADS, strict=True):
        _bars(axes, [found[rule][measure] for rule in rules])
        names = [short(rule, _NAME) for rule in rules] if axes is panels[0] else []
        axes.set_yticks(range(len(names)), names)
        axes.set_ylim(len(rules) - 0.4, -0.6)
    figure.set_size_inches(max(exact.theme.width, 5.0), min(5.0, 1.8 + 0.42 * len(rules)))
    handles, labels = panels[0].get_legend_handles_labels()
    legend_over(panels[0], handles, labels)
    left_out = len(apart.alone) - len(rules)
    rest = (
        f" The {len(rules)} greatest; {left_out} smaller {'is' if left_out == 1 else 'are'} left out."
        if left_out
        else ""
    )
    return Chart("rules", finding, figure, _alt("Bars of what each rule changes", finding),
                 f"At strength {exact.strength:g}.{rest}")  # fmt: skip


def _bars(axes: Axes, pairs: Sequence[tuple[float, float]]) -> None:
    """A pair of bars for each rule."""
    places = np.arange(len(pairs))
    axes.barh(places - 0.2, [alone for alone, _ in pairs], 0.36, color=COLOURS[0], label="alone, against no rule")
    axes.barh(places + 0.2, [out for _, out in pairs], 0.36, color=COLOURS[4], hatch="///", edgecolor=INK, lw=0.5,
              label="all, against all but this one")  # fmt: skip
    axes.axvline(0, color=INK, lw=0.8)
    axes.grid(visible=False, axis="y")
    axes.set_axisbelow(True)
    axes.xaxis.set_major_locator(MaxNLocator(4, steps=STEPS, prune="both"))
    change_limits(axes, "x", [value for pair in pairs for value in pair], room=0.05)
    percents(axes, "x", scale=1.0, sign="+", mark="")


def _lead_chart(exact: _Exact) -> Chart:
    """How often a lead is never caught, and how often it wins."""
    left, margins, win, lasts = exact.moments()
    zero, half = margins.index(0), len(left) // 2
    leads = [lead for lead in _LEADS if lead in margins]
    shown = next((lead for lead in leads[1:] if not math.isnan(win[half, zero + lead])), leads[0])
    in_points = exact.result.moments.left_in == "points"
    when = f"{left[half]:g} {'points' if in_points else 's'} to go"
    finding = (
        f"A lead of {shown}, {when}: safe {percent(lasts[half, zero + shown], 0)}, wins "
        f"{percent(win[half, zero + shown], 0)}"
    )
    figure, axes = blank(exact.theme, exact.left, f"chance, for a lead of {exact.who}")
    ends = []
    for index, lead in enumerate(leads):
        safe, wins = lasts[:, zero + lead], win[:, zero + lead]
        axes.plot(left, safe, color=COLOURS[index], ls=DASHES[index])
        axes.plot(left, wins, color=COLOURS[index], ls="none", marker=MARKERS[index], ms=3,
                  markevery=max(1, len(wins) // 24))  # fmt: skip
        known = np.flatnonzero(~np.isnan(safe))
        ends.append((f"lead of {lead}", float(safe[known[-1]]), float(left[known[-1]])))
    axes.set_ylim(0, 1.02)
    percents(axes)
    label_ends(axes, [(name, value) for name, value, _ in ends], [place for _, _, place in ends])
    return Chart("lead-safety", finding, figure, _alt("Lines over what is left", finding),
                 "Lines and safe: the lead is never caught (not even level). Dots: it wins, caught or not. "
                 f"At strength {exact.strength:g}.")  # fmt: skip
