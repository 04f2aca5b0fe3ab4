"""Charts of a title's exact results: who wins from where, by how much, what each rule does, how safe a lead is."""

from __future__ import annotations

import math

import numpy as np
from matplotlib.figure import Figure

from venue.report.columns import short
from venue.report.drawing import COLOURS, DASHES, GREY, INK, MARKERS, label_ends, new_figure, new_panels
from venue.report.heading import STRENGTH
from venue.report.title_tables import band_name, unit
from venue.study.title import TitleResult

_NAME_WIDTH = 24
_MOST_MARGINS = 5
_MOST_RULES = 8
# Attempts a contest below which a point of the chart would be a rarity.
_SELDOM = 0.01
_OFTEN = 0.2
_WON = (0.05, 0.25, 0.5, 0.75, 0.95)
# Changes, in a hundred contests, below which a bar would only show rounding.
_LEAST_CHANGE = 0.05
_LEADS = (1, 2, 4, 8)


def margin_chart(result: TitleResult) -> Figure:
    """Distribution of the final margin at each strength."""
    measured = unit(result.design)
    first, last = result.headlines[0], result.headlines[-1]
    if len(result.headlines) == 1:
        what = f"Final margins have a standard deviation of {first.margin_sd:.1f} {measured}"
        title = f"{what} at strength {first.strength:g}"
    else:
        change = last.margin_sd - first.margin_sd
        word = "hardly change" if abs(change) < 0.05 else "draw together" if change < 0 else "spread"
        title = (
            f"Final margins {word}: standard deviation {first.margin_sd:.1f} {measured} at strength "
            f"{first.strength:g}, {last.margin_sd:.1f} at {last.strength:g}"
        )
    who = "side A, a visitor" if result.match_ups.side_b == "visitor" else "the visitor"
    figure, axes = new_figure(title, f"final margin of {who} ({measured})", "chance", _title_note(result))
    most = min(len(result.headlines), _MOST_MARGINS)
    for line, index in enumerate(np.linspace(0, len(result.headlines) - 1, most).round().astype(int)):
        item = result.headlines[index]
        points, chances = np.array(list(item.margin)), np.array(list(item.margin.values()))
        shown = chances > 2e-4
        axes.plot(points[shown], chances[shown], color=COLOURS[line], ls=DASHES[line],
                  label=f"strength {item.strength:g}")  # fmt: skip
    axes.set_ylim(bottom=0)
    axes.legend(frameon=False, loc="upper left", bbox_to_anchor=(1.01, 1.0), fontsize=9, handlelength=3)
    return figure


def fairness_chart(result: TitleResult) -> Figure:
    """Better side wins, skill edge kept and close finishes against strength."""
    strengths = [item.strength for item in result.headlines]
    lines = {
        "better side wins": [item.better_side_wins for item in result.headlines],
        "skill edge kept": [item.skill_edge for item in result.headlines],
        "close finishes": [item.close_finishes for item in result.headlines],
    }
    figure, axes = new_figure(
        _fairness_title(result), STRENGTH, "share of contests (edge: ratio to strength 0)", _title_note(result)
    )
    for index, values in enumerate(lines.values()):
        axes.plot(strengths, values, color=COLOURS[index], ls=DASHES[index], marker=MARKERS[index], ms=4)
    known = [(name, values[-1]) for name, values in lines.items() if not math.isnan(values[-1])]
    every = [value for values in lines.values() for value in values if not math.isnan(value)]
    axes.set_ylim(min(0.0, 1.05 * min(every)), max(1.05, 1.05 * max(every)))
    label_ends(axes, known, strengths[-1])
    return figure


def _fairness_title(result: TitleResult) -> str:
    first, last = result.headlines[0], result.headlines[-1]
    if len(result.headlines) == 1:
        return (
            f"At strength {first.strength:g} the better side wins {first.better_side_wins:.1%}, "
            f"{first.close_finishes:.0%} of contests end close"
        )
    return (
        f"The better side wins {first.better_side_wins:.1%} at strength {first.strength:g}, "
        f"{last.better_side_wins:.1%} at {last.strength:g}; close finishes go from {first.close_finishes:.0%} to "
        f"{last.close_finishes:.0%}"
    )


def _title_note(result: TitleResult) -> str:
    name = result.loaded.scenario.titles[result.title].label or result.title
    return f"{short(name, 2 * _NAME_WIDTH)}: exact results, without a floor."


def _who(result: TitleResult) -> str:
    return "side A" if result.match_ups.side_b == "visitor" else "the visitor"


