"""A venue that goes on from a snapshot gives the numbers, to the last bit, of one that was never stopped.

There is no outside figure for this: it is an identity of the program with itself, run through and run in two parts.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from venue.errors import RunError
from venue.floor.run import Floor
from venue.floor.snapshot import Snapshot
from venue.scenario.load import Loaded
from venue.streams import Streams
from venue.study.measures import Measured, measure
from venue.study.replicate import _solved

from ..study.test_common_numbers import LIVELY
from .textbook import Raw, over, textbook, walk

BEFORE, AFTER = 14, 14


def hall(hours: str = "10:00-16:00") -> Loaded:
    """All that a venue remembers over night: people who learn and come in parties, worn machines, kept credits."""
    titles = {
        "solo": walk(10, 0.03, periods=2),
        "duel": walk(8, 0.02, periods=2, scores_again=0.55, tie="next score"),
    }
    machines: Raw = {
        "solo": {"title": "solo", "price": 1, "count": 3, "faults": {"mean_plays": 40, "jam": 0.02}},
        "duel": {"title": "duel", "price": 1, "count": 2, "seats": 2, "faults": {"mean_use": "9 h"}},
        "slide": {"price": 1, "count": 2, "play_time": "40 s", "faults": {"mean_time": "20 h"}},
    }
    people = over(
        LIVELY,
        {"suspicion": {"notice": 0.5, "half_life": "9 days"}, "skill": {"practice": 0.02},
         "party": {"sizes": {"1": 0.5, "2": 0.5}}, "come_back": {"constant": 0.0, "delay_median": "5 days"}},
    )  # fmt: skip
    loaded = textbook(machines, 3.0, titles=titles, people=people, hours=hours, days=AFTER)
    loaded = loaded.vary(['venue.technician.repair_time="5 h"', "venue.till.bundles=[{credits=5, price_of=4}]"])
    return loaded.change(warm_up=0)


def through(loaded: Loaded, number: int = 0) -> tuple[Floor, Measured]:
    """Run from the opening, the first days left out as a warm-up."""
    scenario = loaded.change(warm_up=BEFORE, days=BEFORE + AFTER).scenario
    tables, unaided = _solved(scenario)
    floor = Floor(scenario, tables, Streams(5, number), BEFORE + AFTER)
    floor.run()
    return floor, measure(floor, BEFORE, unaided)


def stopped(loaded: Loaded, day: int = BEFORE, start: Snapshot | None = None) -> Snapshot:
    floor = Floor(loaded.scenario, _solved(loaded.scenario)[0], Streams(5, 0), day, start=start, ahead=3650)
    return floor.run_to_its_end()


def going_on(loaded: Loaded, snapshot: Snapshot) -> tuple[Floor, Measured]:
    tables, unaided = _solved(loaded.scenario)
    floor = Floor(loaded.scenario, tables, Streams(5, 0), BEFORE + AFTER, start=snapshot)
    floor.run()
    return floor, measure(floor, 0, unaided)


@cache
def at_once() -> tuple[Floor, Measured]:
    return through(hall())


def check_same(first: tuple[Floor, Measured], second: tuple[Floor, Measured], since: float) -> None:
    """Rows, bit by bit, and every measure that is taken from them."""
    for name, when in (("plays", "began"), ("visits", "arrived")):
        one, other = (getattr(floor.ledger, name).table() for floor, _ in (first, second))
        assert one[one[when] >= since].tobytes() == other.tobytes()
        assert len(other) > 200
    np.testing.assert_equal(first[1].venue, second[1].venue)
    np.testing.assert_equal(first[1].machines, second[1].machines)
    np.testing.assert_equal(first[1].hourly, second[1].hourly)
    assert first[1].by_margin == second[1].by_margin


def test_a_snapshot_alters_no_bit() -> None:
    snapshot = stopped(hall())
    assert len(snapshot.people) > 50
    assert snapshot.workshop.due or snapshot.workshop.waiting
    check_same(at_once(), going_on(hall(), Snapshot.unpacked(snapshot.packed())), snapshot.now)


def test_nor_does_a_snapshot_on_the_way() -> None:
    first = stopped(hall(), 7)
    second = stopped(hall(), BEFORE, Snapshot.unpacked(first.packed()))
    assert second.packed() == stopped(hall()).packed()


@pytest.mark.parametrize("what", ["people", "outings", "seen", "known", "rows", "workshop"])
def test_control_each_part_of_it_counts(what: str) -> None:
    snapshot, other = stopped(hall()), stopped(hall(), 7)
    value = getattr(other, what)
    if what in ("people", "seen"):
        value = np.array(getattr(snapshot, what))
        if what == "people":
            value["suspicion"] += 0.5
        else:
            value["wins"] += 1.0
    elif what == "outings":
        value = np.array(snapshot.outings)
        value["earliest"] += 1
    # Machines that nobody repairs, or that are repaired twice, are found by the accounts.
    with pytest.raises((AssertionError, RunError)):
        check_same(at_once(), going_on(hall(), replace(snapshot, **{what: value})), snapshot.now)


def test_a_late_night_ends_before_the_snapshot() -> None:
    late = hall("18:00-26:00")
    snapshot = stopped(late)
    assert snapshot.now >= BEFORE * 86400 + 2 * 3600
    floor, _ = through(late)
    rows = floor.ledger.plays.table()
    assert rows[rows["began"] >= snapshot.now].tobytes() == going_on(late, snapshot)[0].ledger.plays.table().tobytes()


def test_a_venue_that_never_closes_has_no_snapshot() -> None:
    with pytest.raises(RunError, match="must close for a while on the eve"):
        stopped(hall("00:00-24:00"))


def test_another_setting_goes_on_from_it() -> None:
    """Machines may be more or fewer, titles go, hours change: those who come are the same people."""
    snapshot = stopped(hall())
    for change in ("machines.solo.count=1", "machines.solo.count=5", 'venue.hours.every_day="12:00-20:00"'):
        floor, _ = going_on(hall().vary([change]), snapshot)
        known = set(snapshot.people["number"].tolist())
        came = floor.ledger.visits.table()
        again = set(came["person"][came["visit"] > 0].tolist())
        assert len(known & again) > 30
        assert came["person"][came["visit"] == 0].min() >= snapshot.known
