"""Choosing with a stated chance of being right: printed constants, and how often it is right where that is known."""

from __future__ import annotations

import math

import numpy as np
import pytest

import venue
from tests.checking import Disagrees, check_that
from venue.errors import InputError
from venue.study.front import front
from venue.study.intervals import Estimate
from venue.study.point import difference
from venue.study.ranking_selection import Race, next_round, rinott_counts, rinott_h
from venue.study.recommendation import choose, fairer_tie
from venue.study.requirements import Requirement, Requirements, requirements_of

from ..floor.textbook import assert_prints
from .test_recommendation import NONE, around, point
from .test_workers import small

# Banks, Carson, Nelson & Nicol, Discrete-Event System Simulation, Table A.12: (settings, first stage, h) for 0.95.
PRINTED = [(2, 10, "2.614"), (10, 20, "3.875")]


@pytest.mark.parametrize(("settings", "first_stage", "printed"), PRINTED)
def test_rinott_s_constant(settings: int, first_stage: int, printed: str) -> None:
    assert_prints(rinott_h(settings, first_stage, 0.95), printed)


@pytest.mark.parametrize(("settings", "first_stage", "printed"), PRINTED)
def test_control_degrees_of_freedom_one_too_many(settings: int, first_stage: int, printed: str) -> None:
    with pytest.raises(Disagrees):
        assert_prints(rinott_h(settings, first_stage + 1, 0.95), printed)


# -- how often the choice is right, at the slippage configuration -----------------------------------------------------

SETTINGS, WORTH, SURE, TRIES = 5, 1.0, 0.9, 400


def drawn(seed: int, ahead: float, shared: float) -> np.ndarray:
    """Normal results of settings that share part of their chance; the first has the greater mean by `ahead`."""
    generator = np.random.default_rng(seed)
    common = generator.normal(0.0, shared, size=(1, 2000))
    results = common + generator.normal(0.0, 2.0, size=(SETTINGS, 2000))
    results[0] += ahead
    return results


def raced(results: np.ndarray) -> int:
    """The setting left by the procedure, results being taken as a study would."""
    count = 10
    race = Race(results[:, :count], SURE, WORTH)
    while len(race.left) > 1:
        race.drop(results[:, :count].mean(axis=1).tolist(), count)
        count = next_round(count, results.shape[1])
    return race.left[0]


def check_right(ahead: float, shared: float = 3.0) -> float:
    """Share of right choices, at least what was promised, less four standard errors of the trial."""
    right = float(np.mean([raced(drawn(seed, ahead, shared)) == 0 for seed in range(TRIES)]))
    check_that(right >= SURE - 4 * math.sqrt(SURE * (1 - SURE) / TRIES))
    return right


def test_the_race_is_right_as_often_as_promised() -> None:
    """Kim & Nelson 2001: the best ahead of all others by just what is worth telling apart, on common random numbers."""
    check_right(WORTH)
    assert check_right(2 * WORTH) > 0.98


def test_control_the_best_ahead_by_too_little() -> None:
    with pytest.raises(Disagrees):
        check_right(WORTH / 8)


def two_stages(seed: int, ahead: float) -> bool:
    """Rinott's procedure: whether it is right, on independent results."""
    results = drawn(seed, ahead, 0.0)
    counts = rinott_counts(results[:, :10], SURE, WORTH)
    return int(np.argmax([row[:count].mean() for row, count in zip(results, counts, strict=True)])) == 0


def check_two_stages(ahead: float) -> None:
    right = float(np.mean([two_stages(seed, ahead) for seed in range(TRIES)]))
    check_that(right >= SURE - 4 * math.sqrt(SURE * (1 - SURE) / TRIES))


def test_two_stages_are_right_as_often_as_promised() -> None:
    check_two_stages(WORTH)


def test_control_two_stages_with_too_little_between() -> None:
    with pytest.raises(Disagrees):
        check_two_stages(WORTH / 4)


def test_equal_settings_end_the_race_too() -> None:
    same = np.tile(np.random.default_rng(1).normal(size=500), (3, 1))
    assert raced(same) in (0, 1, 2)


# -- through the program ----------------------------------------------------------------------------------------------


@pytest.mark.slow
def test_a_sweep_that_must_be_sure() -> None:
    over = {"machines.solo.price": [1, 2, 4]}
    found = venue.sweep(
        small(), over=over, replications=10, sure=0.9, worth=2.0, at_most=60, keep=["credits_per_play>=0"], workers=2
    )
    selection = found.selection
    assert selection is not None and selection.finished and selection.chosen == found.best.place
    assert found.best.chance_right == 0.9 and found.best.reason == "assured"
    assert {len(point.replications) for point in found.points} == set(selection.replications)
    assert min(selection.replications) >= 10
    plain = found.to_dict()
    assert plain["selection"]["procedure"] == "Kim-Nelson" and plain["requirements"]["credits_per_play"] == 0.0
    alone = venue.sweep(
        small(), over=over, replications=10, sure=0.9, worth=2.0, at_most=60, keep=["credits_per_play>=0"]
    )
    assert alone.to_dict() == plain


