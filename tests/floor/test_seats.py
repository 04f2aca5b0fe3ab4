"""Machines with several seats: what a side is made of, who sits where, who joins at a break, who stays as winner."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import Any

import numpy as np
import pytest

from tests.checking import Disagrees, check_equal, check_that
from venue.contest.table import TitleTables
from venue.floor.run import Floor
from venue.floor.seat import Seat
from venue.floor.sides import arrange, line_up
from venue.streams import Streams
from venue.visitors.person import Person
from venue.visitors.visit import Company

from .textbook import SURELY, Raw, Run, assert_close, assert_simulated, run, textbook, walk

# -- what a side is made of ----------------------------------------------------------------------------------------


def seated(seats: int, skills: Sequence[float], *, opponent: float = 0.4) -> tuple[Floor, list[Seat]]:
    """Visitors of these skills who sit down one after the other at an empty machine."""
    machine = {"title": "walk", "price": 1, "seats": seats}
    scenario = textbook({"walk": machine}, 1.0, titles={"walk": walk(20, opponent=opponent)}).scenario
    tables = {key: TitleTables(title, 1.0, frozenset()) for key, title in scenario.titles.items()}
    floor = Floor(scenario, tables, Streams(71, 0), 1)
    found = []
    for number, skill in enumerate(skills):
        person = Person(number)
        person.skill = skill
        (visit,) = floor.context.habits.traits.set_out([person], 0.0)
        seat = Seat(visit, 1)
        seat.record = floor.context.habits.traits.meet(person, 0)
        found.append(seat)
    return floor, found


def gap_of(seats: int, skills: Sequence[float], company: Sequence[int] = (), same_side: bool = False) -> float:
    floor, found = seated(seats, skills)
    row = floor.rows[0]
    party = Company(len(company), same_side)
    for place in company:
        found[place].visit.company = party
    arrange(found, row.sides)
    title = row.title
    assert title is not None
    return line_up(row, title, found, 0.5)[0]


@pytest.mark.parametrize(
    ("seats", "skills", "gap"),
    [
        # By hand: sides fill in turn, a side is the mean of its seats, the computer (skill 0.4) has the empty ones.
        (1, [1.0], 1.0 - 0.4),
        (2, [1.0], 1.0 - 0.4),
        (2, [1.0, 0.2], 1.0 - 0.2),
        (3, [1.0], (1.0 + 0.4) / 2 - 0.4),
        (3, [1.0, 0.2], (1.0 + 0.4) / 2 - 0.2),
        (3, [1.0, 0.2, -0.6], (1.0 - 0.6) / 2 - 0.2),
        (4, [1.0, 0.2, -0.6], (1.0 - 0.6) / 2 - (0.2 + 0.4) / 2),
        (4, [1.0, 0.2, -0.6, 0.8], (1.0 - 0.6) / 2 - (0.2 + 0.8) / 2),
    ],
)
def test_a_side_is_as_strong_as_its_seats(seats: int, skills: list[float], gap: float) -> None:
    assert_close(gap_of(seats, skills), gap, 1e-12)


def test_friends_sit_as_they_like() -> None:
    skills = [1.0, 0.2, -0.6, 0.8]
    # Friends first: beside each other against the computer, or opposite; strangers fill up.
    assert_close(gap_of(4, skills[:2], [0, 1], same_side=True), (1.0 + 0.2) / 2 - 0.4, 1e-12)
    assert_close(gap_of(4, skills[:2], [0, 1]), (1.0 + 0.4) / 2 - (0.2 + 0.4) / 2, 1e-12)
    assert_close(gap_of(4, skills, [0, 1], same_side=True), (1.0 + 0.2) / 2 - (-0.6 + 0.8) / 2, 1e-12)
    assert_close(gap_of(2, skills[:2], [0, 1], same_side=True), 1.0 - 0.2, 1e-12)


def test_control_a_side_as_strong_as_its_best() -> None:
    with pytest.raises(Disagrees):
        assert_close(gap_of(4, [1.0, 0.2, -0.6, 0.8]), 1.0 - 0.8, 1e-12)


# -- four seats on the floor ---------------------------------------------------------------------------------------

PER_HOUR = 60.0
RICH: Raw = {"wallet": {"median": 40, "spread": 0.5}, "skill": {"sd": 0.5}}


@cache
def halls(seats: int, party: int = 1, same_side: float = 0.5, **machine: Any) -> tuple[Run, ...]:
    """A hall of machines with so many seats, for contests of two periods of twenty seconds."""
    desk = {"title": "walk", "price": 1, "seats": seats, "count": 40, "wait_for_opponent": "90 s", **machine}
    scenario = textbook(
        {"walk": desk}, PER_HOUR, titles={"walk": walk(20, periods=2)},
        people={**RICH, "party": {"sizes": {str(party): 1.0}, "same_side": same_side, "together": 3.0}},
    )  # fmt: skip
    return tuple(run(scenario, replications=4, seed=72))


def check_seating(one: Run, seats: int) -> None:
    """Of each contest, who played from the start: no more than there are seats, and each counts the others right."""
    start = one.plays["began"] == one.plays.groupby("contest")["began"].transform("min")
    rows = one.plays[start]
    together = rows.groupby("contest")
    size = together["person"].transform("size")
    check_equal(size.max(), seats)
    check_that((together["person"].nunique() == together.size()).all())
    check_that((rows["against"] + rows["beside"] + 1 == size).all())
    on_a = (seats + 1) // 2
    check_that((rows["beside"] < on_a).all())
    check_that((rows["against"] <= on_a).all())


@pytest.mark.parametrize("seats", [2, 3, 4])
def test_strangers_fill_the_seats(seats: int) -> None:
    for one in halls(seats):
        check_seating(one, seats)


def test_control_a_contest_with_a_seat_too_many() -> None:
    with pytest.raises(Disagrees):
        check_seating(halls(4)[0], 3)


def test_a_party_of_four_begins_at_once() -> None:
    for one in halls(4, party=4):
        waits = one.visits["waited"]
        assert (waits == 0).mean() > 0.9
        assert (one.plays.groupby("contest").size() == 4).mean() > 0.9


@pytest.mark.parametrize(("same_side", "beside"), [(1.0, 1), (0.0, 0)])
def test_two_friends_play_with_or_against_each_other(same_side: float, beside: int) -> None:
    for one in halls(4, party=2, same_side=same_side, wait_for_opponent="0 s"):
        rows = one.plays
        alone = rows[rows.groupby("contest")["person"].transform("size") == 2]
        assert len(alone) > 300
        assert (alone["beside"] == beside).mean() > 0.95
        assert (alone["against"] == 1 - beside).mean() > 0.95


def test_winners_of_a_side_win_together() -> None:
    for one in halls(4):
        rows = one.plays[one.plays["result"].notna()]
        for _, contest in rows.groupby("contest"):
            ahead = contest[contest["margin"] > 0]
            assert set(ahead["result"]) <= {1.0} and ahead["margin"].nunique() <= 1


# -- an open seat at a break ---------------------------------------------------------------------------------------


@cache
def crowded(join: bool) -> tuple[Run, ...]:
    """One machine, two seats, a line, and contests of four periods that visitors leave with chance one half a break."""
    machine = {"title": "walk", "price": 3, "price_to_go_on": 2, "seats": 2, "join": join, "wait_for_opponent": "0 s"}
    scenario = textbook(
        {"walk": machine}, 120.0, titles={"walk": walk(30, periods=4)}, hours="10:00-16:00",
        people={"wallet": {"median": 60}, "buy_in": {"go_on": 0.0}},
    )  # fmt: skip
    return tuple(run(scenario, replications=2, seed=73))


def test_whoever_waits_buys_into_an_open_seat_at_a_break() -> None:
    for one in crowded(True):
        first = one.plays.groupby("contest")["began"].transform("min")
        joined = one.plays[one.plays["began"] > first]
        assert len(joined) > 30
        # A break comes 30 s after the start, and 40 s after each other one.
        late = (joined["began"] - first.loc[joined.index]).to_numpy()
        assert np.allclose((late - 30) % 40, 0, atol=1e-6) | np.allclose((late - 30) % 40, 40, atol=1e-6)
        done = (late + 10) / 40
        finished = joined["result"].notna().to_numpy()
        assert (joined["periods"].to_numpy()[finished] == np.rint(4 - done)[finished]).all()
        # They pay for the periods they play, at the price to go on.
        assert (joined["credits"] == 2 * joined["periods"]).all()
        others = one.plays.drop(index=joined.index)
        assert (others["credits"] == 3 + 2 * (others["periods"] - 1)).all()


def test_nobody_joins_where_the_machine_says_so() -> None:
    for one in crowded(False):
        assert (one.plays.groupby("contest")["began"].nunique() == 1).all()
        assert one.plays.groupby("contest").size().max() == 2


def test_joining_is_an_offer_that_some_refuse() -> None:
    for one in crowded(True):
        visits = one.visits
        assert (visits["offers"] >= visits["taken"]).all()
        # Half of all offers are taken: at breaks, after contests (never), and of open seats.
        assert 0.3 < visits["taken"].sum() / visits["offers"].sum() < 0.5


# -- winners -------------------------------------------------------------------------------------------------------


@cache
def reign(skill: float) -> tuple[Run, ...]:
    """One machine for two and a line of people who never have enough; the winner stays."""
    machine = {
        "title": "walk", "price": 1, "seats": 2, "alone": "wait", "winner_stays": True,
    }  # fmt: skip
    scenario = textbook(
        {"walk": machine}, 240.0, titles={"walk": walk(20, tie="next score")}, hours="10:00-13:00",
        people={
            "wallet": {"off": True}, "stay": {"median": "100 h"}, "buy_in": {"again": SURELY}, "skill": {"sd": skill},
        },
    )  # fmt: skip
    return tuple(run(scenario, seed=74))


def reigns(one: Run) -> list[int]:
    """Lengths of unbroken turns at the machine, of those whose turn began and ended while there was a line."""
    lengths = []
    for _, mine in one.plays.sort_values("began").groupby("person"):
        breaks = np.flatnonzero(np.diff(mine["contest"].to_numpy()) > 1)
        turns = np.split(mine["result"].to_numpy(), breaks + 1)
        lengths += [len(turn) for turn in turns if turn[-1] == 0.0]
    return lengths


def check_reigns(runs: Sequence[Run]) -> None:
    # Geometric: whoever sits down plays on until the first loss, each contest with chance one half.
    lengths = [np.array(reigns(one)) for one in runs]
    assert_simulated([(mine == 1).mean() for mine in lengths], 0.5)
    assert_simulated([(mine >= 3).mean() for mine in lengths], 0.25)


def test_a_winner_among_equals_reigns_for_a_geometric_number_of_contests() -> None:
    check_reigns(reign(0.0))


def test_control_people_of_different_skill() -> None:
    with pytest.raises(Disagrees):
        check_reigns(reign(0.6))


@cache
def against_the_computer(price: int, opponent: float = 0.0, **machine: Any) -> tuple[Run, ...]:
    """An even game against the computer, until the wallet of six credits is empty."""
    desk = {"title": "walk", "price": price, "count": 80, **machine}
    scenario = textbook(
        {"walk": desk}, 20.0, titles={"walk": walk(21, opponent=opponent)},
        people={"wallet": {"median": 6}, "stay": {"median": "100 h"}, "buy_in": {"again": SURELY}},
    )  # fmt: skip
    return tuple(run(scenario, seed=75))


def check_plays(runs: Sequence[Run], plays: float) -> None:
    whole = [one.visits[one.visits["arrived"] < 0.7 * 86400] for one in runs]
    assert_simulated([mine["plays"].mean() for mine in whole], plays)


def test_a_free_contest_for_the_winner() -> None:
    # Each contest paid for is followed by free ones until the first loss: two contests a credit (a geometric sum).
    runs = against_the_computer(1, winner_free=True)
    check_plays(runs, 12.0)
    for one in runs:
        done = one.visits[one.visits["because"] == "wallet empty"]
        assert (done["credits"] == 6).all()


def test_control_a_computer_that_wins_more() -> None:
    with pytest.raises(Disagrees):
        check_plays(against_the_computer(1, 0.1, winner_free=True), 12.0)


def test_another_go_for_less() -> None:
    # Six credits, three for the first contest and one for each other: four contests.
    for one in against_the_computer(3, discount_again=2)[:3]:
        assert (one.visits["plays"] == 4).all()
        assert (one.visits["credits"] == 6).all()


def test_a_wallet_that_buys_what_it_holds() -> None:
    for one in against_the_computer(1)[:3]:
        assert (one.visits["plays"] == 6).all()
