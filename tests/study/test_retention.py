"""Retention with censoring, against a published trial, another library, and visits made by hand."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cache

import numpy as np
import pytest
from lifelines import KaplanMeierFitter
from lifelines.datasets import load_leukemia

from venue.study.retention import returned_within, still_away
from venue.units import DAY

from ..floor.textbook import Run, assert_prints, assert_simulated, run, textbook


def check_trial(seen: np.ndarray) -> None:
    # Freireich et al. 1963, the arm on 6-MP (lifelines.datasets.load_leukemia): 21 people, 9 events.
    arm = load_leukemia().query("Rx == 0")
    assert len(arm) == 21
    curve = still_away(arm["t"], seen, [6, 10, 23])
    for value, printed in zip(curve, ["0.857143", "0.752941", "0.448179"], strict=True):
        assert_prints(float(value), printed)


def test_kaplan_meier_on_a_published_trial() -> None:
    seen = load_leukemia().query("Rx == 0")["status"].to_numpy()
    assert seen.sum() == 9
    check_trial(seen)


def test_control_trial_without_censoring() -> None:
    with pytest.raises(AssertionError):
        check_trial(np.ones(21))


def check_fitter(durations: np.ndarray, seen: np.ndarray, at: np.ndarray) -> None:
    theirs = KaplanMeierFitter().fit(durations, seen).survival_function_at_times(at)
    assert np.allclose(still_away(durations, seen, at), theirs, rtol=1e-9, atol=1e-12)


def random_trial(seed: int) -> tuple[np.ndarray, np.ndarray]:
    random = np.random.default_rng(seed)
    events, lost = random.exponential(20.0, 300).round(), random.uniform(0.0, 40.0, 300).round()
    return np.minimum(events, lost), events <= lost


@pytest.mark.parametrize("seed", range(5))
def test_kaplan_meier_agrees_with_lifelines(seed: int) -> None:
    # Rounded times, so that there are ties between events, and of events with losses.
    durations, seen = random_trial(seed)
    check_fitter(durations, seen, np.arange(0.0, 38.0))


def test_control_losses_taken_for_events() -> None:
    durations, seen = random_trial(0)
    with pytest.raises(AssertionError):
        theirs = KaplanMeierFitter().fit(durations, seen).survival_function_at_times([20.0])
        assert np.allclose(still_away(durations, np.ones(300), [20.0]), theirs, rtol=1e-9)


# -- visits made by hand -------------------------------------------------------------------------------------------


def check_by_hand(left: Sequence[float], again: Sequence[float], end: float, share: float) -> None:
    days = np.array(left) * DAY, np.array(again) * DAY
    assert returned_within(*days, end * DAY) == pytest.approx(share, rel=1e-9)


NO = math.inf


def test_everybody_was_watched_long_enough() -> None:
    # Four visits in the first days of 60; two are followed within 28 days, one on day 28 exactly, one later.
    check_by_hand([0, 1, 2, 3], [10, 29, 32, NO], 60, 2 / 4)


def test_visits_near_the_end_are_censored() -> None:
    # By hand, product-limit: of 4 in sight one returns after 5 days (3/4); one is lost after 8; of 2 one returns
    # after 20 (3/4 x 1/2). Half of those lost would have to be guessed at otherwise.
    check_by_hand([0, 22, 0, 0], [5, NO, 20, NO], 30, 1 - 3 / 4 * 1 / 2)


def test_control_visits_near_the_end_counted_as_lost_for_good() -> None:
    with pytest.raises(AssertionError):
        check_by_hand([0, 22, 0, 0], [5, NO, 20, NO], 30, 2 / 4)


def test_returns_after_the_end_were_not_seen() -> None:
    check_by_hand([0, 0], [12, 31], 30, 1 / 2)
    # A visit that ended after the last closing was not followed at all.
    check_by_hand([0, 0, 30.01], [12, 31, NO], 30, 1 / 2)


@pytest.mark.parametrize(("left", "end"), [([3.0, 20.0], 30.0), ([], 60.0), ([61.0], 60.0)])
def test_a_run_too_short_to_tell(left: list[float], end: float) -> None:
    assert math.isnan(returned_within(np.array(left) * DAY, np.full(len(left), NO), end * DAY))


# -- on the floor --------------------------------------------------------------------------------------------------

CHANCE = 0.4


@cache
def watched() -> tuple[Run, ...]:
    """Two in five visits are followed, after 9 days give or take half: some not before the run of 36 days ends."""
    people = {
        "come_back": {
            "constant": math.log(CHANCE / (1 - CHANCE)),
            "delay_median": "9 days",
            "delay_spread": 0.35,
        }
    }
    machine = {"desk": {"price": 1, "count": 60, "play_time": "1 min"}}
    return tuple(run(textbook(machine, 2.0, people=people, hours="10:00-20:00", days=36), seed=95))


def check_retention(shares: Sequence[float]) -> None:
    # Lognormal: all but one in a thousand who return do so within 28 days.
    assert_simulated(shares, CHANCE)


def test_retention_of_a_constant_chance() -> None:
    check_retention([one.measured.venue["return_28d"] for one in watched()])


def test_control_retention_that_forgets_about_the_end() -> None:
    with pytest.raises(AssertionError):
        check_retention([np.isfinite(one.visits["next_visit"]).mean() for one in watched()])
