"""Lines and losses that have a closed form: people play once, and what is left of the venue is a queue.

Marked slow: the same, twenty times as long, and so four times as sharp.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache

import ciw
import numpy as np
import pytest
from scipy import special

from tests.checking import Disagrees, check_equal, check_within
from venue.units import DAY

from .textbook import PLAY, REPLICATIONS, Run, assert_simulated, customers, desk, number_inside, run, settled, textbook

SHORT = 800
LENGTHS = [SHORT, pytest.param(20 * SHORT, marks=pytest.mark.slow)]
each_length = pytest.mark.parametrize("length", LENGTHS)


@lru_cache(maxsize=4)
def served(
    count: int, load: float, varies: str = "exponential", room: int | None = None, length: int = SHORT
) -> tuple[Run, ...]:
    """Replications of a row of machines without a contest, to which about `length` people come."""
    return tuple(run(desk(count, load, varies=varies, room=room, customers=length), seed=11))


# -- loss ----------------------------------------------------------------------------------------------------------


def check_blocking(runs: Sequence[Run], expected: float) -> None:
    # Erlang 1917; ITU-D / ITC Teletraffic Engineering Handbook, Erlang B: the share that finds every machine taken.
    # That the distribution of the play time does not matter is the insensitivity of the same formula.
    assert_simulated([part.turned_away.mean() for part in settled(runs)], expected)


ERLANG_B = [(2, 1.0, 1 / 5), (3, 2.0, 4 / 19), (5, 3.0, 0.110054), (10, 5.0, 0.018385)]


@each_length
@pytest.mark.parametrize(("count", "load", "blocking"), ERLANG_B)
def test_turned_away_where_there_is_no_line(count: int, load: float, blocking: float, length: int) -> None:
    check_blocking(served(count, load, room=0, length=length), blocking)


@each_length
@pytest.mark.parametrize(("count", "load", "blocking"), ERLANG_B[:2])
def test_turned_away_when_plays_last_equally_long(count: int, load: float, blocking: float, length: int) -> None:
    check_blocking(served(count, load, "fixed", room=0, length=length), blocking)


@each_length
def test_load_that_turns_one_in_a_hundred_away(length: int) -> None:
    # The same tables: 5 machines carry 1.3608 erlang at 1 % (location from memory).
    check_blocking(served(5, 1.3608, room=0, length=length), 0.01)


@pytest.mark.parametrize("varies", ["exponential", "fixed"])
@pytest.mark.parametrize(("count", "load", "blocking"), ERLANG_B[:2])
def test_control_room_for_one_in_the_line(count: int, load: float, blocking: float, varies: str) -> None:
    with pytest.raises(Disagrees):
        check_blocking(served(count, load, varies, room=1, length=SHORT // 2), blocking)


@pytest.mark.parametrize(("count", "load", "blocking"), [*ERLANG_B[2:], (5, 1.3608, 0.01)])
def test_control_one_machine_out_of_order(count: int, load: float, blocking: float) -> None:
    with pytest.raises(Disagrees):
        check_blocking(served(count - 1, load, room=0, length=SHORT // 2), blocking)


# -- waiting -------------------------------------------------------------------------------------------------------


def check_waiting(runs: Sequence[Run], must_wait: float, mean_wait: float) -> None:
    # Erlang C (M/M/c), in mean play times; ITC Teletraffic Engineering Handbook (location from memory).
    parts = settled(runs)
    assert_simulated([(part.wait > 0).mean() for part in parts], must_wait)
    assert_simulated([part.wait.mean() for part in parts], mean_wait)


ERLANG_C = [(2, 1.0, 1 / 3, 1 / 3), (3, 2.0, 4 / 9, 4 / 9), (5, 4.0, 0.554113, 0.554113)]


@each_length
@pytest.mark.parametrize(("count", "load", "must_wait", "mean_wait"), ERLANG_C)
def test_wait_in_one_line_for_several_machines(
    count: int, load: float, must_wait: float, mean_wait: float, length: int
) -> None:
    check_waiting(served(count, load, length=length), must_wait, mean_wait)


@pytest.mark.parametrize(("count", "load", "must_wait", "mean_wait"), ERLANG_C)
def test_control_wait_when_plays_last_equally_long(count: int, load: float, must_wait: float, mean_wait: float) -> None:
    with pytest.raises(Disagrees):
        check_waiting(served(count, load, "fixed", length=SHORT // 2), must_wait, mean_wait)


def check_one_machine(runs: Sequence[Run], mean_wait: float) -> None:
    # Pollaczek-Khinchine: load / (1 - load) x (1 + cv^2) / 2 mean play times at one machine; load .8 gives 2 when
    # every play lasts equally long, 4 when they are exponential.
    assert_simulated([part.wait.mean() for part in settled(runs, warm_up=700)], mean_wait)


PATIENT = [2000, pytest.param(32_000, marks=pytest.mark.slow)]


@pytest.mark.parametrize("length", PATIENT)
@pytest.mark.parametrize(("varies", "mean_wait"), [("fixed", 2.0), ("exponential", 4.0)])
def test_wait_at_one_machine(varies: str, mean_wait: float, length: int) -> None:
    check_one_machine(served(1, 0.8, varies, length=length), mean_wait)


@pytest.mark.parametrize(("varies", "mean_wait"), [("fixed", 4.0), ("exponential", 2.0)])
def test_control_wait_at_one_machine_of_the_other_kind(varies: str, mean_wait: float) -> None:
    with pytest.raises(Disagrees):
        check_one_machine(served(1, 0.8, varies, length=2000), mean_wait)


def check_small_room(runs: Sequence[Run], turned_away: float, number: float) -> None:
    # M/M/1/K; Gross & Harris, Fundamentals of Queueing Theory (location from memory): load 2/3 and room for 3 in all.
    assert_simulated([part.turned_away.mean() for part in settled(runs)], turned_away)
    present = []
    for one in runs:
        people = customers(one)
        present.append(number_inside(people.arrived, people.left, 150.0, one.days * DAY / PLAY - 50.0))
    assert_simulated(present, number)


@each_length
def test_room_for_two_in_the_line(length: int) -> None:
    check_small_room(served(1, 2 / 3, room=2, length=length), 8 / 65, 66 / 65)


def test_control_room_for_three_in_the_line() -> None:
    with pytest.raises(Disagrees):
        check_small_room(served(1, 2 / 3, room=3), 8 / 65, 66 / 65)


def check_room_for_several(runs: Sequence[Run], count: int, load: float, room: int) -> None:
    # M/M/c/K (Gross & Harris, as above): the chances of n inside are as load^n / n!, from c on as a geometric series.
    inside = np.arange(count + room + 1)
    many = np.minimum(inside, count)
    weights = load**inside / special.factorial(many) / float(count) ** (inside - many)
    chances = weights / weights.sum()
    parts = settled(runs)
    assert_simulated([part.turned_away.mean() for part in parts], chances[-1])
    # Waits of those who are let in, by Little: the mean line over the rate at which they come.
    line = float(chances @ (inside - many))
    assert_simulated([part.wait[part.served].mean() for part in parts], line / (load * (1 - chances[-1])))


@each_length
@pytest.mark.parametrize(("count", "load", "room"), [(2, 1.6, 3), (3, 3.0, 2)])
def test_room_for_a_few_behind_several_machines(count: int, load: float, room: int, length: int) -> None:
    check_room_for_several(served(count, load, room=room, length=length), count, load, room)


@pytest.mark.parametrize(("count", "load", "room"), [(2, 1.6, 3), (3, 3.0, 2)])
def test_control_room_for_one_more_behind_several_machines(count: int, load: float, room: int) -> None:
    with pytest.raises(Disagrees):
        check_room_for_several(served(count, load, room=room), count, load, room + 1)


def wait_for_fixed_plays(count: int, load: float) -> float:
    """Mean wait of M/D/c in play times.

    With plays of one length everybody gets the machine of who came c places before, so the wait is that of one machine
    to which every c-th comes (Crommelin 1932, Post Off. Electr. Eng. J. 25, from memory); its mean is the sum over n of
    E(n - T)+ / n, where T is the time in which n c people come (Spitzer 1956, Trans. Am. Math. Soc. 82, from memory).
    """
    n = np.arange(1, 2000)
    return float(
        np.sum(special.gammainc(n * count, load * n) - count / load * special.gammainc(n * count + 1, load * n))
    )


def test_the_formula_at_one_machine_is_that_of_pollaczek_and_khinchine() -> None:
    assert math.isclose(wait_for_fixed_plays(1, 0.8), 2.0, rel_tol=1e-9)


FIXED = [(2, 1.0), (3, 2.4)]


@each_length
@pytest.mark.parametrize(("count", "load"), FIXED)
def test_wait_when_plays_last_equally_long(count: int, load: float, length: int) -> None:
    waits = [part.wait.mean() for part in settled(served(count, load, "fixed", length=length))]
    assert_simulated(waits, wait_for_fixed_plays(count, load))


@pytest.mark.parametrize(("count", "load"), FIXED)
def test_control_wait_when_plays_vary(count: int, load: float) -> None:
    with pytest.raises(Disagrees):
        waits = [part.wait.mean() for part in settled(served(count, load))]
        assert_simulated(waits, wait_for_fixed_plays(count, load))


# -- impatience ----------------------------------------------------------------------------------------------------


@lru_cache(maxsize=2)
def impatient(varies: str, length: int = SHORT) -> tuple[Run, ...]:
    """Two machines, load 2, patience as long as a play on average."""
    patience = {"off": False, "mean": f"{PLAY:g} s", "varies": varies}
    return tuple(run(desk(2, 2.0, customers=length, people={"patience": patience}), seed=12))


def check_impatience(runs: Sequence[Run]) -> None:
    # Erlang A (M/M/n+M); Garnett, Mandelbaum & Reiman 2002, M&SOM 4(3): load 2, n = 2, patience rate 1.
    parts = settled(runs)
    assert_simulated([part.gave_up.mean() for part in parts], 2 * math.exp(-2))
    assert_simulated([(part.wait > 0).mean() for part in parts], 1 - 3 * math.exp(-2))


def check_giving_up_pays_for_waiting(runs: Sequence[Run]) -> None:
    # The same: whatever the load, the share that gives up is the patience rate, here 1, times the mean wait.
    assert_simulated([part.gave_up.mean() - part.wait.mean() for part in settled(runs)], 0.0)


@each_length
def test_lines_left_before_a_machine_came_free(length: int) -> None:
    check_impatience(impatient("exponential", length))
    check_giving_up_pays_for_waiting(impatient("exponential", length))


def test_control_patience_that_is_the_same_for_all() -> None:
    with pytest.raises(Disagrees):
        check_impatience(impatient("fixed"))
    with pytest.raises(Disagrees):
        check_giving_up_pays_for_waiting(impatient("fixed"))


def test_nobody_waits_longer_than_patience_allows() -> None:
    for part in settled(impatient("fixed")):
        assert part.wait.max() <= 1.0 + 1e-9
        assert np.allclose(part.wait[part.gave_up], 1.0, rtol=1e-9)
        assert not part.served[part.gave_up].any()
        assert (part.served | part.gave_up).all()


@lru_cache(maxsize=2)
def hurried(seconds: float) -> tuple[Run, ...]:
    """Two machines, load 1; who has waited for so long looks for other machines, of which there are none."""
    patience = {"off": False, "mean": f"{seconds:g} s", "varies": "fixed"}
    people = {"patience": patience, "stay": {"off": True}}
    return tuple(run(desk(2, 1.0, customers=SHORT, people=people), seed=14))


def check_no_patience(runs: Sequence[Run]) -> None:
    # People without patience make no line: Erlang B, as above.
    assert_simulated([part.gave_up.mean() for part in settled(runs)], 1 / 5)
    for one in runs:
        check_equal(set(one.visits["because"]), {"wallet empty", "waited too long"})
        check_equal(one.visits["lines"].max(), 1)


def test_no_patience_is_no_line() -> None:
    check_no_patience(hurried(0.0))


def test_control_patience_for_half_a_play() -> None:
    with pytest.raises(Disagrees):
        check_no_patience(hurried(PLAY / 2))


def test_nobody_runs_from_line_to_line_for_ever() -> None:
    # Two rows that never come free, and no patience: one line, the other, and out.
    machine = {"price": 1, "count": 1, "play_time": "60 h"}
    people = {"patience": {"off": False, "mean": "0 s", "varies": "fixed"}, "stay": {"off": True}}
    scenario = textbook({"left": machine, "right": machine}, 20.0, people=people, hours="10:00-20:00")
    (one,) = run(scenario, replications=1, seed=15)
    late = one.visits[one.visits["plays"] == 0]
    assert len(late) > 100
    assert (late["lines"] <= 2).all() and (late["lines"] == 2).any()
    assert (late["left"] == late["arrived"]).all()
    assert set(late["because"]) == {"waited too long"}


# -- another simulator ---------------------------------------------------------------------------------------------


def simulated_by_ciw(count: int, load: float, room: int) -> tuple[list[float], list[float]]:
    """Share turned away and mean wait by Ciw (ciw.readthedocs.io), for plays that last equally long."""
    network = ciw.create_network(
        arrival_distributions=[ciw.dists.Exponential(load)],
        service_distributions=[ciw.dists.Deterministic(1.0)],
        number_of_servers=[count],
        queue_capacities=[room],
    )
    turned_away, waits = [], []
    for seed in range(REPLICATIONS):
        ciw.seed(seed)
        simulation = ciw.Simulation(network)
        simulation.simulate_until_max_time(2000.0)
        records = [record for record in simulation.get_all_records() if record.arrival_date > 100.0]
        lost = [record.record_type == "rejection" for record in records]
        turned_away.append(float(np.mean(lost)))
        waits.append(float(np.mean([record.waiting_time for record in records if record.record_type == "service"])))
    return turned_away, waits


def check_against_ciw(runs: Sequence[Run], count: int, load: float, room: int) -> None:
    parts = settled(runs)
    turned_away, waits = simulated_by_ciw(count, load, room)
    pairs = [
        ([part.turned_away.mean() for part in parts], turned_away),
        ([part.wait[part.served].mean() for part in parts], waits),
    ]
    for ours, theirs in pairs:
        assert_simulated(np.subtract(ours, theirs), 0.0)


@pytest.mark.slow
def test_a_queue_without_a_formula() -> None:
    check_against_ciw(served(2, 1.8, "fixed", room=3, length=8000), 2, 1.8, 3)


@pytest.mark.slow
def test_control_a_queue_with_less_room_than_that_of_ciw() -> None:
    with pytest.raises(Disagrees):
        check_against_ciw(served(2, 1.8, "fixed", room=2, length=8000), 2, 1.8, 3)


# -- first come, first served --------------------------------------------------------------------------------------


def check_order(runs: Sequence[Run], count: int) -> None:
    # Kiefer & Wolfowitz 1955, Trans. Am. Math. Soc. 78 (location from memory): who comes plays when the first of the
    # machines is done with all who came before. Every single wait, not only their mean.
    for one in runs:
        arrived, began = one.visits["arrived"].to_numpy(), one.plays["began"].to_numpy()
        lengths = one.plays["ended"].to_numpy() - began
        free = np.zeros(count)
        for come, start, lasts in zip(arrived[: len(began)], began, lengths, strict=True):
            first = int(np.argmin(free))
            check_within(max(come, free[first]), start, 1e-6)
            free[first] = start + lasts


@pytest.mark.parametrize(("count", "load", "varies"), [(3, 2.0, "exponential"), (1, 0.8, "fixed")])
def test_first_come_first_served(count: int, load: float, varies: str) -> None:
    check_order(run(desk(count, load, varies=varies), replications=2, seed=13), count)


def test_control_order_of_a_row_with_another_machine() -> None:
    with pytest.raises(Disagrees):
        check_order(run(desk(4, 2.0), replications=2, seed=13), 3)
