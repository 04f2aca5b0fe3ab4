"""L = lambda W, exactly, in runs that start and end empty (Little 1961, Operations Research 9(3))."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
import simpy

from tests.checking import Disagrees
from venue.contest.table import TitleTables
from venue.errors import RunError
from venue.floor.line import Ticket, WaitingLine
from venue.floor.machine import MachineRow
from venue.floor.run import Floor
from venue.streams import Streams
from venue.units import DAY

from .demos import NAMES, demo
from .textbook import PLAY, Run, assert_close, number_inside, run, textbook, walk

# A line long enough to be left, broken up by closing time each evening.
EVENINGS = textbook(
    {"desk": {"price": 1, "count": 2, "play_time": f"{PLAY:g} s", "play_time_varies": "exponential", "line_limit": 9}},
    60.0,
    days=6,
    hours="10:00-22:00",
    people={"patience": {"off": False, "mean": "6 min"}},
)


@pytest.fixture(scope="module")
def evenings() -> list[Run]:
    return run(EVENINGS, replications=3, seed=21)


def parts_of_visits(one: Run) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """When each visitor came, was done with waiting, and left."""
    visits = one.visits.set_index("person")
    began = one.plays.set_index("person")["began"].reindex(visits.index)
    return visits["arrived"].to_numpy(), began.fillna(visits["left"]).to_numpy(), visits["left"].to_numpy()


def check_line(one: Run, end: float) -> None:
    """The line: its mean length, area by area, against arrivals times the wait that each visitor was clocked at."""
    arrived, done, _ = parts_of_visits(one)
    length = number_inside(arrived, done, 0.0, end)
    seen = arrived < end
    waited = one.visits["waited"].to_numpy(dtype=float)[seen]
    # Waits are kept to seven digits.
    assert_close(length, seen.sum() / end * waited.mean(), 1e-7)


def check_venue(one: Run, end: float) -> None:
    """The venue: its mean number inside is the mean line plus the mean number of machines in play, by their clocks."""
    arrived, done, left = parts_of_visits(one)
    inside = number_inside(arrived, left, 0.0, end)
    assert_close(inside, (arrived < end).sum() / end * (left - arrived)[arrived < end].mean(), 1e-9)
    line = number_inside(arrived, done, 0.0, end)
    assert_close(inside, line + one.account("machine time in play =").left / end, 1e-9)


def test_little_in_the_line(evenings: list[Run]) -> None:
    for one in evenings:
        assert set(one.visits["because"]) == {"time up", "closing time", "no room"}
        assert (one.visits["gave_up"] > 0).any()
        check_line(one, one.days * DAY + DAY)


def test_little_in_the_venue(evenings: list[Run]) -> None:
    for one in evenings:
        check_venue(one, one.days * DAY + DAY)


def test_control_observed_until_somebody_is_half_through_the_line(evenings: list[Run]) -> None:
    longest = evenings[0].visits.nlargest(1, "waited").iloc[0]
    until = longest["arrived"] + longest["waited"] / 2
    with pytest.raises(Disagrees):
        check_line(evenings[0], until)
    with pytest.raises(Disagrees):
        check_venue(evenings[0], until)


@pytest.mark.parametrize("name", NAMES)
def test_little_in_the_demo_venues(name: str) -> None:
    for one in demo(name):
        arrived, left = one.visits["arrived"].to_numpy(), one.visits["left"].to_numpy()
        end = 40 * DAY
        assert left.max() < end
        inside = number_inside(arrived, left, 0.0, end)
        assert_close(inside, len(arrived) / end * (left - arrived).mean(), 1e-9)


def test_everybody_is_counted_once(evenings: list[Run]) -> None:
    for one in evenings:
        assert one.account("visitors in").left == len(one.visits) == one.visits["person"].nunique()
        assert one.visits["person"].tolist() == list(range(len(one.visits)))


# -- row by row ----------------------------------------------------------------------------------------------------

# Two titles and two pastimes, too few of each, some of them failing: people choose by their taste and by the lines,
# give up, are sent away by a fault, move on and come again. Who sits down at the wall waits for nobody opposite, so
# that all waiting is in lines.
HALL = textbook(
    {
        "tide": {"title": "long", "price": 1, "count": 2, "appeal": 0.5, "faults": {"mean_plays": 60}},
        "wall": {
            "title": "short", "price": 1, "count": 1, "seats": 2, "wait_for_opponent": "0 s", "winner_stays": True,
        },
        "slide": {"price": 2, "count": 1, "play_time": "90 s", "line_limit": 3, "appeal": 0.5},
        "drop": {"price": 1, "count": 1, "play_time": "40 s", "play_time_varies": "exponential",
                 "faults": {"mean_use": "2 h"}},
    },
    40.0,
    days=4,
    hours="10:00-20:00",
    titles={"long": walk(40, periods=3), "short": walk(30, periods=2)},
    people={
        "wallet": {"median": 12, "spread": 0.7},
        "stay": {"median": "40 min", "spread": 0.5},
        "patience": {"off": False, "mean": "2 min"},
        "party": {"sizes": {"1": 0.6, "2": 0.4}},
        "buy_in": {"go_on": 0.5, "again": -0.5, "chance": 2.0},
        "choice": {"belief": 2.0, "waiting": 0.3, "leave": -1.0, "tired": 2.0},
        "come_back": {"constant": 0.0, "delay_median": "1 days"},
    },
).scenario  # fmt: skip
ROWS = list(HALL.machines)


def hall() -> Floor:
    """The hall before its first day."""
    tables = {key: TitleTables(title, 1.0, frozenset()) for key, title in HALL.titles.items()}
    return Floor(HALL, tables, Streams(23, 0), HALL.study.days)


@cache
def whole() -> Floor:
    """After its last."""
    floor = hall()
    floor.run()
    return floor


def check_row(row: MachineRow, time: float) -> None:
    """One line: its mean length by the clock of the line, against arrivals times the mean wait by the tickets."""
    assert_close(row.length_time / time, row.joined / time * (row.waited / row.joined), 1e-9)


@pytest.mark.parametrize("number", range(len(ROWS)), ids=ROWS)
def test_little_in_the_line_of_each_row(number: int) -> None:
    floor = whole()
    assert floor.rows[number].joined > 100
    check_row(floor.rows[number], floor.context.env.now)


def test_lines_of_all_rows_are_what_visitors_stood_in() -> None:
    floor = whole()
    visits = floor.ledger.visits.table()
    assert visits["moved"].sum() > 100 and visits["gave_up"].sum() > 100
    assert visits["lines"].sum() > visits["gave_up"].sum() + 100
    assert sum(row.joined for row in floor.rows) == visits["lines"].sum()
    assert_close(sum(row.length_time for row in floor.rows), float(visits["waited"].sum()), 1e-9)


class Observed(Exception):
    """The run is broken off here."""


@pytest.mark.parametrize("number", range(len(ROWS)), ids=ROWS)
def test_control_a_row_observed_while_people_stand_in_its_line(number: int) -> None:
    floor = hall()
    row = floor.rows[number]

    def look(_event: simpy.Event) -> None:
        # Two who came one after the other: the line has told the time that the first stood there alone.
        if row.joined > 100 and len({ticket.joined for ticket in row.in_line()}) > 1:
            raise Observed

    for minute in range(3 * 24 * 60):
        floor.context.env.timeout(DAY + 60.0 * minute).callbacks.append(look)
    with pytest.raises(Observed):
        floor.run()
    with pytest.raises(Disagrees, match="is not"):
        check_row(row, floor.context.env.now)


@pytest.mark.parametrize("number", range(len(ROWS)), ids=ROWS)
def test_control_a_line_that_does_not_clock_who_gives_up(number: int, monkeypatch: pytest.MonkeyPatch) -> None:
    call = WaitingLine.call

    def forget(line: WaitingLine, ticket: Ticket) -> None:
        before = line.waited
        call(line, ticket)
        if line.env.now - ticket.joined > 60.0:
            line.waited = before

    monkeypatch.setattr(WaitingLine, "call", forget)
    floor = hall()
    with pytest.raises(RunError, match="time in lines"):  # the books of the run do not balance either
        floor.run()
    with pytest.raises(Disagrees, match="is not"):
        check_row(floor.rows[number], floor.context.env.now)
