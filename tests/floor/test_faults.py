"""Machines that fail, jam and are repaired on the floor: renewal theory, the machine-repair model, and plain sense.

Venues are the textbook's: open day and night, nobody has a taste, so that faults are all there is.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cache
from typing import Any

import numpy as np
import pytest

from tests.checking import Disagrees
from venue.scenario.load import Loaded
from venue.units import DAY, HOUR

from .textbook import PLAY, Raw, Run, assert_simulated, desk, over, run, textbook, walk

ALL_DAY: Raw = {"every_day": "00:00-24:00"}


def with_faults(base: Loaded, faults: Raw, technician: Raw | None = None, row: str = "desk") -> Loaded:
    """The same venue with machines that fail, and somebody who sees it at once."""
    staff = {"response": "0 s", "repair_time": "2 h"} | (technician or {})
    texts = [f"machines.{row}.faults.{key}={_toml(value)}" for key, value in faults.items()]
    return base.vary([*texts, *(f"venue.technician.{key}={_toml(value)}" for key, value in staff.items())])


def _toml(value: Any) -> str:
    return f'"{value}"' if isinstance(value, str) else str(value)


def idle(count: int, days: int) -> Loaded:
    """Machines that hardly anybody plays."""
    return textbook({"desk": {"price": 1, "count": count, "play_time": "1 s"}}, 1.0, days=days, hours=ALL_DAY)


def availabilities(runs: Sequence[Run]) -> list[float]:
    return [one.measured.venue["availability"] for one in runs]


# -- renewal theory ------------------------------------------------------------------------------------------------

UP, DOWN = 10 * HOUR, 2 * HOUR


def check_availability(runs: Sequence[Run], up: float, down: float, days: int) -> None:
    # Two-state Markov process that begins in order: mean share of [0, T] in order, A + (1 - A) (1 - exp(-r T)) / (r T)
    # with A = up / (up + down), r = 1/up + 1/down (Barlow & Proschan, Mathematical Theory of Reliability, ch. 5;
    # location from memory). A is MTBF / (MTBF + MTTR).
    limit, rate = up / (up + down), 1 / up + 1 / down
    passed = rate * days * DAY
    assert_simulated(availabilities(runs), limit + (1 - limit) * -math.expm1(-passed) / passed)


@cache
def left_alone(technicians: int = 10, **technician: Any) -> tuple[Run, ...]:
    people = {"count": technicians} | technician
    return tuple(run(with_faults(idle(10, 8), {"mean_time": "10 h"}, people), seed=31))


def test_availability_is_time_in_order_over_all() -> None:
    check_availability(left_alone(), UP, DOWN, 8)


def test_control_availability_with_a_slower_repair() -> None:
    with pytest.raises(Disagrees):
        check_availability(left_alone(repair_time="2.5 h"), UP, DOWN, 8)


def test_control_availability_with_one_technician_for_all() -> None:
    with pytest.raises(Disagrees):
        check_availability(left_alone(1), UP, DOWN, 8)


def test_availability_does_not_depend_on_how_repairs_vary() -> None:
    # Alternating renewal: only means count in the long run. Response is down time too. Beginning in order adds to a
    # share of 8 days, by less than (1 - A) down / T = .002 of it; over the exact share with exponential repairs.
    runs = left_alone(repair_varies="fixed", repair_time="1.5 h", response="30 min")
    assert abs(np.mean(availabilities(runs)) - UP / (UP + DOWN)) < 0.01


# -- the machine-repair model --------------------------------------------------------------------------------------


def in_order(machines: int, technicians: int, ratio: float) -> float:
    """Mean share of machines in order, by the birth-and-death chain of the number that is not."""
    weights = [1.0]
    for broken in range(machines):
        weights.append(weights[-1] * (machines - broken) * ratio / min(broken + 1, technicians))
    return 1 - sum(broken * weight for broken, weight in enumerate(weights)) / sum(weights) / machines


def waiting_for_repair(share_in_order: float, machines: int, ratio: float) -> float:
    """Machines that wait for a technician over all: in order, in repair (as many as fail) and waiting make one."""
    return 1 - share_in_order - ratio * share_in_order


# Feller, An Introduction to Probability Theory and Its Applications I, ch. XVII.7, servicing of machines (Palm 1947),
# failure over repair rate .1: "coefficient of loss for machines" (values and location from memory).
SERVICING = [(6, 1, "0.0549"), (20, 3, "0.0169")]


@pytest.mark.parametrize(("machines", "technicians", "printed"), SERVICING)
def test_the_formula_gives_the_printed_loss(machines: int, technicians: int, printed: str) -> None:
    loss = waiting_for_repair(in_order(machines, technicians, 0.1), machines, 0.1)
    assert abs(loss - float(printed)) <= 0.00005 + 1e-12


@cache
def serviced(machines: int, technicians: int, varies: str = "exponential") -> tuple[Run, ...]:
    people = {"count": technicians, "repair_time": "20 min", "repair_varies": varies}
    venue = with_faults(idle(machines, 40), {"mean_time": "200 min"}, people)
    return tuple(run(venue.change(warm_up=2), seed=32))


def check_servicing(runs: Sequence[Run], machines: int, technicians: int) -> None:
    assert_simulated(availabilities(runs), in_order(machines, technicians, 0.1))


@pytest.mark.parametrize(("machines", "technicians"), [item[:2] for item in SERVICING])
def test_machines_that_wait_for_a_technician(machines: int, technicians: int) -> None:
    check_servicing(serviced(machines, technicians), machines, technicians)


def test_control_one_technician_more() -> None:
    with pytest.raises(Disagrees):
        check_servicing(serviced(6, 2), 6, 1)


def test_control_repairs_that_all_take_as_long() -> None:
    with pytest.raises(Disagrees):
        check_servicing(serviced(6, 1, "fixed"), 6, 1)


# -- causes --------------------------------------------------------------------------------------------------------


@cache
def worked_hard(**faults: Any) -> tuple[Run, ...]:
    return tuple(run(with_faults(desk(3, 2.0, customers=1500), faults, {"count": 3, "repair_time": "5 min"}), seed=33))


def check_by_use(runs: Sequence[Run], mean: float) -> None:
    # Exponential: faults seen over time in play is their rate, whatever ends a play.
    plays = [one.plays for one in runs]
    assert_simulated([(p["refunded"] > 0).sum() / (p["ended"] - p["began"]).sum() * mean for p in plays], 1.0)


def test_faults_by_time_in_play() -> None:
    check_by_use(worked_hard(mean_use="1 h"), HOUR)


def test_faults_by_the_clock_strike_in_play_as_often() -> None:
    check_by_use(worked_hard(mean_time="1 h"), HOUR)


def test_control_faults_by_time_in_play_and_by_the_clock() -> None:
    with pytest.raises(Disagrees):
        check_by_use(worked_hard(mean_use="1 h", mean_time="5 h"), HOUR)


def check_by_plays(runs: Sequence[Run], mean: float) -> None:
    assert_simulated([(one.plays["refunded"] > 0).mean() * mean for one in runs], 1.0)


def test_faults_by_plays() -> None:
    check_by_plays(worked_hard(mean_plays=20), 20)


def test_control_faults_by_plays_and_use() -> None:
    with pytest.raises(Disagrees):
        check_by_plays(worked_hard(mean_plays=20, mean_use="1 h"), 20)


def test_repairs_wait_for_the_hours_of_duty() -> None:
    hours = {"venue.technician.hours.every_day": "09:00-10:00", "machines.desk.faults.mean_plays": 1}
    venue = with_faults(desk(1, 0.5, customers=200), {}).vary([f"{key}={_toml(item)}" for key, item in hours.items()])
    for one in run(venue, replications=2, seed=34):
        # Every play breaks the machine; it works again after a repair that began between nine and ten, so that there
        # is one play before the first nine o'clock and few a day after.
        assert (one.plays["began"] < 9 * HOUR).sum() == 1
        assert one.plays["credits"].sum() == 0
        assert 1 < len(one.plays) <= 1 + one.days * 3


# -- what a fault does ---------------------------------------------------------------------------------------------

CONTESTS: Raw = {
    "walk": {"title": "walk", "price": 3, "price_to_go_on": 2, "count": 2},
    "pair": {"title": "walk", "price": 1, "seats": 2, "count": 2},
    "slide": {"price": 1, "count": 2, "play_time": "2 min", "play_time_varies": "exponential"},
}
SOCIAL: Raw = {
    "wallet": {"median": 14, "spread": 0.6},
    "stay": {"median": "30 min", "spread": 0.3},
    "patience": {"off": False, "mean": "3 min"},
    "buy_in": {"go_on": 1.0, "again": 0.5},
    "choice": {"leave": -1.0},
    "party": {"sizes": {"1": 0.6, "2": 0.4}},
}


def hall(faults: Raw | None = None, **changes: Any) -> Loaded:
    """A day of contests for one and two, and a pastime; all machines alike in their faults."""
    machines = {key: over(machine, {"faults": faults or {}}) for key, machine in CONTESTS.items()}
    people = over(SOCIAL, changes.pop("people", {}))
    venue = textbook(machines, 40.0, titles={"walk": walk(40, periods=3)}, people=people, hours="10:00-18:00")
    return venue.vary([f"{key.replace('__', '.')}={_toml(value)}" for key, value in changes.items()])


def rows_of(venue: Loaded, seed: int = 35) -> Run:
    return run(venue, replications=1, seed=seed)[0]


def same(first: Run, second: Run, but: Sequence[str] = ()) -> bool:
    left, right = [*but], [*but]
    return first.plays.drop(columns=left, errors="ignore").equals(
        second.plays.drop(columns=right, errors="ignore")
    ) and (first.visits.drop(columns=left, errors="ignore").equals(second.visits.drop(columns=right, errors="ignore")))


def test_machines_that_could_fail_but_do_not_change_nothing_to_the_last_bit() -> None:
    sound = rows_of(hall())
    assert same(sound, rows_of(hall({"mean_time": "36500 days", "mean_use": "36500 days", "mean_plays": 1e9})))


def test_a_jam_loses_only_its_own_buy_in() -> None:
    sound, jammed = rows_of(hall()), rows_of(hall({"jam": 0.2}))
    assert jammed.plays["refunded"].sum() > 20
    assert same(sound, jammed, ["refunded"])
    by_machine = jammed.account("credits out of wallets")
    assert by_machine.left - jammed.plays["refunded"].sum() == sound.plays["credits"].sum()


def test_control_a_fault_loses_more_than_its_buy_in() -> None:
    assert not same(rows_of(hall()), rows_of(hall({"mean_plays": 30})), ["refunded"])


FAILING: Raw = {"mean_plays": 25, "mean_use": "3 h", "mean_time": "6 h", "repair_time": "10 min"}


def test_a_contest_that_a_fault_breaks_off_refunds_the_period_under_way() -> None:
    one = rows_of(hall(FAILING))
    price = np.array([3, 1, 1])[one.plays["machines"]]
    later = np.array([2, 1, 1])[one.plays["machines"]]
    bought = price + (one.plays["periods"] - 1) * later
    broken = one.plays["refunded"] > 0
    assert broken.sum() > 10 and broken[one.plays["against"] >= 1].any() and broken[one.plays["against"] == -1].any()
    assert (one.plays["credits"] + one.plays["refunded"] == bought).all()
    last = np.where(one.plays["periods"] == 1, price, later)
    assert (one.plays["refunded"][broken] == last[broken]).all()
    assert one.plays["result"][broken].isna().all()
    # Both visitors at one machine.
    both = one.plays[one.plays["against"] == 1].groupby("contest")["refunded"]
    assert (both.min() == both.max()).mean() > 0.9


def test_nobody_is_charged_for_a_play_that_never_ended() -> None:
    # Every play fails, none is paid for; all machines are soon in fault and nobody mends them.
    one = rows_of(hall({"mean_plays": 1}, venue__technician__count=0))
    assert len(one.plays) >= 6
    assert one.plays["credits"].sum() == one.visits["credits"].sum() == 0
    assert one.account("credits out of wallets").left == one.plays["refunded"].sum() > 0
    assert one.measured.venue["availability"] < 0.2
    assert {"no room", "machine failed"} & set(one.visits["because"])


def test_with_every_machine_in_fault_nobody_plays() -> None:
    one = rows_of(hall({"mean_time": "1 s"}, venue__technician__count=0), seed=36)
    assert len(one.plays) == 0
    assert one.measured.venue["availability"] < 1e-3
    assert one.visits["because"].isin(["no room", "party left"]).all()
    assert math.isnan(one.measured.venue["revenue_per_play"]) and one.measured.venue["take_per_week"] == 0


# -- a faulty favourite --------------------------------------------------------------------------------------------


LEAVE = -1.0


@cache
def two_rows(leave: float = LEAVE, **faults: Any) -> tuple[Run, ...]:
    """A favourite and a second choice with room for everybody; people have six plays to spend, if they stay."""
    machines = {
        "best": {"price": 1, "count": 6, "play_time": "1 min", "appeal": 1.5, "faults": faults},
        "next": {"price": 1, "count": 12, "play_time": "1 min"},
    }
    people = {
        "wallet": {"median": 6, "spread": 0.0},
        "stay": {"median": "3 h", "spread": 0.0},
        "choice": {"leave": leave},
    }
    venue = textbook(machines, 20.0, days=2, people=people, hours="10:00-22:00")
    return tuple(run(venue.vary(['venue.technician.response="15 min"']), seed=37))


def per_visit(runs: Sequence[Run], row: int) -> float:
    return float(np.mean([(one.plays["machines"] == row).sum() / len(one.visits) for one in runs]))


def went_on(one: Run) -> float:
    """Of the plays that a fault broke off well before closing, the share followed by one at the other machines."""
    plays = one.plays
    following = plays.groupby(["person", "visit"])["machines"].shift(-1)
    broken_off = (plays["refunded"] > 0) & (plays["ended"] % DAY < 21.5 * HOUR)
    return float((following[broken_off] == 1).mean())


def check_second_choice(runs: Sequence[Run]) -> None:
    # Multinomial logit, closed form: the failed row is passed over, twelve machines of appeal 0 stand against leaving.
    assert_simulated([went_on(one) for one in runs], 12 / (12 + math.exp(LEAVE)))


def test_a_faulty_favourite_sends_people_to_the_second_choice() -> None:
    sound, faulty = two_rows(), two_rows(mean_plays=4)
    check_second_choice(faulty)
    lost = per_visit(sound, 0) - per_visit(faulty, 0)
    gained = per_visit(faulty, 1) - per_visit(sound, 1)
    assert lost > 1.0
    # Nearly all that the favourite loses the second choice gains; few go home over it.
    assert gained > 0.8 * lost
    assert np.mean([(one.visits["because"] == "machine failed").mean() for one in faulty]) < 0.1


def test_control_without_a_second_choice_they_go_home() -> None:
    machines = {"best": {"price": 1, "count": 6, "play_time": "1 min", "faults": {"mean_plays": 4}}}
    people = {"wallet": {"median": 6, "spread": 0.0}, "stay": {"median": "3 h", "spread": 0.0}}
    venue = textbook(machines, 30.0, days=2, people=people, hours="10:00-22:00")
    (one,) = run(venue, replications=1, seed=38)
    assert one.plays["refunded"].gt(0).sum() > 20
    assert went_on(one) == 0


def test_control_people_who_would_rather_leave() -> None:
    with pytest.raises(Disagrees):
        check_second_choice(two_rows(0.5, mean_plays=4))


def test_people_in_line_look_elsewhere_when_the_last_machine_fails() -> None:
    machines = {
        "best": {"price": 1, "count": 1, "play_time": "10 min", "appeal": 5.0, "faults": {"mean_plays": 1}},
        "next": {"price": 1, "count": 50, "play_time": "1 min", "appeal": -5.0},
    }
    people = {"wallet": {"median": 1, "spread": 0.0}, "stay": {"median": "10 h", "spread": 0.0}}
    venue = textbook(machines, 60.0, people=people, hours="10:00-14:00").vary(["venue.technician.count=0"])
    (one,) = run(venue, replications=1, seed=39)
    visits = one.visits
    # One play is broken off; whoever stood in line then goes to the second choice, without having given up.
    assert (one.plays["machines"] == 0).sum() == 1
    queued = visits[visits["lines"] > 0]
    assert len(queued) > 1 and (queued["plays"] == 1).all() and (queued["gave_up"] == 0).all()
    assert (queued["waited"] < PLAY * 3).all()
