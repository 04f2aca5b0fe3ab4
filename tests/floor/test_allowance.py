"""Limits on spending, by hand: what a wallet may give at once, what an hour releases, and why a price was not paid."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.checking import Disagrees, check_equal
from venue.scenario.limits import Limits
from venue.streams import Streams
from venue.units import HOUR, MINUTE
from venue.visitors.allowance import Allowance
from venue.visitors.person import Person
from venue.visitors.visit import Visit


def test_without_limits_all_of_the_wallet_is_there_at_once() -> None:
    free = Allowance(Limits(), 17)
    assert free.at_once == 17
    assert free.release(5 * HOUR) == 0
    assert not free.holds_back(1, 2) and not free.was_reached


def test_a_limit_on_the_visit() -> None:
    capped = Allowance(Limits(spend_per_visit=10), 17)
    assert capped.at_once == 10
    assert capped.release(9 * HOUR) == 0
    assert not capped.may_yet_cover(0, 1)
    assert not capped.holds_back(1, 9)  # 1 left and 7 held back do not pay 9 either: the wallet is too small
    assert not capped.was_reached
    assert capped.holds_back(1, 8)
    assert capped.was_reached


def test_an_allowance_for_each_hour_carries_over() -> None:
    hourly = Allowance(Limits(spend_per_hour=4), 10)
    assert hourly.at_once == 4
    assert hourly.release(59 * MINUTE) == 0
    assert hourly.may_yet_cover(0, 6) and not hourly.may_yet_cover(0, 7)
    assert hourly.release(61 * MINUTE) == 4
    assert hourly.release(119 * MINUTE) == 0
    assert hourly.release(5 * HOUR) == 2  # the rest of the wallet
    assert not hourly.may_yet_cover(0, 1) and hourly.release(9 * HOUR) == 0


def test_hours_let_go_by_are_released_together() -> None:
    hourly = Allowance(Limits(spend_per_hour=4), 100)
    assert hourly.release(3.5 * HOUR) == 12  # 16 in the fourth hour, 4 of them from the start


def test_both_limits() -> None:
    both = Allowance(Limits(spend_per_visit=6, spend_per_hour=4), 100)
    assert both.at_once == 4
    assert both.release(10 * HOUR) == 2
    assert both.holds_back(0, 2)


def test_a_wallet_without_bottom() -> None:
    assert Allowance(Limits(spend_per_visit=6), math.inf).at_once == 6
    hourly = Allowance(Limits(spend_per_hour=5), math.inf)
    assert (hourly.at_once, hourly.release(HOUR), hourly.release(4 * HOUR)) == (5, 5, 15)
    assert hourly.holds_back(0, 1_000_000)


def test_an_allowance_of_nothing() -> None:
    none = Allowance(Limits(spend_per_hour=0), 10)
    assert none.at_once == 0 and none.release(30 * HOUR) == 0 and not none.may_yet_cover(0, 1)
    assert none.holds_back(0, 1)


def check_hour(allowance: Allowance, expected: float) -> None:
    check_equal(allowance.release(61 * MINUTE), expected)


def test_control_a_limit_on_the_visit_releases_nothing_by_the_hour() -> None:
    with pytest.raises(Disagrees):
        check_hour(Allowance(Limits(spend_per_visit=4), 10), 4)


amounts = st.none() | st.integers(0, 30)


@given(amounts, amounts, st.integers(0, 60), st.lists(st.floats(0, 20), max_size=8))
def test_never_more_than_wallet_and_limits_allow(
    in_visit: int | None, in_hour: int | None, purse: int, times: list[float]
) -> None:
    allowance = Allowance(Limits(spend_per_visit=in_visit, spend_per_hour=in_hour), purse)
    free = allowance.at_once
    for hours in sorted(times):
        free += allowance.release(hours * HOUR)
        by_hour = math.inf if in_hour is None else in_hour * (math.floor(hours) + 1)
        assert free == min(purse, math.inf if in_visit is None else in_visit, by_hour)


@pytest.mark.parametrize(("price", "short"), [(4, False), (5, False), (6, True)])
def test_an_hour_that_releases_just_the_price(price: int, short: bool) -> None:
    visit = Visit(Person(0), 100.0, Streams(1, 0))
    visit.allowance = Allowance(Limits(spend_per_hour=4), 10)
    visit.wallet = 1  # three of the first four have been spent; in the second hour four more may be
    assert visit.falls_short(2, 100.0 + 59 * MINUTE) and visit.last_no == "limit reached"
    assert visit.falls_short(price, 100.0 + 61 * MINUTE) == short
    assert visit.wallet == 5
