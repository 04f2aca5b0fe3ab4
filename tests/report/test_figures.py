"""Figures carry the digits that their interval deserves."""

from __future__ import annotations

import math

import pytest

from venue.report.figures import column, decimals, interval, number
from venue.study.intervals import Estimate, estimate

NAN = math.nan


def item(mean: float, half: float) -> Estimate:
    return Estimate(mean, mean - half, mean + half, 5)


@pytest.mark.parametrize(
    ("half", "value", "places"),
    [(12.0, 140, 0), (1.2, 140, 1), (0.12, 3, 2), (0.012, 0.3, 3), (0.0012, 0.3, 4), (0.000012, 0.3, 4),
     (300.0, 1000, 0), (0.0, 3.14159, 2), (0.0, 0.314159, 3), (0.0, 314.159, 0), (0.0, 0.0, 2), (NAN, 2.5, 2),
     (math.inf, 2.5, 2)],
)  # fmt: skip
def test_decimals_follow_the_interval(half: float, value: float, places: int) -> None:
    assert decimals(half, value) == places


@pytest.mark.parametrize(
    ("value", "places", "sign", "text"),
    [(1.25, 1, "", "1.2"), (-0.001, 2, "", "0.00"), (-0.001, 2, "+", "+0.00"), (-0.01, 2, "+", "-0.01"),
     (NAN, 2, "", "-"), (0.0, 0, "", "0"), (1234567.0, 1, "", "1234567.0")],
)  # fmt: skip
def test_numbers(value: float, places: int, sign: str, text: str) -> None:
    assert number(value, places, sign) == text


def test_a_column_has_one_number_of_decimals_from_the_middle_interval() -> None:
    cells = column([item(142.9, 9.3), item(144.21, 10.1), item(145.4, 0.51), None])
    assert cells == ["142.9 ± 9.3", "144.2 ± 10.1", "145.4 ± 0.5", "-"]


def test_what_has_no_spread_stands_alone() -> None:
    assert column([item(1.0, 0.0), item(0.9919, 0.0021)]) == ["1", "0.9919 ± 0.0021"]
    assert column([item(0.5, 0.0), item(0.9919, 0.0021)]) == ["0.5000", "0.9919 ± 0.0021"]
    assert column([item(1234567.0, 0.0)]) == ["1234567"]
    # What only rounding in the last bit tells from none is none.
    assert column([item(1.0, 1e-16), item(0.9919, 0.0021)])[0] == "1"


def test_an_interval_is_never_shown_as_nought() -> None:
    assert column([item(0.98, 0.0004), item(0.93, 0.021), item(0.9, 0.034)])[0] == "0.980 ± 0.001"


def test_one_replication_shows_means_alone() -> None:
    one = estimate([0.12345])
    assert one is not None and column([one, one, None]) == ["0.123", "0.123", "-"]
    assert interval(one) == ("0.123", "one replication")


def test_nothing_known() -> None:
    assert column([]) == []
    assert column([None]) == ["-"]
    assert column([item(0.0, 0.0)]) == ["0"]


def test_an_interval_of_its_own() -> None:
    assert interval(item(81.31, 1.2)) == ("81.3", "80.1 to 82.5")
    assert interval(item(0.001, 0.02)) == ("0.001", "-0.019 to 0.021")