def test_a_race_that_is_not_over_says_so() -> None:
    found = venue.sweep(small(), strengths=[0.8, 0.9], sure=0.999, worth=0.01, replications=10, at_most=12)
    assert found.selection is not None and not found.selection.finished
    assert found.best.chance_right is not None and found.best.chance_right < 0.999


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"sure": 1.5}, "--sure 1.5: must lie between 0.5 and 0.999999"),
        ({"sure": 0.95, "worth": 0.0}, "--worth 0: must be"),
        ({"sure": 0.95, "at_most": 3}, "--at-most 3: must be at least 10, where --sure begins"),
        ({"sure": 0.95, "precision": {"utilisation": 0.1}}, "ends by --precision or by --sure"),
        ({"keep": ["take>=1"]}, "--keep take: is no measure"),
        ({"keep": ["return_28d>1"]}, "is not MEASURE>=NUMBER"),
        ({"keep": ["return_28d>=2"]}, "--keep return_28d>=2: must lie between 0 and 1"),
        ({"keep": ["wait_minutes<=2", "wait_minutes<=3"]}, "is bound twice"),
    ],
)
def test_what_cannot_be_chosen_by(asked: dict[str, object], words: str) -> None:
    with pytest.raises(InputError) as caught:
        venue.sweep(small(), strengths=[0.0, 1.0], replications=10, **asked)  # type: ignore[arg-type]
    assert words in str(caught.value)


# -- requirements, rivals, the trade-off -------------------------------------------------------------------------------


def test_any_measure_can_be_kept() -> None:
    assert requirements_of(["better_side_wins>=65%", "wait_minutes <= 3"]) == (
        Requirement("better_side_wins", 0.65), Requirement("wait_minutes", 3.0, most=True),
    )  # fmt: skip
    points = [point(0.0, around(50, 1, 1)), point(1.0, around(60, 1, 2))]
    for replication in points[1].replications:
        replication.measured.venue["empty_wallets"] = 0.5
    for replication in points[0].replications:
        replication.measured.venue["empty_wallets"] = 0.3
    assert choose(points, Requirements(0, 0), 1).strength == 1.0
    best = choose(points, Requirements(0, 0, requirements_of(["empty_wallets<=0.4"])), 1)
    assert best.strength == 0.0 and best.judged[2].means[0] == pytest.approx(0.3)
    nothing = choose(points, Requirements(0, 0, requirements_of(["empty_wallets<=0.1"])), 1)
    assert nothing.strength is None
    assert nothing.reason == "none keeps the requirements" and min(nothing.judged[2].means) == pytest.approx(0.3)


def test_those_that_cannot_be_told_apart_are_named() -> None:
    shared = np.array(around(0, 5, 9))
    points = [
        point(0.0, (shared + around(50.0, 0.5, 1)).tolist()),
        point(1.0, (shared + around(60.0, 0.5, 2)).tolist()),
        point(2.0, (shared + around(59.9, 0.5, 3)).tolist()),
    ]
    best = choose(points, NONE, 1)
    assert (best.place, best.rivals) == (1, (2,))


def test_of_the_ties_that_are_surely_fairer_the_nearest_in_take_is_named() -> None:
    def around_it(mean: float, half: float) -> Estimate:
        return Estimate(mean, mean - half, mean + half, 10)

    near, far = (around_it(-0.2, 1.0), around_it(0.01, 0.005)), (around_it(-0.9, 1.0), around_it(0.03, 0.005))
    unsure, less_fair = (around_it(-0.1, 1.0), around_it(0.01, 0.02)), (around_it(0.0, 1.0), around_it(-0.02, 0.005))
    assert fairer_tie({0: far, 1: near, 3: unsure, 4: less_fair}) == 1
    assert fairer_tie({3: unsure, 4: less_fair, 5: (None, None)}) is None
    earns_less = around_it(-0.5, 0.4), around_it(0.01, 0.005)
    assert fairer_tie({0: far, 2: earns_less}) == 0 and fairer_tie({2: earns_less}) is None


def test_the_front_and_the_price_of_fairness() -> None:
    """Three settings on a line, each further point of fairness costing 2 credits, and one beaten by the middle one."""
    noise = around(0, 0.001, 4)
    points = [
        point(0.0, around(50, 0.01, 1), fair=(np.array(noise) + 0.75).tolist()),
        point(1.0, around(60, 0.01, 2), fair=(np.array(noise) + 0.70).tolist()),
        point(2.0, around(70, 0.01, 3), fair=(np.array(noise) + 0.65).tolist()),
        point(3.0, around(59, 0.01, 5), fair=(np.array(noise) + 0.69).tolist()),
    ]
    found = front(points, 1)
    assert [(item.place, item.on_front) for item in found] == [(0, True), (1, True), (3, False), (2, True)]
    assert [item.chance for item in found] == [1.0, 1.0, 0.0, 1.0]
    assert found[0].price is None and found[2].price is None
    for item in (found[1], found[3]):
        assert item.price is not None and item.price[0] == pytest.approx(2.0, rel=1e-2)
        assert item.price[1] < 2.0 < item.price[2]


def test_a_setting_on_the_front_by_a_toss() -> None:
    """Equal fairness by construction, and a take that is as likely greater as smaller."""
    points = [point(0.0, around(50, 1, 1), fair=0.7), point(1.0, around(50, 1, 2), fair=0.7)]
    assert front(points, 3)[0].chance == pytest.approx(0.5, abs=0.02)


def test_one_replication_has_a_front_without_chances() -> None:
    found = front([point(0.0, [50.0], fair=0.8), point(1.0, [60.0], fair=0.7)], 1)
    assert [(item.on_front, item.chance, item.price) for item in found] == [(True, None, None)] * 2
    assert front([point(0.0, [50.0], fair=math.nan)], 1) == ()


def test_points_with_unlike_numbers_of_replications_are_compared_by_those_that_both_have() -> None:
    short, long = point(0.0, [1.0, 2.0, 4.0]), point(1.0, [2.0, 4.0, 7.0, 100.0, 200.0])
    found = difference(long, short, "credits_per_hour")
    assert found is not None and (found.mean, found.replications) == (2.0, 3)
