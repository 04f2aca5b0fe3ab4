"""Control variates: against the textbook on normal values, against queues with known means, and on the floor."""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

import venue
from tests.floor.textbook import desk, over, textbook, walk
from venue.floor.calendar import Profile
from venue.scenario.load import Loaded
from venue.streams import Streams
from venue.study.control import LEAST, steadied, variance_ratio
from venue.study.intervals import estimate
from venue.study.replicate import Bench
from venue.visitors.person import Person
from venue.visitors.visit import Visit, first_draws

from .test_common_numbers import LIVELY

FOUR = 4.0


def pairs(count: int, correlation: float, seed: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Values with mean 50 and a control with mean 0, jointly normal."""
    draws = np.random.default_rng(seed).normal(size=(2, count))
    return 50 + 3 * (correlation * draws[0] + math.sqrt(1 - correlation**2) * draws[1]), 2 * draws[0]


def slope_without(values: NDArray[np.float64], controls: NDArray[np.float64], place: int) -> float:
    """The least squares slope of all replications but one, by SciPy."""
    return float(stats.linregress(np.delete(controls, place), np.delete(values, place)).slope)


def test_each_replication_has_the_slope_of_all_others() -> None:
    values, controls = pairs(12, 0.8, 1)
    wanted = [y - slope_without(values, controls, place) * controls[place] for place, y in enumerate(values)]
    assert steadied(values.tolist(), controls.tolist()) == pytest.approx(wanted, rel=1e-12)


def test_few_or_unknown_values_stay_as_they_are() -> None:
    values, controls = pairs(LEAST - 1, 0.8, 1)
    assert steadied(values.tolist(), controls.tolist()) == values.tolist()
    longer, known = pairs(LEAST, 0.8, 1)
    assert steadied(longer.tolist(), known.tolist()) != longer.tolist()
    for unknown in ([math.nan, *known[1:].tolist()], [0.0] * LEAST):
        assert steadied(longer.tolist(), unknown) == longer.tolist()


def studies(count: int, *, shift: float = 0.0, split: bool = True) -> tuple[float, float, float]:
    """Over made-up studies of ten replications: how far the mean lies from the truth in standard errors, the share of
    95 % intervals that hold it, and the variance of the plain mean over that of the controlled one."""
    means, plain, held = [], [], 0
    for seed in range(count):
        values, controls = pairs(10, math.sqrt(0.75), seed)
        controls = controls + shift
        if split:
            found = steadied(values.tolist(), controls.tolist())
        else:
            found = (values - stats.linregress(controls, values).slope * controls).tolist()
        item = estimate(found)
        assert item is not None
        means.append(item.mean)
        plain.append(values.mean())
        held += item.low <= 50 <= item.high
    off = (np.mean(means) - 50) / (np.std(means, ddof=1) / math.sqrt(count))
    return float(off), held / count, float(np.var(plain) / np.var(means))


def check_studies(count: int, *, shift: float = 0.0, split: bool = True) -> None:
    """Unbiased within four standard errors, and the coverage that is stated, within four of them less one point: the
    values of one study lean on each other a little (Nelson 1990)."""
    off, covered, gained = studies(count, shift=shift, split=split)
    noise = FOUR * math.sqrt(0.95 * 0.05 / count)
    assert abs(off) < FOUR and covered > 0.94 - noise
    # With normal values the slope costs (n - 2) / (n - 3) of the variance and splitting a little more
    # (Lavenberg & Welch 1981): 4 becomes about 3.
    assert 2.4 < gained < 4.0


def test_the_mean_stays_unbiased_and_its_interval_honest() -> None:
    check_studies(3000)


def test_control_a_control_whose_mean_is_not_what_was_said() -> None:
    with pytest.raises(AssertionError):
        check_studies(3000, shift=0.5)


def test_control_a_slope_fitted_to_the_same_values() -> None:
    """One slope for all narrows the interval more than it should."""
    with pytest.raises(AssertionError):
        check_studies(3000, split=False)


# -- the floor -------------------------------------------------------------------------------------------------------


def small(**study: object) -> Loaded:
    """A title alone and a pastime, people who come again, for two weeks."""
    machines = {
        "solo": {"title": "solo", "price": 1, "count": 2},
        "slide": {"price": 1, "count": 1, "play_time": "40 s", "play_time_varies": "exponential"},
    }
    people = over(LIVELY, {"wallet": {"off": False, "median": 6, "spread": 0.7}})
    loaded = textbook(
        machines, 12.0, titles={"solo": walk(10, 0.03, periods=2)}, people=people, hours="10:00-16:00", days=14
    )
    return loaded.change(**study)


def controls(loaded: Loaded, count: int) -> NDArray[np.float64]:
    return np.array([Bench().run(loaded.scenario, number).measured.control for number in range(count)])


def check_mean_is_nought(found: NDArray[np.float64]) -> None:
    assert abs(found.mean()) < FOUR * found.std(ddof=1) / math.sqrt(len(found))


@pytest.mark.slow
@pytest.mark.parametrize("change", ["venue.name=plain", "venue.arrivals.weekday.friday=3", "people.wallet.off=true",
                                    "venue.arrivals.catchment=500"])  # fmt: skip
def test_what_chance_brings_has_mean_nought(change: str) -> None:
    loaded = small(seed=5).vary([change])
    check_mean_is_nought(controls(loaded, 120))


def test_control_people_expected_by_another_rate(monkeypatch: pytest.MonkeyPatch) -> None:
    expected = Profile.expected
    monkeypatch.setattr(Profile, "expected", lambda profile, day: 0.9 * expected(profile, day))
    with pytest.raises(AssertionError):
        check_mean_is_nought(controls(small(seed=5), 12))


def check_queue(count: int, wrongly: float = 1.0) -> None:
    """M/M/3 against its mean: of the time, load / machines is in play, less what the last two hours lack, in which
    nobody comes any more (by Little's law, exactly). Held within four standard errors, which the control makes less."""
    loaded = desk(3, 2.0, customers=400).change(seed=9)
    point = venue.run(loaded, replications=count).point
    hours = 24.0 * loaded.scenario.study.days
    item = estimate(point.values("utilisation"))
    assert item is not None
    error = item.half_width / stats.t.ppf(0.975, count - 1)
    assert abs(item.mean - wrongly * 2.0 / 3 * (hours - 2) / hours) < FOUR * error
    assert variance_ratio(point.as_run("utilisation"), point.controls) > 1.2


def test_a_queue_with_a_known_mean() -> None:
    check_queue(30)


def test_control_a_queue_with_another_mean() -> None:
    with pytest.raises(AssertionError):
        check_queue(30, wrongly=1.05)


@pytest.mark.slow
def test_levels_are_known_better_and_off_is_as_run() -> None:
    found = venue.run(small(seed=5), replications=40).point
    raw = found.as_run("credits_per_hour")
    assert variance_ratio(raw, found.controls) > 1.5
    off = venue.run(small(seed=5, control_variates=False), replications=40).point
    assert off.values("credits_per_hour") == raw != found.values("credits_per_hour")
    assert off.values("better_side_wins") == found.values("better_side_wins")


def test_what_machines_take_adds_up() -> None:
    """The controlled take of the venue is that of its machines together, since all of it is linear."""
    loaded = small(seed=5)
    point = venue.run(loaded, replications=8).point
    machines = loaded.scenario.machines
    total = sum(item.count * point.machine_measures(key)["credits_per_hour"].mean for key, item in machines.items())
    assert total == pytest.approx(point.measures()["credits_per_hour"].mean, rel=1e-12)
    assert total != pytest.approx(float(np.mean(point.as_run("credits_per_hour"))), rel=1e-6)


def test_draws_looked_up_are_those_of_the_visit() -> None:
    streams, person = Streams(3, 1), Person(7)
    for number in (0, 1):
        person.visits = number
        visit = Visit(person, 0.0, streams)
        wallet, stay, whether = first_draws(Streams(3, 1), [7], [number])
        assert [wallet[0], stay[0]] == visit.draws("traits").tolist() and whether[0] == visit.draws("home")[0]
