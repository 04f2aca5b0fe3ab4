"""Who comes, and when: a Poisson process whose rate follows the clock."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

from tests.checking import Disagrees, check_likely, check_that
from venue.floor.calendar import thinned
from venue.streams import Streams
from venue.units import DAY, HOUR

from .textbook import REPLICATIONS, Run, assert_simulated, run, textbook

Array = NDArray[np.float64]
Rate = Callable[[Array], Array]

CYCLE = 8.0
CYCLES = 100
# A p-value as rare as 4 standard errors.
RARE = float(2 * stats.norm.sf(4))


def waves(times: Array) -> Array:
    """The rate of the example: 10 + 4 sin(2 pi t / 8)."""
    return 10 + 4 * np.sin(2 * np.pi * times / CYCLE)


def expected_by(times: Array) -> Array:
    """Arrivals of the example expected by a time: the integral of its rate."""
    return 10 * times + 4 * CYCLE / (2 * math.pi) * (1 - np.cos(2 * np.pi * times / CYCLE))


def arrivals(rate: Rate) -> list[Array]:
    return [
        thinned(rate, 22.0, 0.0, CYCLES * CYCLE, Streams(31, number).generator("arrivals"))
        for number in range(REPLICATIONS)
    ]


def check_counts(found: Sequence[Array]) -> None:
    # Lewis & Shedler 1979, Naval Research Logistics Quarterly 26: over one cycle of that rate 80 arrivals in the mean,
    # and, counts being Poisson, with variance 80.
    counts = [np.histogram(times, CYCLES, (0.0, CYCLES * CYCLE))[0] for times in found]
    assert_simulated([count.mean() for count in counts], 80.0)
    assert_simulated([count.var(ddof=1) for count in counts], 80.0)


def check_gaps(found: Sequence[Array]) -> None:
    # The same: on the scale of expected arrivals the gaps are exponential with mean 1.
    gaps = np.concatenate([np.diff(expected_by(times), prepend=0.0) for times in found])
    check_likely(stats.kstest(gaps, "expon").pvalue, RARE)


def test_thinned_counts() -> None:
    check_counts(arrivals(waves))


def test_thinned_gaps() -> None:
    check_gaps(arrivals(waves))


def test_control_counts_of_a_busier_process() -> None:
    with pytest.raises(Disagrees):
        check_counts(arrivals(lambda times: waves(times) + 0.5))


def test_control_counts_when_cycles_differ() -> None:
    with pytest.raises(Disagrees):
        check_counts(arrivals(lambda times: waves(times) + np.where(times // CYCLE % 2, 1.0, -1.0)))


def test_control_gaps_of_a_process_without_waves() -> None:
    with pytest.raises(Disagrees):
        check_gaps(arrivals(lambda times: np.full(times.shape, 10.0)))


def test_nobody_comes_in_no_time() -> None:
    assert not len(thinned(waves, 14.0, 5.0, 5.0, Streams(1, 0).generator("arrivals")))


# -- a whole day on the floor --------------------------------------------------------------------------------------

STEPS = {"10:00": 4.0, "12:00": 24.0, "15:00": 3.0, "18:00": 12.0}
FLAT = {"10:00": 11.4}
EDGES = np.array([10, 12, 15, 18, 22]) * HOUR
PER_STEP = np.array([4, 24, 3, 12]) * np.diff(EDGES) / HOUR
FACTORS = np.array([1.0, 1.0, 0.5, 1.0, 1.0, 2.0, 1.0])  # Wednesday is slack, Saturday is busy
WEEKDAY = {"wednesday": 0.5, "saturday": 2.0}


@cache
def weeks(busy: bool = True, flat: bool = False) -> tuple[Run, ...]:
    """A week in each replication; the one machine does not matter."""
    scenario = textbook(
        {"desk": {"price": 1, "count": 1, "play_time": "1 min", "line_limit": 0}},
        FLAT if flat else STEPS,
        weekday=WEEKDAY if busy else {},
        hours="10:00-22:00",
        days=7,
    )
    return tuple(run(scenario, seed=32))


def check_profile(runs: Sequence[Run]) -> None:
    # A sum of independent Poisson counts, each with the mean that the scenario states: mean and variance agree.
    expected = np.outer(FACTORS, PER_STEP)
    counts = []
    for one in runs:
        times = one.visits["arrived"].to_numpy()
        edges = (EDGES + DAY * np.arange(7)[:, None])[:, :, None]
        counts.append((times < edges[:, 1:, :]).sum(axis=2) - (times < edges[:, :-1, :]).sum(axis=2))
        assert counts[-1].sum() == len(times)
    for day in range(7):
        for step in range(len(PER_STEP)):
            assert_simulated([count[day, step] for count in counts], expected[day, step])
    spread = ((np.array(counts) - expected) ** 2 / expected).sum()
    check_that(RARE / 2 < stats.chi2.sf(spread, np.size(counts)) < 1 - RARE / 2)


def check_day_gaps(runs: Sequence[Run]) -> None:
    # Rescaled gaps, as above, of a rate that steps.
    at = np.concatenate([EDGES + DAY * day for day in range(7)])
    counted = np.cumsum(np.outer(FACTORS, [0.0, *PER_STEP]).ravel())
    gaps = [np.diff(np.interp(np.sort(one.visits["arrived"]), at, counted), prepend=0.0) for one in runs]
    check_likely(stats.kstest(np.concatenate(gaps), "expon").pvalue, RARE)


def test_arrivals_follow_the_profile_of_the_day() -> None:
    check_profile(weeks())


def test_gaps_between_arrivals_of_a_week() -> None:
    check_day_gaps(weeks())


@pytest.mark.parametrize("wrong", [{"busy": False}, {"flat": True}])
def test_control_another_profile(wrong: dict[str, bool]) -> None:
    with pytest.raises(Disagrees):
        check_profile(weeks(**wrong))
    with pytest.raises(Disagrees):
        check_day_gaps(weeks(**wrong))


# -- a load that varies --------------------------------------------------------------------------------------------

MEAN_PLAY = 20 * 60.0
WHEN = np.array([11.0, 11.9, 12.1, 12.5, 13.5, 15.2, 17.0, 18.4, 21.0]) * HOUR


@cache
def without_a_line() -> tuple[Run, ...]:
    """A week of days on which everybody finds a machine at once; plays are exponential."""
    machine = {"price": 1, "count": 200, "play_time": "20 min", "play_time_varies": "exponential"}
    return tuple(run(textbook({"desk": machine}, STEPS, hours="10:00-22:00", days=7), seed=33))


def expected_in_play(lag: bool = True) -> Array:
    # Eick, Massey & Whitt 1993, Management Science 39 (from memory): M(t)/G/infinity holds a Poisson number, whose mean
    # follows m' = rate - m / mean play time when plays are exponential. Without the lag: m = rate x mean play time.
    rates = np.array(list(STEPS.values())) / HOUR
    if not lag:
        return MEAN_PLAY * rates[np.searchsorted(EDGES, WHEN, side="right") - 1]
    found = []
    for time in WHEN:
        mean = 0.0
        for rate, begin, end in zip(rates, EDGES, EDGES[1:], strict=False):
            passed = max(0.0, min(time, end) - begin)
            mean = rate * MEAN_PLAY + (mean - rate * MEAN_PLAY) * math.exp(-passed / MEAN_PLAY)
        found.append(mean)
    return np.array(found)


def check_in_play(expected: Array) -> None:
    per_day = []
    for one in without_a_line():
        began, ended = one.plays["began"].to_numpy(), one.plays["ended"].to_numpy()
        times = WHEN + DAY * np.arange(7)[:, None]
        per_day.append(((began <= times[..., None]) & (ended > times[..., None])).sum(axis=2))
    for place in range(len(WHEN)):
        assert_simulated([days[:, place].mean() for days in per_day], expected[place])
    # A Poisson number: variance and mean agree.
    spread = ((np.array(per_day) - expected) ** 2 / expected).sum()
    check_that(RARE / 2 < stats.chi2.sf(spread, np.size(per_day)) < 1 - RARE / 2)


def test_machines_in_play_follow_the_load() -> None:
    check_in_play(expected_in_play())


def test_control_machines_in_play_without_a_lag() -> None:
    with pytest.raises(Disagrees):
        check_in_play(expected_in_play(lag=False))


# -- a finite catchment --------------------------------------------------------------------------------------------

CATCHMENT = 300
PER_HOUR = 4.0


@cache
def from_a_catchment(catchment: int | None = CATCHMENT, chance: float = 0.0) -> tuple[Run, ...]:
    """Ten days of visitors out of few; `chance`: that a visit is followed by another."""
    machine = {"desk": {"price": 1, "count": 1, "play_time": "1 min", "line_limit": 0}}
    often = math.log(chance / (1 - chance)) if chance else -math.inf
    people = {"come_back": {"constant": often, "delay_median": "1 days"}}
    loaded = textbook(machine, PER_HOUR, hours="10:00-20:00", days=10, people=people)
    if catchment is not None:
        loaded = loaded.vary([f"venue.arrivals.catchment={catchment}"])
    return tuple(run(loaded, seed=34))


def check_catchment(runs: Sequence[Run], catchment: int) -> None:
    # From the definition: each of N people comes for the first time at an exponential time with rate / N, so that the
    # numbers who have come by any time are binomial (a pure death process; Feller, vol. I, ch. XVII, from memory).
    for days in (2, 5, 10):
        share = 1 - math.exp(-PER_HOUR * 10 * days / catchment)
        known = np.array(
            [(one.visits["visit"].to_numpy() == 0)[one.visits["arrived"] < days * DAY].sum() for one in runs]
        )
        assert_simulated(known, catchment * share)
        assert_simulated((known - catchment * share) ** 2, catchment * share * (1 - share))


def test_first_visits_thin_out() -> None:
    check_catchment(from_a_catchment(), CATCHMENT)


@pytest.mark.parametrize("catchment", [None, 400])
def test_control_another_catchment(catchment: int | None) -> None:
    with pytest.raises(Disagrees):
        check_catchment(from_a_catchment(catchment), CATCHMENT)


def test_who_comes_again_leaves_the_first_visits_as_they_are() -> None:
    # Common random numbers: the same people come for the first time at the same times, whatever they do afterwards.
    for once, often in zip(from_a_catchment(), from_a_catchment(chance=0.5), strict=True):
        first = often.visits[often.visits["visit"] == 0]
        assert len(often.visits) > 1.3 * len(once.visits)
        assert np.array_equal(first.sort_values("person")["arrived"], once.visits.sort_values("person")["arrived"])


def test_a_catchment_of_one() -> None:
    for one in from_a_catchment(1):
        assert len(one.visits) == 1
