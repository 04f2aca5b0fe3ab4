"""Comparisons in pairs: differences, their order, and what common visitors save."""

from __future__ import annotations

import math

import numpy as np
import pytest

import venue
from tests.checking import Disagrees, check_close
from venue.errors import InputError
from venue.study.compare import differences, variance_ratio

from .test_recommendation import around, point
from .test_workers import small


@pytest.mark.parametrize("correlation", [-0.5, 0.0, 0.6, 0.95])
def test_what_common_visitors_save(correlation: float) -> None:
    """Var(X) + Var(Y) over Var(X - Y), for normals with sd 1 and 2 and this correlation: 5 / (5 - 4 rho)."""
    check_ratio(correlation, 5.0 / (5.0 - 4.0 * correlation))


def test_control_a_covariance_counted_once() -> None:
    with pytest.raises(Disagrees):
        check_ratio(0.6, 5.0 / (5.0 - 2.0 * 0.6))


def check_ratio(correlation: float, expected: float) -> None:
    shape = [[1.0, 2.0 * correlation], [2.0 * correlation, 4.0]]
    first, second = np.random.default_rng(5).multivariate_normal([3.0, 7.0], shape, size=200_000).T
    check_close(variance_ratio(first, second), expected, rel=0.02)


def test_ratios_at_the_ends() -> None:
    steady, varied = np.array([1.0, 1.0, 1.0]), np.array([1.0, 2.0, 4.0])
    assert variance_ratio(varied, varied + 0.5) == math.inf
    assert variance_ratio(steady, varied) == pytest.approx(1.0)
    assert math.isnan(variance_ratio(steady, steady)) and math.isnan(variance_ratio(varied[:1], varied[:1]))


def test_those_told_apart_come_first_and_then_the_largest() -> None:
    base = point(0.0, around(50, 1, 1), fair=around(0.70, 0.01, 2), back=around(0.3, 0.05, 3))
    other = point(1.0, around(60, 1, 4), fair=around(0.60, 0.01, 5), back=around(0.5, 1.0, 6))
    found = differences(base, other, "money")
    assert [item.measure for item in found[:3]] == ["credits_per_hour", "better_side_wins", "return_28d"]
    assert [item.told_apart for item in found[:3]] == [True, True, False]
    assert found[0].estimate.mean == pytest.approx(10.0) and found[0].change == pytest.approx(0.2)


def test_a_replication_that_cannot_tell_is_left_out_of_both() -> None:
    base = point(0.0, [1.0, 2.0, 3.0], back=[0.1, math.nan, 0.3])
    other = point(1.0, [1.0, 2.0, 3.0], back=[0.2, 0.9, 0.5])
    item = next(item for item in differences(base, other, "money") if item.measure == "return_28d")
    assert (item.base, item.other) == pytest.approx((0.2, 0.35))
    assert item.estimate.replications == 2 and item.estimate.mean == pytest.approx(0.15)


def test_scenarios_meet_the_same_visitors() -> None:
    """What only adds an offer that nobody can take changes nothing; what differs, differs in pairs."""
    result = venue.compare(small(), "machines.slide.appeal=0.3", ["machines.solo.price=2"], replications=3)
    assert result.names == (small().source, "machines.slide.appeal=0.3", "machines.solo.price=2")
    same = venue.run(small(), replications=3)
    assert result.points[0].measures() == same.point.measures()
    frame = result.differences
    assert frame.loc[("machines.solo.price=2", "credits_per_play"), "low"] > 0
    assert set(result.measures.columns) == {"mean", "low", "high", "unit"}


def test_the_study_of_the_first_holds_for_all() -> None:
    longer = small().change(days=5, seed=9)
    result = venue.compare(small(), longer.vary(["machines.solo.price=2"]), names=["a", "b"], replications=1)
    assert {(item.scenario.study.days, item.scenario.study.seed) for item in result.variants} == {(3, 1)}
    assert result.to_dict()["comparisons"][0]["differences"][0]["low"] is None


def test_scenarios_that_cannot_be_compared() -> None:
    with pytest.raises(InputError, match="at least 2 are needed"):
        venue.compare(small())
    with pytest.raises(InputError, match="hold the same scenario"):
        venue.compare(small(), small())
    with pytest.raises(InputError, match="names: there are 1 for 2 scenarios"):
        venue.compare(small(), "machines.solo.price=2", names=["a"])
