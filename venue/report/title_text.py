"""What a title's exact results say, in parts: the answer and one table, or all of it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from venue.contest.results import Headline
from venue.contest.watch import Event
from venue.report import title_tables
from venue.report.figures import number
from venue.report.heading import heading
from venue.report.layout import Lines, Part
from venue.report.sentences import titles
from venue.report.sentences.parts import sentence_text
from venue.report.title_tables import FIRST, unit
from venue.scenario.title import Title
from venue.study.title import TitleResult

if TYPE_CHECKING:
    from venue.study.tune import Tuned

_MOST_FAULTS = 8
_WEIGHT = (
    "Weights go by cabinets; how often a machine's seats fill which way only a run can say, so here these count alike."
)


def title_parts(result: TitleResult, *, full: bool = True) -> list[Part]:
    """A title: who wins and whether trailing pays; with `full` what each rule does and the rates that result."""
    title, table = result.design, title_tables.headline_table(result)
    name = title.label or result.title
    if not full:
        few = table.only("strength", *FIRST)
        return [
            f"{heading(result.loaded, name)}, exact. {_answer(result)}",
            few,
            _trailing(result),
            _turn(title),
            *_met(result),
        ]
    parts: list[Part] = [heading(result.loaded, f"{name}, exact, {_over_whom(result)}"), table, _notes(result)]
    if len(result.line_ups) > 1:
        parts += [f"How the floor seats visitors, at strength {result.strength:g}. {_WEIGHT}",
                  title_tables.line_ups_table(result)]  # fmt: skip
    if title.rules:
        parts += [*_owed(result), *_apart(result)]
    parts.append(
        f"Coded against effective, at strength {result.strength:g}: what the title writes down, the rate that really "
        "results once skill and every rule have acted, and the one over the other:"
    )
    parts.append(title_tables.effective_table(result))
    if title.rules:
        parts.append(_trailing(result))
        faults = title_tables.trailing_table(result).first(_MOST_FAULTS)
        parts += [faults] if faults.rows else []
        parts += ["What each move gains by itself, and together:", title_tables.moves_table(result)]
    return parts


def _answer(result: TitleResult) -> str:
    """Who wins and how close it ends, at the strength the scenario would be run at and without catch-up."""
    with_it, bare = result.apart.whole, result.apart.bare
    title = result.design
    if not title.rules:
        return f"The better side wins {_share(bare.better_side_wins)} of contests; {_close(title, bare)}."
    return (
        f"At strength {result.strength:g} the better side wins {_share(with_it.better_side_wins)} of contests "
        f"({_share(bare.better_side_wins)} without catch-up), and {_close(title, with_it)} "
        f"({_share(bare.close_finishes)})."
    )


def _close(title: Title, item: Headline) -> str:
    return f"{_share(item.close_finishes)} end within {title.close} {unit(title)}"


def _share(value: float) -> str:
    return f"{number(100 * value, 1)} %"


def _over_whom(result: TitleResult) -> str:
    match = result.match_ups
    if result.against.gap is not None or match.sd == 0.0:
        return f"one pair of skills, side A ahead by {match.mean:g} log-odds, against the {match.side_b}"
    return (
        f"averaged over newcomers' skills (gap of mean {match.mean:g}, sd {match.sd:.3g} log-odds, the logarithm of a "
        f"chance's odds); side A is a visitor, side B {'another' if match.side_b == 'visitor' else 'the computer'}"
    )


def _turn(title: Title) -> str:
    turn = "at the start of the last period" if title.periods > 1 else "half-way"
    return (
        f"Close: within {title.close} {unit(title)}. Comebacks: of those who trail {turn}, the share that still wins. "
        f"Margin spread: standard deviation (typical distance from the mean), in {unit(title)}."
    )


def _met(result: TitleResult) -> list[Part]:
    """Where the floor makes several line-ups: which these results are of, and the others."""
    if len(result.line_ups) < 2:
        return []
    named = ", ".join(
        f"{title_tables.line_up_name(item)} ({number(100 * item.weight, 0)} %"
        + (f", {item.difficulty})" if item.difficulty and item.has_computer else ")")
        for item in result.line_ups
    )
    return [f"The floor seats visitors {named}. These are results of the first; --full has each. {_WEIGHT}"]


def _notes(result: TitleResult) -> str:
    """What the columns mean, and which margins were computed."""
    title = result.design
    text = (
        f"{_turn(title)} Lead changes: times the lead goes to the side that did not have it last. Equal sides without "
        f"any rule end {result.spread:.2f} {unit(title)} apart (standard deviation)."
    )
    if title.form != "first to":
        text += f" Margins from {result.span[0]} to {result.span[1]} are reckoned with; less than 1e-9 lies beyond."
    if result.ladder:
        steps = ", ".join(number(chance, 3) for chance in result.ladder)
        text += f" Up the ladder, a visitor of mean skill wins with chance {steps}."
    return text


def _owed(result: TitleResult) -> list[Part]:
    """Points owed to each rule."""
    table, what = title_tables.owed_by_strength(result), unit(result.design)
    if table is None:
        return [f"What the rules give to one side they take from the other: both sides together are owed no {what}."]
    text = (
        f"{what.capitalize()} a contest owed to each rule, both sides together and net of what leaders lose, by "
        "strength:"
    )
    return [text, table]


def _apart(result: TitleResult) -> list[Part]:
    """Each rule left out and alone, and what no switch turns off."""
    notes = sentence_text(titles.stays_on(result.apart.stays_on))
    if result.overlaps:
        pairs = "; ".join(f"{first} and {second}" for first, second in result.overlaps)
        notes += f" Where two of these cover one attempt the greater acts alone: {pairs}."
    return [f"Rule by rule, at strength {result.strength:g}:", title_tables.rules_table(result), notes]


def _trailing(result: TitleResult) -> str:
    """Whether a player could profit from trailing, and from the moves that were searched."""
    faults, found = result.trailing.faults, result.findings
    text = sentence_text(titles.trailing(found), titles.best_play(found.best_play))
    head = f"{'Trailing pays at' if faults else 'At'} strength {result.strength:g}: "
    more = f" The {_MOST_FAULTS} worst scores:" if len(faults) > _MOST_FAULTS else ""
    return f"{head}{text[:1].lower()}{text[1:]}{more}"


def tuned_parts(tuned: Tuned) -> list[Part]:
    """What to write into the scenario, and what it changes."""
    title = tuned.loaded.scenario.titles[tuned.title]
    reached = getattr(tuned.result, tuned.goal.measure)
    how = "exactly" if tuned.exact else f"as nearly as this number can ({reached:.6g})"
    parts: list[Part] = [
        f"{title.label or tuned.title}: {tuned.goal.measure} = {tuned.goal.value:g} is reached {how} with",
        Lines(tuned.line),
        title_tables.tuned_table(tuned),
    ]
    if tuned.others:
        others = ", ".join(f"{value:.6g}" for value in tuned.others)
        parts.append(f"It is also reached at {others}, farther from where it stood.")
    return [*parts, *([f"Kept: {', '.join(map(str, tuned.keep))}."] if tuned.keep else [])]


def events_parts(title: Title, events: Sequence[Event]) -> list[Part]:
    """One contest as a person would watch it, line by line, with the rules that acted."""
    if not events:
        return ["Nothing happened."]
    return [title_tables.events_table(title, events), _ending(events[-1], title.form == "race")]


def _ending(last: Event, race: bool) -> str:
    lead = last.score[0] if race else last.score[0] - last.score[1]
    if lead == 0:
        return "It ends level."
    side, other = ("A", "B") if lead > 0 else ("B", "A")
    return f"Side {side} wins by {abs(lead)}" + (
        "." if race else f", {max(last.score)} to {min(last.score)} over side {other}."
    )