def _left(result: TitleResult) -> str:
    return "points the leader still needs" if result.unfolded.in_points else "time left in the contest (seconds)"


def win_map(result: TitleResult) -> Figure:
    """Side A's chance to win over what is left and the margin, with contours."""
    moments = result.unfolded
    doubt = np.nan_to_num(np.minimum(moments.win, 1.0 - moments.win))
    doubtful = np.flatnonzero(doubt.max(axis=0) > 0.01)
    rows = slice(int(doubtful[0]), int(doubtful[-1]) + 1) if len(doubtful) else slice(None)
    margins, win = moments.margins[rows], moments.win[:, rows]
    who, measured = _who(result), unit(result.design)
    behind = _needed(result)
    title = f"Chance of {who} to win, by the margin and what is left, at strength {result.strength:g}{behind}"
    figure, axes = new_figure(title, _left(result), f"margin of {who} ({measured})", _title_note(result))
    axes.grid(visible=False)
    edges = (moments.left[0] - 0.5, moments.left[-1] + 0.5, margins[0] - 0.5, margins[-1] + 0.5)
    shown = axes.imshow(
        win.T, origin="lower", extent=edges, aspect="auto", cmap="PuOr_r", vmin=0, vmax=1, interpolation="nearest"
    )
    if min(win.shape) > 1:
        shades = ["white" if abs(level - 0.5) > 0.4 else INK for level in _WON]  # the map is dark at its ends
        lines = axes.contour(moments.left, margins, win.T, levels=_WON, colors=shades, linewidths=0.9)
        axes.clabel(lines, fmt=lambda value: f"{value:.0%}", fontsize=9)
    axes.invert_xaxis()
    bar = figure.colorbar(shown, ax=axes, ticks=[0, 0.25, 0.5, 0.75, 1], format=lambda value, _: f"{value:.0%}")
    bar.set_label(f"chance of {who} to win")
    return figure


def _needed(result: TitleResult) -> str:
    """The finding of the map: the chance half-way at a margin worth a spread."""
    moments = result.unfolded
    behind = -max(1, round(result.spread / 2))
    place = np.flatnonzero(moments.margins == behind)
    half = len(moments.left) // 2
    if not len(place) or math.isnan(moments.win[half, place[0]]):
        return ""
    when = f"{moments.left[half]} {'points' if moments.in_points else 's'} from the end"
    return f": {moments.win[half, place[0]]:.0%} when {-behind} behind, {when}"


def effective_chart(result: TitleResult) -> Figure:
    """Effective chance against the margin, a line for each attempt kind."""
    title, who = result.design, _who(result)
    race = title.form == "race"
    tables = [table for table in result.by_margin if table.side == 0 and table.tried.sum() > _SELDOM][: len(COLOURS)]
    text = "What the title writes down, and what results"
    told = [rate for rate in result.rates if rate.side == 0 and rate.tried > _OFTEN and not math.isnan(rate.ratio)]
    if told:
        worst = max(told, key=lambda item: abs(item.ratio - 1.0))
        wrote = "even pace" if race else f"written {worst.written:.0%}"
        effect = f"{worst.effective:.1%}" if race else f"{worst.effective:.0%}"
        when = band_name(worst.low, worst.high)
        text = f"{short(worst.attempt, _NAME_WIDTH)}: {wrote}, in effect {effect} when {when}"
    figure, axes = new_figure(
        f"{text}, at strength {result.strength:g}",
        f"{who} behind by ({unit(title)}; negative: ahead)",
        "pace (share of even pace)" if race else "chance of an attempt",
        _title_note(result) + " Dotted: as written in the title.",
    )
    ends = []
    last = 0.0
    for index, table in enumerate(tables):
        often = table.tried > _SELDOM
        behind, rate = table.behind[often], table.made[often] / table.tried[often]
        axes.plot(behind, rate, color=COLOURS[index], ls=DASHES[index], marker=MARKERS[index], ms=3.5)
        axes.axhline(table.written, color=COLOURS[index], ls=":", lw=1)
        ends.append(("pace" if race else short(table.attempt, _NAME_WIDTH), float(rate[-1])))
        last = max(last, float(behind[-1]))
    axes.axvline(0, color=GREY, lw=0.8)
    if not race:
        axes.set_ylim(0, min(1.02, max(axes.get_ylim()[1], 0.1)))
    axes.yaxis.set_major_formatter(lambda value, _: f"{value:.1%}" if race else f"{value:.0%}")
    label_ends(axes, ends, last)
    return figure


