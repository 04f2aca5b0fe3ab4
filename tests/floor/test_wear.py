"""Faults, jams and repairs away from the floor: clocks by hand, countdowns against their distributions."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest
import simpy
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from tests.checking import Disagrees, check_that, check_within
from venue.floor.hours_clock import HoursClock, spans_of
from venue.floor.timetable import Timetable
from venue.floor.wear import Wear, until
from venue.floor.workshop import Workshop
from venue.scenario.faults import Faults, Technician
from venue.scenario.hours import WeekHours
from venue.streams import Streams
from venue.units import DAY, HOUR

ALWAYS = HoursClock([(0.0, 1e12)])
DRAWS = 4000


# -- the clock -----------------------------------------------------------------------------------------------------


def test_hours_of_a_week_are_joined_where_they_touch() -> None:
    week = WeekHours.model_validate({"every_day": "10:00-20:00", "tuesday": "closed", "wednesday": "18:00-34:00"})
    assert spans_of(Timetable([(0, week)]), 5) == [
        (10 * HOUR, 20 * HOUR),
        (2 * DAY + 18 * HOUR, 3 * DAY + 20 * HOUR),
        (4 * DAY + 10 * HOUR, 4 * DAY + 20 * HOUR),
    ]


def test_a_clock_that_stands_still_when_closed() -> None:
    clock = HoursClock([(10.0, 20.0), (30.0, 40.0)])
    assert [clock.shows(now) for now in (0, 10, 15, 20, 25, 30, 40, 99)] == [0, 0, 5, 10, 10, 10, 20, 20]
    assert [clock.after(0, seconds) for seconds in (0, 4, 12)] == [10, 14, 32]
    assert [clock.after(15, seconds) for seconds in (1, 5, 14.5)] == [16, 30, 39.5]
    assert clock.after(25, 10) == math.inf and clock.after(50, 0) == math.inf
    assert [clock.next_running(now) for now in (0, 10, 19, 20, 35, 40)] == [10, 10, 19, 30, 35, math.inf]


@given(st.lists(st.tuples(st.floats(0.1, 9), st.floats(0.1, 9)), min_size=1), st.floats(0, 50), st.floats(0, 50))
def test_a_clock_shows_what_has_passed(gaps: list[tuple[float, float]], now: float, seconds: float) -> None:
    edges = np.cumsum([part for pair in gaps for part in pair])
    clock = HoursClock([(float(begin), float(end)) for begin, end in edges.reshape(-1, 2)])
    then = clock.after(now, seconds)
    if then < math.inf:
        assert clock.shows(then) == pytest.approx(clock.shows(now) + seconds)
        assert then >= now or seconds == 0


# -- wear ----------------------------------------------------------------------------------------------------------


def worn(number: int = 0, **faults: Any) -> Wear:
    return Wear(Faults.model_validate(faults), Streams(3, 0), number, ALWAYS)


def lives(machine: Wear) -> list[int]:
    """Plays up to and with the one in which the machine failed, life after life; each play lasts a minute."""
    found, now = [], 0.0
    for _ in range(DRAWS):
        plays = 1
        while machine.begin(now, 60.0) > now + 60.0:
            machine.end(now + 60.0)
            now += 60.0
            plays += 1
        machine.renew(now)
        found.append(plays)
    return found


def check_geometric(plays: Sequence[int], mean: float) -> None:
    # Geometric on 1, 2, ...: mean m, variance m (m - 1); and by Kolmogorov-Smirnov, which is on the safe side here.
    check_within(np.mean(plays), mean, 4 * math.sqrt(mean * (mean - 1) / len(plays)))
    check_that(stats.kstest(plays, stats.geom(1 / mean).cdf).pvalue > 1e-4 or mean < 20)


def test_faults_by_plays_are_geometric() -> None:
    check_geometric(lives(worn(mean_plays=30)), 30)
    assert set(lives(worn(mean_plays=1))) == {1}


def test_control_faults_by_plays_of_a_machine_that_wears_slower() -> None:
    with pytest.raises(Disagrees):
        check_geometric(lives(worn(mean_plays=33)), 30)


def test_a_machine_that_fails_by_plays_fails_within_the_first_period_at_any_moment_alike() -> None:
    machine = worn(mean_plays=1)
    moments = []
    for _ in range(DRAWS):
        moments.append(machine.begin(100.0, 50.0))
        machine.renew(100.0)
    assert stats.kstest(moments, stats.uniform(100.0, 50.0).cdf).pvalue > 1e-4


def use_up_to_a_fault(machine: Wear) -> list[float]:
    """Time in play up to each fault; idle time between plays does not count."""
    found, now, used = [], 0.0, 0.0
    while len(found) < DRAWS:
        fails_at = machine.begin(now, 60.0)
        if fails_at <= now + 60.0:
            found.append(used + fails_at - now)
            used = 0.0
            machine.renew(now)
        else:
            machine.end(now + 60.0)
            used += 60.0
        now += 500.0
    return found


def test_faults_by_use_are_exponential() -> None:
    assert stats.kstest(use_up_to_a_fault(worn(mean_use="10 min")), stats.expon(0, 600.0).cdf).pvalue > 1e-4


def test_control_faults_by_use_counted_by_the_clock() -> None:
    assert stats.kstest(use_up_to_a_fault(worn(mean_time="10 min")), stats.expon(0, 600.0).cdf).pvalue < 1e-4


def test_faults_by_the_clock_come_in_open_time() -> None:
    clock = HoursClock((day * DAY + 10 * HOUR, day * DAY + 20 * HOUR) for day in range(100_000))
    machine = Wear(Faults.model_validate({"mean_time": "15 h"}), Streams(3, 0), 0, clock)
    now, gaps = 0.0, []
    for _ in range(DRAWS):
        then = machine.fails_by_clock
        assert 10 * HOUR <= then % DAY <= 20 * HOUR
        gaps.append(clock.shows(then) - clock.shows(now))
        now = then
        machine.renew(now)
    assert stats.kstest(gaps, stats.expon(0, 15 * HOUR).cdf).pvalue > 1e-4


def test_each_machine_wears_by_its_own_draws() -> None:
    assert worn(0, mean_time="1 h").fails_by_clock != worn(1, mean_time="1 h").fails_by_clock
    # Another cause moves nothing.
    assert worn(0, mean_time="1 h", mean_plays=5).fails_by_clock == worn(0, mean_time="1 h").fails_by_clock


# -- jams ----------------------------------------------------------------------------------------------------------


@given(st.lists(st.integers(0, 7), max_size=60), st.sampled_from([0.05, 0.3, 0.5]))
def test_jams_do_not_depend_on_how_buy_ins_are_grouped(groups: list[int], chance: float) -> None:
    one_by_one, together = worn(jam=chance), worn(jam=chance)
    first = [place for place in range(sum(groups)) for _ in one_by_one.jams(1)]
    second, start = [], 0
    for size in groups:
        second += [start + place for place in together.jams(size)]
        start += size
    assert first == second


def check_jams(machine: Wear, chance: float) -> None:
    # Each attempt jams with the same chance, so a buy-in meets chance / (1 - chance) jams before it goes through, with
    # variance chance / (1 - chance)^2 (negative binomial).
    count = len(machine.jams(40_000))
    check_within(count / 40_000, chance / (1 - chance), 4 * math.sqrt(chance / (1 - chance) ** 2 / 40_000))


def test_jams_are_as_frequent_as_stated() -> None:
    for chance in (0.002, 0.1, 0.5):
        check_jams(worn(jam=chance), chance)
    assert not worn(jam=0.0).jams(10_000)


def test_control_jams_of_another_coin_slot() -> None:
    with pytest.raises(Disagrees):
        check_jams(worn(jam=0.12), 0.1)


def test_trials_before_a_success() -> None:
    # chance .5: 0 for a uniform below .5, 1 below .75, 2 below .875
    assert [until(uniform, 0.5) for uniform in (0.0, 0.49, 0.51, 0.74, 0.76, 0.87, 0.88)] == [0, 0, 1, 1, 2, 2, 3]
    assert until(0.999, 1.0) == 0


# -- the technicians -----------------------------------------------------------------------------------------------


class Sick:
    """A machine that only notes when it was repaired."""

    def __init__(self, number: int, env: simpy.Environment, repair_time: float | None = None) -> None:
        self.number, self.repair_time, self.env = number, repair_time, env
        self.well_at: float | None = None

    def repaired(self, now: float) -> None:
        assert now == self.env.now
        self.well_at = now


def repairs(
    faults: Sequence[float], on_duty: HoursClock = ALWAYS, repair_time: float | None = None, **technician: Any
) -> list[float | None]:
    """When machines that fail at these times work again; repairs take 10 s, nobody needs time to notice."""
    env = simpy.Environment()
    plain = {"response": "0 s", "repair_time": "10 s", "repair_varies": "fixed"}
    shop = Workshop(env, Technician.model_validate(plain | technician), on_duty, Streams(1, 0))
    machines = [Sick(number, env, repair_time) for number in range(len(faults))]
    for machine, fails in zip(machines, faults, strict=True):
        env.timeout(fails).callbacks.append(lambda _, machine=machine: shop.report(machine))  # type: ignore[union-attr,misc]
    env.run()
    return [machine.well_at for machine in machines]


def test_one_technician_repairs_one_after_another() -> None:
    assert repairs([0, 3, 50]) == [10, 20, 60]


def test_two_technicians_repair_two_at_a_time() -> None:
    assert repairs([0, 3, 4], count=2) == [10, 13, 20]


def test_a_fault_takes_time_to_be_noticed() -> None:
    assert repairs([0, 3], response="7 s") == [17, 27]


def test_a_machine_may_take_its_own_time() -> None:
    assert repairs([0, 3], repair_time=2.0) == [2, 5]


def test_repairs_begin_on_duty_and_are_finished_whatever_the_hour() -> None:
    assert repairs([0, 3, 41], HoursClock([(5.0, 17.0), (40.0, 45.0)])) == [15, 25, 51]
    assert repairs([20, 90], HoursClock([(5.0, 17.0), (40.0, 45.0)])) == [50, None]


def test_without_a_technician_nothing_is_repaired() -> None:
    assert repairs([0, 3], count=0) == [None, None]


def test_repairs_vary_exponentially() -> None:
    times = repairs([1000.0 * number for number in range(DRAWS)], repair_varies="exponential", count=10)
    lengths = [well - 1000.0 * number for number, well in enumerate(times) if well is not None]
    assert stats.kstest(lengths, stats.expon(0, 10.0).cdf).pvalue > 1e-4
