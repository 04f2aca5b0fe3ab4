"""The naive reading of a scoreboard against the published Brownian motion of sports scores."""

from __future__ import annotations

import math

import pytest
from scipy import optimize, stats

from tests.checking import Disagrees
from venue.visitors.perception import naive_chance

from ..floor.textbook import assert_prints

SIGMA = 10.6


def check_table_1(ratio: float, printed: str, sigma: float) -> None:
    # Polson & Stern 2015, The implied volatility of a sports game, J. Quant. Anal. Sports 11(3), Table 1: chance of a
    # side that is mu ahead in the mean, Phi(mu / sigma). Points in hand with the whole contest to come are worth as
    # much as points expected.
    assert_prints(naive_chance(ratio * SIGMA, 1.0, sigma, 0.5), printed)


TABLE_1 = [
    (0.0, "0.50"),
    (0.25, "0.60"),
    (0.5, "0.69"),
    (0.75, "0.77"),
    (1.0, "0.84"),
    (1.25, "0.89"),
    (1.5, "0.93"),
    (2.0, "0.98"),
]


@pytest.mark.parametrize(("ratio", "printed"), TABLE_1)
def test_chance_of_a_side_that_is_ahead(ratio: float, printed: str) -> None:
    check_table_1(ratio, printed, SIGMA)


@pytest.mark.parametrize(("ratio", "printed"), TABLE_1[1:])
def test_control_another_spread(ratio: float, printed: str) -> None:
    with pytest.raises(Disagrees):
        check_table_1(ratio, printed, 1.3 * SIGMA)


def check_drift(ratio: float, printed: str, belief: float) -> None:
    # The same table, the other way about: the lead that evens out a belief of Phi(mu / sigma) at the start is -mu.
    lead = optimize.brentq(lambda m: naive_chance(m, 1.0, SIGMA, belief) - 0.5, -100, 100)
    assert_prints(naive_chance(-lead, 1.0, SIGMA, 0.5), printed)


@pytest.mark.parametrize(("ratio", "printed"), TABLE_1)
def test_belief_is_a_drift(ratio: float, printed: str) -> None:
    check_drift(ratio, printed, float(stats.norm.cdf(ratio)))


@pytest.mark.parametrize(("ratio", "printed"), TABLE_1[1:])
def test_control_belief_in_half_the_drift(ratio: float, printed: str) -> None:
    with pytest.raises(Disagrees):
        check_drift(ratio, printed, float(stats.norm.cdf(ratio / 2)))


def check_spread_to_come(played: float, printed: str, sigma: float) -> None:
    # Polson & Stern 2015, Table 2: sigma = 10.6, spread still to come after a part of the game. Read off as the lead
    # that wins with Phi(1).
    if played < 1.0:
        one_sigma = float(stats.norm.cdf(1.0))
        spread = optimize.brentq(lambda m: naive_chance(m, 1.0 - played, sigma, 0.5) - one_sigma, 0, 100)
    else:
        # No lead is too small to win with when nothing is to come.
        spread = 0.0 if naive_chance(1e-9, 0.0, sigma, 0.5) == 1.0 else math.nan
    assert_prints(spread, printed)


TABLE_2 = [(0.0, "10.6"), (0.25, "9.2"), (0.5, "7.5"), (0.75, "5.3"), (1.0, "0")]


@pytest.mark.parametrize(("played", "printed"), TABLE_2)
def test_spread_still_to_come(played: float, printed: str) -> None:
    check_spread_to_come(played, printed, SIGMA)


@pytest.mark.parametrize(("played", "printed"), TABLE_2[:-1])
def test_control_spread_still_to_come_of_another_game(played: float, printed: str) -> None:
    with pytest.raises(Disagrees):
        check_spread_to_come(played, printed, 10.0)


def check_half_time(drift: float) -> None:
    # The same paper: mu = -4, sigma = 10.6, 15 ahead at half: .959.
    assert_prints(naive_chance(15, 0.5, SIGMA, float(stats.norm.cdf(drift / SIGMA))), "0.959")


def test_underdog_ahead_at_half_time() -> None:
    check_half_time(-4.0)


def test_control_favourite_ahead_at_half_time() -> None:
    with pytest.raises(Disagrees):
        check_half_time(4.0)


def check_stern(lead: float, played: float, printed: str, drift: float) -> None:
    # Stern 1994, A Brownian motion model for the progress of sports scores, J. Am. Stat. Assoc. 89: the side at home
    # is 4.87 better, spread 15.82; chance to win by its lead and the part played (location and prints from memory).
    assert_prints(naive_chance(lead, 1.0 - played, 15.82, float(stats.norm.cdf(drift / 15.82))), printed)


STERN = [
    (0, 0.0, "0.62"),
    (0, 0.25, "0.61"),
    (0, 0.5, "0.59"),
    (0, 0.75, "0.56"),
    (-10, 0.25, "0.32"),
    (5, 0.5, "0.75"),
]


@pytest.mark.parametrize(("lead", "played", "printed"), STERN)
def test_chance_of_the_side_at_home(lead: float, played: float, printed: str) -> None:
    check_stern(lead, played, printed, 4.87)


@pytest.mark.parametrize(("lead", "played", "printed"), STERN)
def test_control_chance_without_a_home(lead: float, played: float, printed: str) -> None:
    with pytest.raises(Disagrees):
        check_stern(lead, played, printed, 0.0)


@pytest.mark.parametrize(("margin", "chance"), [(3, 1.0), (-1, 0.0), (0, 0.5)])
def test_when_it_is_over_the_score_says_it_all(margin: float, chance: float) -> None:
    assert naive_chance(margin, 0.0, SIGMA, 0.9) == chance


@pytest.mark.parametrize("belief", [0.0, 1e-12, 1.0])
def test_beliefs_without_doubt_stay_chances(belief: float) -> None:
    for margin in (-40, 0, 40):
        for left in (0.01, 0.5, 1.0):
            assert 0.0 <= naive_chance(margin, left, SIGMA, belief) <= 1.0
