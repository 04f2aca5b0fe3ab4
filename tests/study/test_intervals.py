"""Intervals over replications, against textbook data and tables."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
import pytest
from scipy import stats

from tests.checking import Disagrees, check_that, check_within
from venue.study.intervals import Estimate, estimate, paired, ratio

from ..floor.textbook import assert_prints


def known(found: Estimate | None) -> Estimate:
    assert found is not None
    return found


def check_student(values: Sequence[float], printed: str) -> None:
    # Student t, 97.5 %, in any table: read off as the half-width of values whose standard error is 1.
    assert_prints(known(estimate(values)).half_width / stats.sem(values), printed)


STUDENT = [(5, "2.7764"), (10, "2.2622"), (20, "2.0930"), (30, "2.0452")]


@pytest.mark.parametrize(("count", "printed"), STUDENT)
def test_student_quantiles(count: int, printed: str) -> None:
    check_student(np.random.default_rng(91).normal(size=count).tolist(), printed)


@pytest.mark.parametrize(("count", "printed"), STUDENT)
def test_control_one_replication_less(count: int, printed: str) -> None:
    with pytest.raises(Disagrees):
        check_student(np.random.default_rng(91).normal(size=count - 1).tolist(), printed)


# Law, Simulation Modeling and Analysis: mean delay on ten days of a bank.
BANK = [1.53, 1.66, 1.24, 2.34, 2.00, 1.69, 2.69, 2.86, 1.70, 2.60]


def check_bank(found: Estimate) -> None:
    assert_prints(found.mean, "2.031")
    assert_prints(found.half_width, "0.322283")
    assert found.replications == 10


def test_ten_days_of_a_bank() -> None:
    check_bank(known(estimate(BANK, level=0.9)))


@pytest.mark.parametrize("level", [0.8, 0.95])
def test_control_ten_days_at_another_level(level: float) -> None:
    with pytest.raises(Disagrees):
        check_bank(known(estimate(BANK, level=level)))


# The same book: two systems, five replications of each on the same numbers (location from memory).
SYSTEMS = [126.97, 124.31, 126.68, 122.66, 127.23], [118.21, 120.22, 122.45, 122.68, 119.40]


def check_systems(found: Estimate) -> None:
    assert_prints(found.mean, "4.978")
    assert_prints(found.low, "1.64913")
    assert_prints(found.high, "8.30687")


def test_two_systems_in_pairs() -> None:
    check_systems(known(paired(*SYSTEMS, level=0.9)))


def test_control_two_systems_paired_wrongly() -> None:
    with pytest.raises(Disagrees):
        check_systems(known(paired(SYSTEMS[0], SYSTEMS[1][::-1], level=0.9)))


def check_coverage(level: float) -> None:
    # What an interval is: of many, 95 in 100 hold the true mean, even of few normal values.
    random = np.random.default_rng(92)
    rows = [known(estimate(row, level)) for row in random.normal(3.0, 2.0, (2000, 6)).tolist()]
    share = np.mean([row.low <= 3.0 <= row.high for row in rows])
    check_within(share, 0.95, 4 * math.sqrt(0.95 * 0.05 / len(rows)))


def test_coverage() -> None:
    check_coverage(0.95)


@pytest.mark.parametrize("level", [0.9, 0.98])
def test_control_coverage_at_another_level(level: float) -> None:
    with pytest.raises(Disagrees):
        check_coverage(level)


def test_agrees_with_scipy() -> None:
    values = np.random.default_rng(93).exponential(size=12).tolist()
    found = known(estimate(values, 0.95))
    interval = stats.ttest_1samp(values, 0.0).confidence_interval(0.95)
    assert (found.low, found.high) == pytest.approx((interval.low, interval.high), rel=1e-9)
    other = np.random.default_rng(94).exponential(size=12).tolist()
    difference = known(paired(values, other))
    interval = stats.ttest_rel(values, other).confidence_interval(0.95)
    assert (difference.low, difference.high) == pytest.approx((interval.low, interval.high), rel=1e-9)


def test_values_that_could_not_be_told_are_left_out() -> None:
    assert estimate([1.0, math.nan, 3.0]) == estimate([1.0, 3.0])
    assert estimate([math.nan, math.nan]) is None
    assert estimate([]) is None
    alone = known(estimate([math.nan, 2.5]))
    assert alone.mean == 2.5 and alone.replications == 1
    assert math.isnan(alone.low) and math.isnan(alone.high)


def test_equal_values_have_no_width() -> None:
    found = known(estimate([0.25] * 8))
    assert (found.low, found.mean, found.high) == (0.25, 0.25, 0.25)


def test_pairs_must_match() -> None:
    with pytest.raises(ValueError):
        paired([1.0, 2.0], [1.0])


# -- ratios --------------------------------------------------------------------------------------------------------


def test_a_ratio_of_equal_wholes_is_a_mean() -> None:
    parts = np.array(BANK)
    one, other = known(ratio(parts, np.full(10, 4.0))), known(estimate((parts / 4).tolist()))
    assert (one.mean, one.low, one.high) == pytest.approx((other.mean, other.low, other.high))


def covered(estimator: Callable[[Sequence[float], Sequence[float]], Estimate | None]) -> tuple[float, float]:
    """How often the interval holds the true share, .3, and the mean error, where wholes vary and drag shares along."""
    random = np.random.default_rng(17)
    inside, errors = 0, []
    for _ in range(2000):
        wholes = random.poisson(random.choice([4, 40], size=20)).astype(float)
        parts = random.binomial(wholes.astype(int), np.where(wholes < 15, 0.5, 0.28))
        true = 0.5 * 4 / 44 + 0.28 * 40 / 44
        found = known(estimator(parts.tolist(), wholes.tolist()))
        inside += found.low <= true <= found.high
        errors.append(found.mean - true)
    return inside / 2000, float(np.mean(errors))


def check_ratios(estimator: Callable[[Sequence[float], Sequence[float]], Estimate | None]) -> None:
    # Nominal, 95 %: four standard errors of 2,000 intervals, and some of the ratio's own bias, which is of order 1/n.
    share, error = covered(estimator)
    check_within(share, 0.95, 4 * math.sqrt(0.95 * 0.05 / 2000) + 0.01)
    check_that(abs(error) < 0.005)


def test_coverage_of_the_interval_of_a_ratio() -> None:
    check_ratios(ratio)


def test_control_mean_of_shares_in_the_place_of_the_ratio() -> None:
    def mean_share(parts: Sequence[float], wholes: Sequence[float]) -> Estimate | None:
        return estimate([part / whole if whole else math.nan for part, whole in zip(parts, wholes, strict=True)])

    with pytest.raises(Disagrees):
        check_ratios(mean_share)


def test_a_ratio_of_nothing_and_of_one() -> None:
    assert ratio([0.0], [0.0]) is None
    assert math.isnan(known(ratio([1.0], [4.0])).low) and known(ratio([1.0], [4.0])).mean == 0.25
