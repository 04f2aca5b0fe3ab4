"""The recommendation, where what is best is known because the points were made up."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pytest
from scipy import stats

from tests.checking import Disagrees, check_close, check_that
from venue.study.measures import Measured
from venue.study.point import Point
from venue.study.posterior import draw_means, losses, shares_of_best
from venue.study.recommendation import Best, choose
from venue.study.registry import MEASURES
from venue.study.replicate import Replication, Task
from venue.study.requirements import Requirements

NONE = Requirements(0.0, 0.0)
REQUIRED = Requirements(0.6, 0.2)
# Kept as likely as not, so that the mean decides.
LIKELY = Requirements(0.6, 0.2, surely=0.5)
# Share of 20 000 draws: four standard errors of it, at most.
NOISE = 4 * 0.5 / math.sqrt(20_000)

Values = Sequence[float]


def point(strength: float, credits: Values, fair: Values | float = 0.7, back: Values | float = 0.3) -> Point:
    """A setting with given results in each replication."""
    count = len(credits)
    fair, back = (np.broadcast_to(part, count).tolist() for part in (fair, back))
    found = []
    for number, (earned, won, returned) in enumerate(zip(credits, fair, back, strict=True)):
        venue = dict.fromkeys(MEASURES, 1.0)
        venue |= {"credits_per_hour": earned, "better_side_wins": won, "return_28d": returned}
        measured = Measured(venue, {}, np.zeros((0, 24)), {})
        found.append(Replication(Task(strength, number), measured, [], 0.0))
    return Point(strength, tuple(found))


def around(mean: float, sd: float, seed: int, count: int = 10) -> list[float]:
    """Values with exactly this mean and standard deviation."""
    noise = np.random.default_rng(seed).normal(size=count)
    noise = (noise - noise.mean()) / noise.std(ddof=1)
    return (mean + sd * noise).tolist()


# -- which one -----------------------------------------------------------------------------------------------------


def check_choice(points: Sequence[Point], required: Requirements, strength: float | None) -> Best:
    best = choose(points, required, seed=1)
    check_that(best.strength == strength, best.reason)
    return best


def test_the_one_that_earns_most() -> None:
    points = [point(0.0, around(50, 1, 1)), point(1.0, around(60, 1, 2)), point(2.0, around(55, 1, 3))]
    best = check_choice(points, REQUIRED, 1.0)
    assert best.reason == "most take" and best.place == 1


FAIR_OR_RICH = [
    point(0.0, around(50, 1, 1), fair=0.70, back=0.30),
    point(1.0, around(60, 1, 2), fair=0.65, back=0.25),
    point(2.0, around(70, 1, 3), fair=0.55, back=0.35),
    point(3.0, around(80, 1, 4), fair=0.65, back=0.15),
]


@pytest.mark.parametrize(
    ("required", "strength"),
    [
        (Requirements(0.0, 0.0), 3.0),
        (Requirements(0.0, 0.2), 2.0),
        (Requirements(0.6, 0.0), 3.0),
        (Requirements(0.6, 0.2), 1.0),
        (Requirements(0.68, 0.2), 0.0),
        (Requirements(0.65, 0.25), 1.0),  # kept when just reached
        (Requirements(0.75, 0.0), None),
        (Requirements(0.0, 0.4), None),
        (Requirements(0.66, 0.32), None),  # each kept by somebody, both by nobody
    ],
)
def test_requirements_are_kept(required: Requirements, strength: float | None) -> None:
    best = check_choice(FAIR_OR_RICH, required, strength)
    if strength is None:
        assert best.chance_right is None
        assert best.reason == "none keeps the requirements"


def test_control_requirements_forgotten() -> None:
    with pytest.raises(Disagrees):
        check_choice(FAIR_OR_RICH, NONE, 1.0)


def test_a_reason_names_what_was_refused() -> None:
    best = choose(FAIR_OR_RICH, REQUIRED, seed=1)
    assert best.refused == (2, 3)
    nothing = choose(FAIR_OR_RICH, Requirements(0.75, 0.0), seed=1)
    fair = nothing.judged[0]
    assert fair.requirement.bound == 0.75 and max(fair.means) == pytest.approx(0.7)


def test_the_order_of_the_points_does_not_matter() -> None:
    forward, backward = choose(FAIR_OR_RICH, REQUIRED, seed=1), choose(FAIR_OR_RICH[::-1], REQUIRED, seed=1)
    assert forward.strength == backward.strength
    assert forward.chance_right == pytest.approx(backward.chance_right, abs=NOISE)


def test_retention_that_could_not_be_told_is_not_judged() -> None:
    points = [
        point(0.0, around(50, 1, 1), fair=0.70, back=math.nan),
        point(1.0, around(60, 1, 2), fair=0.50, back=math.nan),
    ]
    best = check_choice(points, REQUIRED, 0.0)
    assert [bool(item.means) for item in best.judged] == [True, False]


def test_one_replication_cannot_say_how_sure_it_is() -> None:
    best = check_choice([point(0.0, [50.0]), point(1.0, [60.0])], REQUIRED, 1.0)
    assert best.chance_right is None


# -- how sure ------------------------------------------------------------------------------------------------------


def check_sure(points: Sequence[Point], required: Requirements, chance: float) -> None:
    best = choose(points, required, seed=7)
    check_close(best.chance_right, chance, abs=NOISE)


def by_student(mean: float, sd: float, count: int) -> float:
    """Chance that a true mean lies above zero, when values have this mean and standard deviation.

    Gelman et al., Bayesian Data Analysis, 3rd ed., section 3.2: under the usual reference prior the mean is Student t
    about the average, with n - 1 degrees of freedom and scale s / sqrt(n).
    """
    return float(stats.t.cdf(mean / (sd / math.sqrt(count)), count - 1))


@pytest.mark.parametrize("difference", [0.0, 0.2, 0.5, 1.0, 3.0])
@pytest.mark.parametrize("count", [3, 10])
def test_two_settings_in_pairs(difference: float, count: int) -> None:
    # The replications go up and down together by far more than the settings differ.
    shared = around(50, 20, 1, count)
    noise = around(difference, 1, 2, count)
    better = [a + b for a, b in zip(shared, noise, strict=True)]
    check_sure([point(0.0, shared), point(1.0, better)], NONE, by_student(difference, 1, count))


def test_control_two_settings_not_paired() -> None:
    shared, noise = around(50, 20, 1), around(1.0, 1, 2)
    better = [a + b for a, b in zip(shared, noise, strict=True)]
    with pytest.raises(Disagrees):
        check_sure([point(0.0, shared[::-1]), point(1.0, better)], NONE, by_student(1.0, 1, 10))


def test_two_settings_that_are_equal_are_a_toss() -> None:
    check_sure([point(0.0, around(50, 1, 1)), point(1.0, around(50, 1, 2))], NONE, 0.5)


def test_two_settings_that_clearly_differ() -> None:
    best = choose([point(0.0, around(50, 1, 1)), point(1.0, around(60, 1, 2))], NONE, seed=7)
    assert best.chance_right is not None and best.chance_right > 0.999


@pytest.mark.parametrize("above", [0.002, 0.01, 0.05])
def test_a_requirement_only_just_kept(above: float) -> None:
    # Alone it is right if its true fairness keeps the requirement.
    check_sure([point(1.0, around(50, 1, 1), fair=around(0.6 + above, 0.02, 2))], LIKELY, by_student(above, 0.02, 10))


def test_a_rival_held_back_by_a_requirement() -> None:
    # The second earns far more, and fails the floor unless its fairness was bad luck.
    points = [point(0.0, around(50, 1, 1)), point(1.0, around(90, 1, 2), fair=around(0.59, 0.02, 3))]
    check_sure(points, REQUIRED, by_student(0.01, 0.02, 10))


def test_three_settings_alike() -> None:
    # By symmetry.
    check_sure([point(float(s), around(50, 1, s)) for s in (1, 2, 3)], NONE, share_of_first([1, 2, 3]))


def share_of_first(seeds: Sequence[int]) -> float:
    """Chance that the first has the greatest mean: a multivariate t, drawn with SciPy."""
    rows = np.array([around(50, 1, seed) for seed in seeds])
    shape = np.cov(rows) / rows.shape[1]
    # By symmetry of the made-up data all means are equal, so the first is picked.
    draws = stats.multivariate_t(rows.mean(axis=1), shape, df=rows.shape[1] - 1, seed=5).rvs(200_000)
    return float((draws.argmax(axis=1) == 0).mean())


def test_the_same_seed_says_the_same() -> None:
    assert choose(FAIR_OR_RICH, NONE, seed=3) == choose(FAIR_OR_RICH, NONE, seed=3)


# -- reasons for doubt ----------------------------------------------------------------------------------------------


def test_equal_settings_share_the_odds_and_the_reason_says_so() -> None:
    same = [point(strength, [100.0, 102.0, 98.0, 101.0], [0.7] * 4) for strength in (0.0, 1.0)]
    best = choose(same, Requirements(0.6, 0.0), 1)
    assert best.chance_right == pytest.approx(0.5)
    assert best.reason == "same take everywhere"


def test_one_unknown_value_does_not_lift_a_requirement() -> None:
    unknown = [0.5, float("nan"), 0.5, 0.5]
    best = choose([point(0.0, [100.0, 102.0, 98.0, 101.0], unknown)], Requirements(0.62, 0.0), 1)
    assert best.strength is None
    assert best.reason == "none keeps the requirements" and best.judged[0].requirement.measure == "better_side_wins"


# -- what a choice gives up -----------------------------------------------------------------------------------------

SETTINGS, MANY = 5, 20


def made_up_studies(count: int, *, apart: bool = False) -> tuple[float, float, float, float]:
    """Means over made-up studies: the loss said and met, and the chance said and met to be right.

    The true means are spread as widely as one mean's error, and replications go up and down together. With `apart`
    what is said takes the settings for independent, which they are not.
    """
    draws = np.random.default_rng(11)
    said, met, sure, right = [], [], [], []
    for study in range(count):
        true = draws.normal(0.0, 3.0, SETTINGS)
        rows = 100 + true[:, None] + 6.0 * draws.normal(size=MANY) + 4.0 * draws.normal(size=(SETTINGS, MANY))
        pick = int(rows.mean(axis=1).argmax())
        if apart:
            rows = np.array([draws.permutation(row) for row in rows])
        drawn = draw_means(rows[:, None, :], study)[..., 0]
        said.append(losses(drawn, np.ones_like(drawn, dtype=bool), pick).mean())
        sure.append(shares_of_best(drawn)[pick])
        met.append(true.max() - true[pick])
        right.append(pick == true.argmax())
    return float(np.mean(said)), float(np.mean(met)), float(np.mean(sure)), float(np.mean(right))


def check_loss(count: int, *, apart: bool = False) -> None:
    """The loss said is the loss met, over many studies: an expectation against its frequency, to four standard errors
    of that. (With ten replications it says a fifth too much, as its t has the heavier tails then.)"""
    said, met, _, _ = made_up_studies(count, apart=apart)
    check_close(said, met, rel=0.25)


@pytest.fixture
def few_draws(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("venue.study.posterior.DRAWS", 1000)


@pytest.mark.slow
@pytest.mark.usefixtures("few_draws")
def test_the_loss_said_is_the_loss_met() -> None:
    check_loss(2000)


@pytest.mark.slow
@pytest.mark.usefixtures("few_draws")
def test_control_the_loss_of_settings_taken_for_independent() -> None:
    with pytest.raises(Disagrees):
        check_loss(2000, apart=True)


def unit_loss(gap: float, scale: float, degrees: int) -> float:
    """E[max(T, 0)] for a Student t with this mean and scale: the unit linear loss integral of Bayesian decisions
    (DeGroot, Optimal Statistical Decisions, ch. 11, location from memory), here by numerical integration."""
    grid = np.linspace(0.0, 400.0, 400_001)
    return float(np.trapezoid(stats.t.sf((grid - gap) / scale, degrees), grid))


@pytest.mark.parametrize("behind", [0.2, 1.0])
def test_what_a_choice_of_two_gives_up(behind: float) -> None:
    shared, noise = around(50, 20, 1), around(behind, 1, 2)
    points = [point(0.0, shared), point(1.0, [a + b for a, b in zip(shared, noise, strict=True)])]
    lost = choose(points, NONE, seed=7, worth=0.3).given_up
    assert lost is not None and lost.worth == 0.3
    assert lost.expected == pytest.approx(unit_loss(-behind, 1 / math.sqrt(10), 9), abs=0.01)
    assert lost.chance_within == pytest.approx(by_student(behind + 0.3, 1, 10), abs=NOISE)


def test_a_difference_worth_having_is_a_hundredth_unless_said() -> None:
    lost = choose(FAIR_OR_RICH, NONE, seed=1).given_up
    assert lost is not None and lost.worth == pytest.approx(0.8) and lost.expected < 1e-3 and lost.chance_within == 1


# -- limits by chance -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("above", [0.002, 0.02])
@pytest.mark.parametrize("surely", [0.5, 0.9, 0.99])
def test_a_limit_is_kept_when_that_is_sure_enough(above: float, surely: float) -> None:
    """Against the closed form, for one limit: the Student t of its mean."""
    points = [point(1.0, around(50, 1, 1), fair=around(0.6 + above, 0.02, 2))]
    kept = by_student(above, 0.02, 10) >= surely
    best = choose(points, Requirements(0.6, 0.0, surely=surely), seed=3)
    assert (best.place == 0, best.refused == (0,)) == (kept, not kept)


def test_control_a_limit_judged_by_its_mean_alone() -> None:
    """0.602 keeps 0.6 by its mean, with a chance of 0.62: not sure enough unless likely is enough."""
    points = [point(1.0, around(50, 1, 1), fair=around(0.602, 0.02, 2))]
    assert choose(points, LIKELY, seed=3).place == 0
    with pytest.raises(Disagrees):
        check_choice(points, REQUIRED, 1.0)


def test_limits_are_kept_together() -> None:
    """Two limits, each kept with a chance of 0.92 by chance of its own, are kept together with one of 0.85."""
    t92 = float(stats.t.ppf(0.92, 9)) * 0.02 / math.sqrt(10)
    rest = np.random.default_rng(0)
    fair = np.array(around(0.0, 0.02, 5))
    back = rest.normal(size=10)
    back -= back.mean() + fair * (back @ fair) / (fair @ fair)  # does not go with fairness
    back *= 0.02 / back.std(ddof=1)
    points = [point(1.0, around(50, 1, 1), fair=0.6 + t92 + fair, back=0.2 + t92 + back)]
    assert choose(points, Requirements(0.6, 0.2, surely=0.8), seed=3).place == 0
    assert choose(points, Requirements(0.6, 0.2, surely=0.9), seed=3).place is None
    assert choose(points, Requirements(0.6, 0.0, surely=0.9), seed=3).place == 0


# -- another aim ----------------------------------------------------------------------------------------------------


def test_what_is_to_be_most_decides() -> None:
    points = [point(0.0, around(50, 1, 1)), point(1.0, around(60, 1, 2))]
    for replication in points[0].replications:
        replication.measured.venue["profit_per_week"] = 2.0
    assert choose(points, REQUIRED, seed=1).place == 1
    assert choose(points, REQUIRED, seed=1, aim="profit_per_week").place == 0
