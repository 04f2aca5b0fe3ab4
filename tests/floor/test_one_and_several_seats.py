"""A machine with one seat and one with two do the same for a visitor whom nobody sits opposite.

A contest against the computer is played by one part of the floor where a machine has one seat, and by another where it
has several. At a machine with two seats that waits for nobody, a visitor always plays the computer; so both must give
the same plays, visits, offers, take and suspicion on the same random numbers. Each part checks the other: no source
outside is needed. A contest step adds times in another order, so times agree to within rounding.
"""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import pytest

from tests.checking import Disagrees, check_close, check_equal, check_that
from venue.contest.table import TitleTables
from venue.floor.offer_log import Line
from venue.floor.run import Floor
from venue.streams import Streams

from .textbook import Raw, over, textbook

TITLE: Raw = {
    "play": "turns",
    "periods": 4,
    "period_length": "40 s",
    "mean_attack": "4 s",
    "close": 2,
    "tie": "next score",
    "opponent": 0.25,
    "ladder": {"step": 0.3, "rungs": 2},
    "attempts": {
        "skip": {"share": 0.6, "points": 1, "chance": "55 %"},
        "leap": {"share": 0.4, "points": 2, "chance": "35 %"},
    },
    "rules": {"pull": {"kind": "slope", "per_point": "4 pp", "cap": 6}},
}
# So many cabinets that nobody waits: whoever waits in line is called to an open seat, where there are several.
MACHINE: Raw = {
    "title": "game", "count": 60, "price": 2, "price_to_go_on": 1, "prices": {"12:00": 3}, "wait_for_opponent": "0 s",
    "prices_to_go_on": {"13:00": 2}, "discount_again": 1, "faults": {"mean_plays": 25, "jam": 0.05},
}  # fmt: skip
PEOPLE: Raw = {
    "skill": {"sd": 0.6, "practice": 0.05},
    "wallet": {"median": 14, "spread": 0.8},
    "stay": {"median": "15 min", "spread": 0.6},
    "belief": {"close_loss": 0.3, "learning_half_life": 4.0, "weighting": 0.8},
    "buy_in": {
        "go_on": 1.0, "again": 1.0, "chance": 2.0, "closeness": 1.0, "price": 0.3, "played": 0.05, "suspicion": 0.4,
        "tired": 0.8,
    },
    "choice": {"belief": 1.0, "suspicion": 0.3, "leave": -1.0, "rest": -2.0},
    "suspicion": {"notice": 0.6, "given_win": 0.5},
    "come_back": {"constant": 0.5, "chance": 1.0, "suspicion": 0.3, "delay_median": "1 days"},
}  # fmt: skip
LIMITS: Raw = {"limits.spend_per_visit": 25, "limits.spend_per_hour": 18}
# Times, and what decisions make of them.
ROUNDED = {"began", "ended", "arrived", "left", "at", "next_visit", "waited"}
START, BREAK, AGAIN = range(3)


@cache
def hall(seats: int, seed: int, *changes: str) -> Floor:
    """Two days of a hall of such machines, with faults, limits, a ladder, and prices that step; run."""
    scenario = textbook(
        {"game": over(MACHINE, {"seats": seats})}, 40.0, titles={"game": TITLE}, people=PEOPLE, hours="11:00-14:00",
        days=2,
    )  # fmt: skip
    changed = scenario.vary([*(f"{key}={value}" for key, value in LIMITS.items()), *changes]).scenario
    tables = {key: TitleTables(title, 1.0, frozenset()) for key, title in changed.titles.items()}
    floor = Floor(changed, tables, Streams(seed, 0), 2, keep_offers=True)
    floor.run()
    return floor


def tables_of(floor: Floor) -> dict[str, Any]:
    """All rows that a run keeps, by kind, in the order of people and times: a contest played ahead keeps its early."""
    assert floor.ledger.offers.records is not None
    return {
        "plays": np.sort(floor.ledger.plays.table(), order=["person", "visit", "began"]),
        "visits": np.sort(floor.ledger.visits.table(), order=["person", "visit"]),
        "offers": np.sort(floor.ledger.offers.records.table(), order=["person", "visit", "at", "kind"]),
    }


def figures(line: Line) -> tuple[int, int, float, float]:
    """A line of the log of offers as it stands."""
    return line.offered, line.refused, line.perceived, line.true


def check_alike(one: Floor, other: Floor) -> None:
    """Rows, coin box, offers at breaks, changes of machine and counts are the same."""
    for kind, rows in tables_of(one).items():
        others = tables_of(other)[kind]
        check_that(len(rows) == len(others), kind)
        for name in rows.dtype.names:
            if name == "true_chance" and kind == "offers":
                # Before visitors are seated nobody knows who will sit opposite: unknown, where there are several seats.
                known = ~np.isnan(others[name])
                check_that(np.array_equal(rows[name][known], others[name][known]))
                check_that(known[(rows["kind"] == BREAK) | (rows["kind"] == START) & (rows["taken"] == 1)].all())
            elif name in ROUNDED:
                check_that(np.allclose(rows[name], others[name], rtol=1e-12, atol=1e-6), f"{kind}, {name}")
            else:
                check_that(np.array_equal(rows[name], others[name], equal_nan=True), f"{kind}, {name}")
    for row, its in zip(one.rows, other.rows, strict=True):
        check_equal(row.coin_box.by_hour, its.coin_box.by_hour)
        check_equal(row.coin_box.refunded, its.coin_box.refunded)
        check_close(row.time, its.time, rel=1e-9)
    lines, others = (
        {margin: figures(line) for margin, line in floor.ledger.offers.by_margin[0].items()} for floor in (one, other)
    )
    check_equal(lines, {margin: pytest.approx(line, rel=1e-9) for margin, line in others.items()})
    check_equal(one.ledger.moved, other.ledger.moved)
    for name in ("begun", "finished", "ended_early", "in_play", "entered", "left", "contest_time"):
        check_close(getattr(one.ledger, name), getattr(other.ledger, name), rel=1e-9)


@pytest.mark.parametrize(
    ("seed", "changes"),
    [
        (1, ()),
        # The first contest after a win costs nothing; nobody goes on for closeness; two titles' worth of strength.
        (2, ("machines.game.winner_free=true", "machines.game.discount_again=0", "people.belief.weighting=1")),
        # Machines that fail in play, and a venue that closes on contests under way.
        (3, ('machines.game.faults.mean_use="20 min"', 'venue.hours.every_day="11:00-12:30"')),
    ],
)
def test_one_seat_and_two_do_the_same_for_a_lone_visitor(seed: int, changes: tuple[str, ...]) -> None:
    one = hall(1, seed, *changes)
    check_alike(one, hall(2, seed, *changes))
    # What both do has happened: every reason to stop, every kind of offer, ladders, faults, level ends.
    rows = tables_of(one)
    assert len(rows["plays"]) > 100 and (rows["plays"]["against"] == 0).all()
    assert set(np.unique(rows["offers"]["kind"])) == {START, BREAK, AGAIN}
    assert (rows["plays"]["refunded"] > 0).any() and (rows["visits"]["suspicion"] > 0).any()
    assert one.ledger.finished and one.ledger.ended_early


def test_control_a_visitor_of_another_skill() -> None:
    with pytest.raises(Disagrees):
        check_alike(hall(1, 1), hall(2, 1, "people.skill.practice=0.06"))
