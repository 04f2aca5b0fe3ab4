"""Retention with censoring, against a published trial, another library, and visits made by hand."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cache

import numpy as np
import pytest
from lifelines import KaplanMeierFitter
from lifelines.datasets import load_leukemia
from scipy import stats

from tests.checking import Disagrees, check_close, check_equal, check_that
from venue.study.retention import (
    Curve,
    cohorts,
    gathered,
    return_curve,
    returned_within,
    still_away,
    still_away_between,
)
from venue.units import DAY

from ..floor.textbook import Run, assert_prints, assert_simulated, run, textbook

# Weeks in remission on 6-MP, 21 people; a plus marks who was still in it when last seen. Freireich et al. 1963, Blood
# 21, as printed in Cox & Oakes, Analysis of Survival Data (location from memory); typed in by hand.
REMISSION = "6 6 6 6+ 7 9+ 10 10+ 11+ 13 16 17+ 19+ 20+ 22 23 25+ 32+ 32+ 34+ 35+"


def trial(text: str = REMISSION) -> tuple[np.ndarray, np.ndarray]:
    """Weeks, and whether the end of the remission was seen."""
    words = text.split()
    return np.array([float(word.rstrip("+")) for word in words]), np.array([word[-1] != "+" for word in words])


def check_trial(weeks: np.ndarray, seen: np.ndarray) -> None:
    # The same: 9 events; S(6), S(10), S(23).
    assert len(weeks) == 21
    assert seen.sum() in (9, 21)
    for value, printed in zip(still_away(weeks, seen, [6, 10, 23]), ["0.857143", "0.752941", "0.448179"], strict=True):
        assert_prints(float(value), printed)


def test_kaplan_meier_on_a_published_trial() -> None:
    check_trial(*trial())


def test_the_data_typed_in_are_those_of_a_library() -> None:
    arm = load_leukemia().query("Rx == 0").sort_values(["t", "status"], ascending=[True, False])
    weeks, seen = trial()
    assert arm["t"].tolist() == weeks.tolist() and (arm["status"] == 1).tolist() == seen.tolist()


def test_control_trial_without_censoring() -> None:
    with pytest.raises(Disagrees):
        check_trial(*trial(REMISSION.replace("+", "")))


def as_visits(weeks: np.ndarray, seen: np.ndarray) -> tuple[np.ndarray, np.ndarray, float]:
    """The trial as visits: somebody whose remission ended came again, who was lost from sight left so long before the
    end. A week stands for a day."""
    end = 1000.0
    left = np.where(seen, 0.0, end - weeks)
    return left * DAY, np.where(seen, weeks, np.inf) * DAY, end * DAY


def check_curve(weeks: np.ndarray, seen: np.ndarray) -> None:
    curve = return_curve(*as_visits(weeks, seen), days=(6, 10, 23))
    for value, printed in zip(curve.share, ["0.857143", "0.752941", "0.448179"], strict=True):
        assert_prints(1.0 - value, printed)


def test_the_trial_as_visits() -> None:
    check_curve(*trial())
    left, again, end = as_visits(*trial())
    assert_prints(1.0 - returned_within(left, again, end, 23 * DAY), "0.448179")


def test_control_the_trial_as_visits_that_nobody_lost_from_sight() -> None:
    weeks, _ = trial()
    with pytest.raises(Disagrees):
        check_curve(weeks, np.ones(21, dtype=bool))


def check_interval(level: float, durations: np.ndarray, seen: np.ndarray, at: np.ndarray) -> None:
    """Exponential Greenwood, as lifelines has it."""
    theirs = KaplanMeierFitter(alpha=1 - level).fit(durations, seen).confidence_interval_
    _, low, high = still_away_between(durations, seen, at)
    rows = theirs.iloc[np.searchsorted(theirs.index.to_numpy(), at, side="right") - 1].to_numpy()
    check_that(np.allclose(np.column_stack((low, high)), rows, rtol=1e-9, atol=1e-12))


def test_interval_of_kaplan_meier_agrees_with_lifelines() -> None:
    check_interval(0.95, *trial(), np.array([6.0, 7.0, 10.0, 15.0, 23.0, 34.0]))
    for seed in range(3):
        check_interval(0.95, *random_trial(seed), np.arange(2.0, 36.0))


def test_control_interval_of_another_level() -> None:
    with pytest.raises(Disagrees):
        check_interval(0.9, *trial(), np.array([10.0]))


def check_fitter(durations: np.ndarray, seen: np.ndarray, at: np.ndarray) -> None:
    theirs = KaplanMeierFitter().fit(durations, seen).survival_function_at_times(at)
    check_that(np.allclose(still_away(durations, seen, at), theirs, rtol=1e-9, atol=1e-12))


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
    with pytest.raises(Disagrees):
        theirs = KaplanMeierFitter().fit(durations, seen).survival_function_at_times([20.0])
        check_that(np.allclose(still_away(durations, np.ones(300), [20.0]), theirs, rtol=1e-9))


# -- visits made by hand -------------------------------------------------------------------------------------------


def check_by_hand(left: Sequence[float], again: Sequence[float], end: float, share: float) -> None:
    days = np.array(left) * DAY, np.array(again) * DAY
    check_close(returned_within(*days, end * DAY), share, rel=1e-9)


NO = math.inf


def test_everybody_was_watched_long_enough() -> None:
    # Four visits in the first days of 60; two are followed within 28 days, one on day 28 exactly, one later.
    check_by_hand([0, 1, 2, 3], [10, 29, 32, NO], 60, 2 / 4)


def test_visits_near_the_end_are_censored() -> None:
    # By hand, product-limit: of 4 in sight one returns after 5 days (3/4); one is lost after 8; of 2 one returns
    # after 20 (3/4 x 1/2). Half of those lost would have to be guessed at otherwise.
    check_by_hand([0, 22, 0, 0], [5, NO, 20, NO], 30, 1 - 3 / 4 * 1 / 2)


def test_control_visits_near_the_end_counted_as_lost_for_good() -> None:
    with pytest.raises(Disagrees):
        check_by_hand([0, 22, 0, 0], [5, NO, 20, NO], 30, 2 / 4)


def test_returns_after_the_end_were_not_seen() -> None:
    check_by_hand([0, 0], [12, 31], 30, 1 / 2)
    # A visit that ended after the last closing was not followed at all.
    check_by_hand([0, 0, 30.01], [12, 31, NO], 30, 1 / 2)


@pytest.mark.parametrize(("left", "end"), [([3.0, 20.0], 30.0), ([], 60.0), ([61.0], 60.0)])
def test_a_run_too_short_to_tell(left: list[float], end: float) -> None:
    assert math.isnan(returned_within(np.array(left) * DAY, np.full(len(left), NO), end * DAY))


# -- curves and cohorts --------------------------------------------------------------------------------------------

VISITS = [("visit", "i2"), ("left", "f8"), ("next_visit", "f8")]


def some_visits(rows: Sequence[tuple[int, float, float]]) -> np.ndarray:
    return np.array([(visit, left * DAY, again * DAY) for visit, left, again in rows], dtype=VISITS)


def test_cohorts_are_the_first_visits_of_each_week() -> None:
    # By hand, 40 days: two first visits in week 1, one of which is followed after 5 days and one not; a second visit,
    # which is nobody's first; one first visit in week 2, followed after 20 days.
    visits = some_visits([(0, 1, 6), (0, 2, NO), (1, 6, NO), (0, 8, 28)])
    first, second = cohorts(visits, np.array([1, 1, 1, 2]), 40 * DAY)
    assert (first.week, first.visitors, second.week, second.visitors) == (1, 2, 2, 1)
    assert dict(zip(first.curve.days, first.curve.share, strict=True)) == pytest.approx(
        {day: 0.5 if day >= 5 else 0.0 for day in (1, 2, 3, 5, 7, 10, 14, 21, 28)}
    )
    # Nobody of week 2 was in sight for longer than those 20 days.
    assert second.curve.days[-1] == 14 and set(second.curve.share) == {0.0}


def test_a_curve_reaches_as_far_as_somebody_was_in_sight() -> None:
    left, again = np.array([0.0, 10.0]) * DAY, np.array([NO, NO])
    assert return_curve(left, again, 30 * DAY, (7, 28, 35)).days == (7, 28)
    assert return_curve(np.array([]), np.array([]), 30 * DAY).days == ()


def test_curves_of_replications_together() -> None:
    one, other = (Curve((7, 14), (share, share + 0.1), (0.0, 0.0), (1.0, 1.0)) for share in (0.1, 0.3))
    both = gathered([one, other, Curve((7,), (0.2,), (0.1,), (0.3,))])
    # Student t over replications: df 2, standard error .1 / sqrt 3; beyond day 7 two replications tell.
    assert both[0]["days"] == 7 and both[0]["mean"] == pytest.approx(0.2)
    assert both[0]["high"] == pytest.approx(0.2 + 4.3027 * 0.1 / math.sqrt(3), abs=1e-5)
    assert both[1]["mean"] == pytest.approx(0.3)
    # A single one has the interval of its own curve.
    assert gathered([Curve((7,), (0.2,), (0.1,), (0.35,))]) == [{"days": 7, "mean": 0.2, "low": 0.1, "high": 0.35}]


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
    with pytest.raises(Disagrees):
        check_retention([np.isfinite(one.visits["next_visit"]).mean() for one in watched()])


def check_cohorts(chance: float) -> None:
    # The same constant chance, told for each week's first-time visitors that were watched for 28 days.
    for week in (0, 1):
        shares = []
        for one in watched():
            cohort = one.measured.cohorts[week]
            check_equal(cohort.week, week + 1)
            shares.append(dict(zip(cohort.curve.days, cohort.curve.share, strict=True))[28 - 7 * week])
        assert_simulated(shares, chance * float(stats.norm.cdf(math.log((28 - 7 * week) / 9) / 0.35)))


def test_retention_of_cohorts() -> None:
    check_cohorts(CHANCE)


def test_control_cohorts_of_another_chance() -> None:
    with pytest.raises(Disagrees):
        check_cohorts(CHANCE + 0.06)
