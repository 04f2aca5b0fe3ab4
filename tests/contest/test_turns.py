"""Play by turns without catch-up rules: two binomial scores, taken apart by the order of the attacks."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from tests.checking import Disagrees, check_close
from venue.contest.chain import Chain
from venue.contest.match import Match
from venue.scenario.title import Title

from .building import MIXED, assert_closed, by_margin, mean_of, turns_title, variance_of

GAP = 0.5
P_A, P_B = (float(stats.logistic.cdf(side * GAP)) for side in (1, -1))


def check_two_binomials(title: Title, attempts: int) -> None:
    # From the definition: attacks alternate, so each side has the same number; margins are X - Y, both binomial.
    made = np.arange(attempts + 1)
    a, b = stats.binom.pmf(made, attempts, P_A), stats.binom.pmf(made, attempts, P_B)
    expected = np.convolve(a, b[::-1])
    found = by_margin(Chain(title, Match(gap=GAP)))
    for margin, chance in zip(range(-attempts, attempts + 1), expected.tolist(), strict=True):
        check_close(found.get(margin, 0.0), chance, rel=1e-6, abs=1e-9)


@pytest.mark.parametrize("start", ["toss", "alternate", "carry on"])
def test_margin_is_the_difference_of_two_binomials(start: str) -> None:
    check_two_binomials(turns_title("20 s", periods=2, period_start=start), 20)


def test_control_two_binomials_when_the_scorer_keeps_the_attack() -> None:
    with pytest.raises(Disagrees):
        check_two_binomials(turns_title("20 s", periods=2, scorer_keeps=True), 20)


def check_odd_periods(title: Title, mean: float) -> None:
    # From the definition: in periods of one attack the side that begins is the only one to attack.
    chain = Chain(title, Match(gap=GAP))
    assert_closed(mean_of(chain, chain.final_margin), mean)


def test_who_begins_a_period() -> None:
    check_odd_periods(turns_title("1 s", periods=3, period_start="alternate"), 2 * P_A - P_B)
    check_odd_periods(turns_title("1 s", periods=3, period_start="toss"), 1.5 * (P_A - P_B))


def test_control_who_begins_a_period() -> None:
    with pytest.raises(Disagrees):
        check_odd_periods(turns_title("1 s", periods=3, period_start="toss"), 2 * P_A - P_B)


def check_points(title: Title, lost: float) -> None:
    # From the definition: half of all attacks are each side's, in 120 s with one attack in 4 s.
    expected = Chain(title, Match(gap=GAP)).expected("points")
    for points, gap in zip(expected.tolist(), (GAP, -GAP), strict=True):
        near, far = (float(stats.logistic.cdf(stats.logistic.ppf(base) + gap)) for base in (0.5, 0.35))
        assert_closed(points, 120 / 4 / 2 * (1 - lost) * (0.7 * 2 * near + 0.3 * 3 * far))


def test_expected_points() -> None:
    check_points(turns_title("60 s", periods=2, mean_attack="4 s", attempts=MIXED, turnover="12 %"), 0.12)


def test_control_expected_points_without_turnovers() -> None:
    with pytest.raises(Disagrees):
        check_points(turns_title("60 s", periods=2, mean_attack="4 s", attempts=MIXED), 0.12)


def check_spread(title: Title) -> None:
    # From the definition: n attempts at p spread each side's score by n p (1 - p).
    chain = Chain(title, Match(gap=GAP))
    assert_closed(variance_of(chain, chain.final_margin), 25 * 9 * (P_A * (1 - P_A) + P_B * (1 - P_B)))


def test_spread_grows_with_the_square_of_the_points() -> None:
    check_spread(turns_title("50 s", attempts={"heavy": {"share": 1.0, "points": 3, "chance": "50 %"}}))


def test_control_spread_of_one_point_scores() -> None:
    with pytest.raises(Disagrees):
        check_spread(turns_title("50 s"))


def check_next_score(title: Title) -> None:
    # Geometric series: whoever attacks first scores first with p / (1 - (1 - p)(1 - p')); a toss decides who that is.
    chain = Chain(title, Match(gap=GAP))
    ends = 1 - (1 - P_A) * (1 - P_B)
    assert_closed(chain.tie_value, 0.5 * P_A / ends + 0.5 * (1 - P_B) * P_A / ends)
    row = chain.final_margin
    assert_closed(chain.win_chance, float(row[chain.margins > 0].sum() + chain.tie_value * row[chain.zero]))


@pytest.mark.parametrize("keeps", [False, True])
@pytest.mark.parametrize("attack", ["1 s", "3 s"])
def test_level_end_played_on_to_the_next_score(keeps: bool, attack: str) -> None:
    check_next_score(turns_title("12 s", scorer_keeps=keeps, mean_attack=attack, tie="next score"))


def test_control_level_end_that_is_a_draw() -> None:
    with pytest.raises(Disagrees):
        check_next_score(turns_title("12 s", tie="draw"))


def test_level_end_where_nobody_can_score_is_half_a_win() -> None:
    never = {"wish": {"share": 1.0, "points": 1, "chance": "0 %"}}
    assert Chain(turns_title("5 s", attempts=never, tie="next score"), Match()).win_chance == 0.5