def rules_chart(result: TitleResult) -> Figure:
    """What each rule does to fairness and to close finishes, alone and taken out."""
    apart = result.apart
    rules = list(apart.alone)[:_MOST_RULES]
    change = {rule: apart.alone[rule].close_finishes - apart.bare.close_finishes for rule in rules}
    most = max(change, key=lambda rule: abs(change[rule]))
    title = (
        f"{short(most, _NAME_WIDTH)} does most: alone it moves close finishes by {100 * change[most]:+.1f} in a "
        f"hundred, at strength {result.strength:g}"
    )
    heads = {"better_side_wins": "better side wins", "close_finishes": "close finishes"}
    figure, panels = new_panels(
        title, [f"{head}:\nchange (in a hundred)" for head in heads.values()], _title_note(result)
    )
    places = np.arange(len(rules))
    for axes, measure in zip(panels, heads, strict=True):
        alone = [100 * (getattr(apart.alone[rule], measure) - getattr(apart.bare, measure)) for rule in rules]
        out = [100 * (getattr(apart.whole, measure) - getattr(apart.without[rule], measure)) for rule in rules]
        axes.barh(places - 0.2, alone, 0.36, color=COLOURS[0], label="alone,\nagainst no rule")
        axes.barh(places + 0.2, out, 0.36, color=COLOURS[4], hatch="///", edgecolor=INK, lw=0.5,
                  label="all rules,\nagainst all\nbut this one")  # fmt: skip
        axes.axvline(0, color=INK, lw=0.8)
        axes.grid(visible=False, axis="y")
        low, high = min(0.0, *alone, *out), max(0.0, *alone, *out)
        room = max(0.1 * (high - low), _LEAST_CHANGE)
        axes.set_xlim(low - room, high + room)
        axes.set_axisbelow(True)
        axes.locator_params(axis="x", nbins=4, prune="both")
        axes.set_yticks(places, [short(rule, _NAME_WIDTH) for rule in rules] if axes is panels[0] else [])
        axes.invert_yaxis()
    figure.set_size_inches(7.2, min(4.5, 2.4 + 0.55 * len(rules)))
    handles, labels = panels[0].get_legend_handles_labels()
    panels[-1].legend(
        handles, labels, frameon=False, fontsize=9, loc="upper left", bbox_to_anchor=(1.02, 1.0), borderaxespad=0.0
    )
    return figure


def lead_chart(result: TitleResult) -> Figure:
    """How often a lead is never caught, and how often it wins."""
    moments, who = result.unfolded, _who(result)
    leads = [lead for lead in _LEADS if lead in moments.margins.tolist()]
    zero = int(np.flatnonzero(moments.margins == 0)[0])
    half = len(moments.left) // 2
    shown = next((lead for lead in leads[1:] if not math.isnan(moments.win[half, zero + lead])), leads[0])
    when = f"{moments.left[half]} {'points' if moments.in_points else 's'} from the end"
    title = (
        f"A lead of {shown}, {when}, is never caught in {moments.lasts[half, zero + shown]:.0%} of contests, and wins "
        f"{moments.win[half, zero + shown]:.0%}, at strength {result.strength:g}"
    )
    figure, axes = new_figure(
        title,
        _left(result),
        f"chance, for a lead of {who}",
        _title_note(result) + " Lines: the lead is never caught (not even level). Dots: it wins, caught or not.",
    )
    ends = []
    for index, lead in enumerate(leads):
        lasts, win = moments.lasts[:, zero + lead], moments.win[:, zero + lead]
        axes.plot(moments.left, lasts, color=COLOURS[index], ls=DASHES[index])
        axes.plot(moments.left, win, color=COLOURS[index], ls="none", marker=MARKERS[index], ms=3,
                  markevery=max(1, len(win) // 24))  # fmt: skip
        known = np.flatnonzero(~np.isnan(lasts))
        ends.append((f"lead of {lead}", float(lasts[known[-1]]), float(moments.left[known[-1]])))
    axes.set_ylim(0, 1.02)
    axes.yaxis.set_major_formatter(lambda value, _: f"{value:.0%}")
    label_ends(axes, [(name, value) for name, value, _ in ends], [place for _, _, place in ends])
    return figure


def title_charts(result: TitleResult) -> dict[str, Figure]:
    """All charts of a title by file name."""
    # In an order in which every second one takes as long to draw as the others together.
    found = {
        "final-margin": margin_chart(result),
        "fairness": fairness_chart(result),
        "chance-to-win": win_map(result),
        "effective-chance": effective_chart(result),
    }
    if result.apart.alone:
        found["rules"] = rules_chart(result)
    found["lead-safety"] = lead_chart(result)
    return found
