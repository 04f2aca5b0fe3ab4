"""One contest as a person would watch it, line by line, with the rules that acted."""

from __future__ import annotations

from collections.abc import Sequence

from venue.contest.watch import Event
from venue.report.columns import in_columns, left, room, short
from venue.report.heading import LONGEST_NAME
from venue.report.stacked_table import fits, in_two_lines
from venue.report.title_tables import words_last
from venue.scenario.title import Title


def watch_table(title: Title, events: Sequence[Event], width: int = 120) -> str:
    """One contest, an event a line; in a narrow window the rules that acted stand below their event."""
    if not events:
        return "Nothing happened."
    race, clock = title.form == "race", title.form != "first to"
    rows = [
        [
            str(event.period),
            *([_clock(event)] if clock else []),
            event.side,
            short(event.attempt, LONGEST_NAME),
            f"{event.unaided:.1%}",
            f"{event.chance:.1%}",
            _outcome(event, race),
            _score(event, race),
            _acted(event),
        ]
        for event in events
    ]
    score = "A's gap" if race else "A : B"
    head = ["period", *(["left"] if clock else []), "side", "attempt", "unaided", "with rules", "outcome", score,
            "rules that acted"]  # fmt: skip
    rows = _flush_left(head, rows, "attempt", "outcome")
    table = in_columns(head, words_last(rows), width=width) if fits(head, rows, width) else _narrow(events, race, clock)
    return table + "\n\n" + _ending(events[-1], race)


def _narrow(events: Sequence[Event], race: bool, clock: bool) -> str:
    """Period and clock in one column, side and attempt in another, without the unaided chance."""
    rows = [
        [
            f"{event.period} {_clock(event)}" if clock else str(event.period),
            f"{event.side} {short(event.attempt, LONGEST_NAME)}",
            f"{event.chance:.1%}",
            _outcome(event, race),
            _score(event, race),
            _acted(event),
        ]
        for event in events
    ]
    head = ["period,\nleft" if clock else "period", "side and\nattempt", "with\nrules", "outcome",
            "A's gap" if race else "A : B", "rules that acted"]  # fmt: skip
    rows = _flush_left(head, rows, "outcome")
    return in_two_lines(head, rows, first=len(head) - 1, flush_left=2)


def _flush_left(head: list[str], rows: list[list[str]], *columns: str) -> list[list[str]]:
    for place in map(head.index, columns):
        widest = max(room(row[place]) for row in [head, *rows])
        rows = [[*row[:place], left(row[place], widest), *row[place + 1 :]] for row in rows]
    return rows


def _clock(event: Event) -> str:
    return "-" if event.left is None else f"{event.left // 60}:{event.left % 60:02d}"


def _score(event: Event, race: bool) -> str:
    return f"{event.score[0]:+d}" if race else " : ".join(map(str, event.score))


def _ending(last: Event, race: bool) -> str:
    lead = last.score[0] if race else last.score[0] - last.score[1]
    if lead == 0:
        return "It ends level."
    side, other = ("A", "B") if lead > 0 else ("B", "A")
    return f"Side {side} wins by {abs(lead)}" + (
        "." if race else f", {max(last.score)} to {min(last.score)} over side {other}."
    )


def _outcome(event: Event, race: bool) -> str:
    text = f"gains {event.points}" if race else f"scores {event.points}" if event.points else event.outcome
    return text + (" by the rules" if event.owed else "")


def _acted(event: Event) -> str:
    return ", ".join(f"{rule} {100 * part:+.1f} pp" for rule, part in event.rules)
