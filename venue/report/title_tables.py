"""A title's exact results as tables: the headline, rule by rule, coded against effective, where trailing pays."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from venue.contest.realised_rates import Rate
from venue.contest.results import Headline
from venue.report.columns import in_columns, left, paragraph, room, short
from venue.report.figures import number
from venue.report.heading import LONGEST_NAME, heading
from venue.scenario.title import Title
from venue.study.title import TitleResult

if TYPE_CHECKING:
    from venue.study.tune import Tuned

Band = tuple[int | None, int | None]

_MOST_FAULTS = 8
_FAIRNESS = ("better\nside\nwins", "skill\nedge\nkept")


def unit(title: Title) -> str:
    """What margins are counted in."""
    return "lengths" if title.form == "race" else "points"


def title_tables(result: TitleResult, width: int = 100) -> str:
    """Exact results of a title as text."""
    match, title = result.match_ups, result.design
    if match.sd == 0.0:
        who = f"one pair of skills, side A ahead by {match.mean:g} log-odds, against the {match.side_b}"
    else:
        who = (
            f"averaged over newcomers' skills (gap of mean {match.mean:g}, sd {match.sd:.3g} log-odds); side A is a "
            f"visitor, side B {'another' if match.side_b == 'visitor' else 'the computer'}"
        )
    parts = [heading(result.loaded, f"{title.label or result.title}, exact, {who}", width), _headline(result, width)]
    parts.append(_notes(result, width))
    if title.rules:
        parts += [_owed(result, width), _apart(result, width)]
    parts.append(_effective(result, width))
    if title.rules:
        parts.append(_trailing(result, width))
    return "\n\n".join(parts)


def _headline(result: TitleResult, width: int) -> str:
    title = result.design
    rows = [
        [
            f"{item.strength:g}", number(item.better_side_wins, 4), number(item.skill_edge, 3),
            number(item.close_finishes, 4), number(item.level, 4), number(item.lead_changes, 2),
            number(item.comebacks, 4), number(item.side_a_wins, 4), number(item.margin_mean, 2),
            number(item.margin_sd, 2),
        ]
        for item in result.headlines
    ]  # fmt: skip
    head = ["strength", *_FAIRNESS, f"finishes\nwithin {title.close}\n{unit(title)}", "level\nat end", "lead\nchanges",
            "come-\nbacks", "side A\nwins", f"margin\nmean\n({unit(title)})",
            f"margin\nsd\n({unit(title)})"]  # fmt: skip
    return in_columns(head, rows, width=width)


def _notes(result: TitleResult, width: int) -> str:
    """What the columns mean, and what was reckoned with."""
    title = result.design
    turn = "at the start of the last period" if title.periods > 1 else "half-way"
    text = (
        f"Comebacks: chance that whoever trails {turn} still wins. Lead changes: times the lead goes to the side that "
        f"did not have it last. Equal sides without any rule end {result.spread:.2f} {unit(title)} apart (standard "
        "deviation)."
    )
    if title.form != "first to":
        text += f" Margins from {result.span[0]} to {result.span[1]} are reckoned with; less than 1e-9 lies beyond."
    if result.ladder:
        steps = ", ".join(number(chance, 3) for chance in result.ladder)
        text += f" Up the ladder, a visitor of mean skill wins with chance {steps}."
    return paragraph(text, width)


def _owed(result: TitleResult, width: int) -> str:
    """Points owed to each rule."""
    title = result.design
    owed = {rule: [sum(item.owed[rule]) for item in result.headlines] for rule in title.rules}
    if all(abs(points) < 0.005 for row in owed.values() for points in row):
        text = (
            f"What the rules give to one side they take from the other: both sides together are owed no {unit(title)}."
        )
        return paragraph(text, width)
    rows = [
        [short(rule, LONGEST_NAME), title.rules[rule].kind, *(number(points, 2, "+") for points in row)]
        for rule, row in owed.items()
    ]
    head = ["rule", "kind", *(f"{item.strength:g}" for item in result.headlines)]
    text = (
        f"{unit(title).capitalize()} a contest owed to each rule, both sides together and net of what leaders lose, "
        "by strength:"
    )
    return paragraph(text, width) + "\n\n" + in_columns(head, rows, width=width, flush_left=2)


def _apart(result: TitleResult, width: int) -> str:
    """Each rule left out and alone, and what no switch turns off."""
    title, apart = result.design, result.apart
    cases: list[tuple[str, str, Headline]] = [("all rules", "", apart.whole)]
    for words, found in (("without {}", apart.without), ("{} alone", apart.alone)):
        cases += [(words.format(rule), title.rules[rule].switch or "(none)", item) for rule, item in found.items()]
    cases += [("every switch off", "", apart.switched_off), ("no rule", "", apart.bare)]
    rows = [
        [short(name, LONGEST_NAME + 8), short(switch, LONGEST_NAME), number(item.better_side_wins, 4),
         number(item.skill_edge, 3), number(item.close_finishes, 4), number(item.lead_changes, 2),
         number(item.comebacks, 4), number(item.margin_sd, 2), number(item.assisted, 2)]
        for name, switch, item in cases
    ]  # fmt: skip
    on = ", ".join(short(rule, LONGEST_NAME) for rule in apart.stays_on)
    notes = f"No switch turns off: {on}." if on else "With every switch off no rule is left at work."
    if result.overlaps:
        pairs = "; ".join(f"{first} and {second}" for first, second in result.overlaps)
        notes += f" Where two of these cover one attempt the greater acts alone: {pairs}."
    head = ["rules at work", "switch", *_FAIRNESS, f"finishes\nwithin {title.close}\n{unit(title)}", "lead\nchanges",
            "come-\nbacks", f"margin\nsd\n({unit(title)})", _assisted(title)]  # fmt: skip
    return "\n\n".join(
        [
            paragraph(f"Rule by rule, at strength {result.strength:g}:", width),
            in_columns(head, rows, width=width, flush_left=2),
            paragraph(notes, width),
        ]
    )


def _assisted(title: Title) -> str:
    return "assisted\nlengths" if title.form == "race" else "assisted\nscores"


def _effective(result: TitleResult, width: int) -> str:
    """Coded against effective: a margin band a row, an attempt kind and side a column."""
    title = result.design
    race = title.form == "race"
    found: dict[tuple[str, int], dict[Band, Rate]] = {}
    for rate in result.rates:
        found.setdefault((rate.attempt, rate.side), {})[rate.low, rate.high] = rate
    bands = sorted({band for row in found.values() for band in row}, key=_first)
    sides = ("visitor", "computer") if result.match_ups.side_b == "computer" else ("side A", "side B")
    columns: dict[str, list[str]] = {}
    for attempt in dict.fromkeys(attempt for attempt, _ in found):
        told = [
            [_rate(found.get((attempt, side), {}).get(band), 3 if race else 2) for band in bands] for side in (0, 1)
        ]
        written = next(rate.written for rate in result.rates if rate.attempt == attempt)
        name = f"{short(attempt, LONGEST_NAME)}\n" + ("even pace" if race else f"written {written:.0%}")
        if told[0] == told[1]:
            columns[f"{name}\neach side"] = told[0]
        else:
            columns |= {f"{name}\n{sides[side]}": told[side] for side in (0, 1)}
    text = (
        f"Coded against effective, at strength {result.strength:g}: what the title writes down, the rate that really "
        "results once skill and every rule have acted, and the one over the other:"
    )
    rows = [[band_name(*band), *cells] for band, *cells in zip(bands, *columns.values(), strict=True)]
    return paragraph(text, width) + "\n\n" + in_columns([f"margin ({unit(title)})", *columns], rows, width=width)


def _rate(rate: Rate | None, places: int) -> str:
    if rate is None:
        return "-"
    return f"{rate.effective:.1%}" + ("" if math.isnan(rate.ratio) else f"  ×{rate.ratio:.{places}f}")


def _first(band: Band) -> float:
    return -math.inf if band[0] is None else band[0]


def band_name(low: int | None, high: int | None) -> str:
    """A band of points behind in words."""
    if low is None and high is not None:
        return f"ahead {-high} or more"
    if high is None:
        return f"behind {low} or more"
    if low == high == 0:
        return "level"
    near, far = sorted((abs(low or 0), abs(high)))
    return f"{'behind' if high > 0 else 'ahead'} {near}" + (f" to {far}" if far > near else "")


def _trailing(result: TitleResult, width: int) -> str:
    """Where a player could profit from losing on purpose."""
    faults = result.trailing.faults
    if not faults:
        text = f"Trailing never pays at strength {result.strength:g}: no state is better a point further behind."
        return paragraph(text, width)
    in_points = result.design.form == "first to"
    rows = [
        [f"{fault.margin:+d}", f"{fault.left}" if in_points else f"{fault.left} s", number(fault.gain, 4),
         ", ".join(fault.blame) or "several together"]
        for fault in faults[:_MOST_FAULTS]
    ]  # fmt: skip
    more = f" The {_MOST_FAULTS} worst:" if len(faults) > _MOST_FAULTS else ""
    text = (
        f"Trailing pays at strength {result.strength:g}: at {len(faults)} margin{'s' if len(faults) > 1 else ''} "
        f"side A would do better a point further behind. Perfect holding back would add "
        f"{result.trailing.holding_back:.4f} to its chance to win from the start.{more}"
    )
    head = ["margin", "points left\nto win" if in_points else "time left", "gained by a\npoint less", "rules to blame"]
    return paragraph(text, width) + "\n\n" + in_columns(head, words_last(rows), width=width)


def words_last(rows: Sequence[Sequence[str]]) -> list[list[str]]:
    """Rows with the words in their last column set flush left."""
    widest = max(room(row[-1]) for row in rows)
    return [[*row[:-1], left(row[-1], widest)] for row in rows]


def tuned_table(tuned: Tuned, width: int = 100) -> str:
    """What to write into the scenario, and what it changes."""
    title = tuned.loaded.scenario.titles[tuned.title]
    reached = getattr(tuned.result, tuned.goal.measure)
    how = "exactly" if tuned.exact else f"as nearly as this number can ({reached:.6g})"
    text = f"{title.label or tuned.title}: {tuned.goal.measure} = {tuned.goal.value:g} is reached {how} with"
    rows = [
        [name, number(getattr(tuned.was, name), 4), number(getattr(tuned.result, name), 4),
         number(getattr(tuned.result, name) - getattr(tuned.was, name), 4, "+")]
        for name in tuned.measures
    ]  # fmt: skip
    parts = [
        paragraph(text, width),
        tuned.line,
        in_columns(["result", f"was, at {tuned.before:.6g}", "will be", "change"], rows, width=width),
    ]
    if tuned.others:
        others = ", ".join(f"{value:.6g}" for value in tuned.others)
        parts.append(paragraph(f"It is also reached at {others}, farther from where it stood.", width))
    if tuned.keep:
        parts.append(paragraph(f"Kept: {', '.join(map(str, tuned.keep))}.", width))
    return "\n\n".join(parts)
