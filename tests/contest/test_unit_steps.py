"""Open play with one-point scores is the random walk of the literature, so its moments have closed forms.

With L the lead of side A and pull k, the leader scores next with chance 1/2 - k L. From the definition, each score
takes the mean from m to m (1 - 2k) and the mean square from s to s (1 - 4k) + 1; with hazard q a second those
factors are 1 - 2kq and 1 - 4kq.
"""

from __future__ import annotations

from typing import Any

import pytest
from scipy import stats

from tests.checking import Disagrees, check_close
from venue.contest.chain import Chain
from venue.contest.match import Match
from venue.scenario.title import Title

from .building import (
    after_period,
    assert_closed,
    assert_prints,
    by_margin,
    lasting,
    mean_of,
    open_title,
    pull,
    variance_of,
)

HAZARDS = [1.0, 0.5, 0.1]


def walk(pulled: float, seconds: int, hazard: float = 1.0, **keys: Any) -> Title:
    return open_title(f"{seconds} s", mean_attack=lasting(1.0 / hazard), rules=pull(pulled), **keys)


def check_mean(title: Title, start: int, k: float, seconds: int, q: float) -> None:
    # From the definition: E[lead] = start (1 - 2kq)^T.
    chain = Chain(title, Match())
    assert_closed(mean_of(chain, after_period(chain, start)), start * (1 - 2 * k * q) ** seconds)


def check_variance(title: Title, k: float, seconds: int, q: float) -> None:
    # From the definition: Var[lead] = (1 - (1 - 4kq)^T) / (4k), from a level start.
    chain = Chain(title, Match())
    assert_closed(variance_of(chain, chain.final_margin), (1 - (1 - 4 * k * q) ** seconds) / (4 * k))


@pytest.mark.parametrize("q", HAZARDS)
@pytest.mark.parametrize(("start", "k", "seconds"), [(4, 0.01, 94), (-7, 0.0022, 94), (5, 0.05, 20)])
def test_mean_lead_decays_geometrically(start: int, k: float, seconds: int, q: float) -> None:
    check_mean(walk(k, seconds, q), start, k, seconds, q)


@pytest.mark.parametrize("q", HAZARDS)
def test_control_mean_of_a_walk_pulled_twice_as_hard(q: float) -> None:
    with pytest.raises(Disagrees):
        check_mean(walk(0.02, 94, q), 4, 0.01, 94, q)


@pytest.mark.parametrize("q", HAZARDS)
@pytest.mark.parametrize(("k", "seconds"), [(0.01, 94), (0.0022, 94), (0.05, 60)])
def test_variance_saturates(k: float, seconds: int, q: float) -> None:
    check_variance(walk(k, seconds, q), k, seconds, q)


@pytest.mark.parametrize("q", HAZARDS)
def test_control_variance_of_a_walk_one_second_short(q: float) -> None:
    with pytest.raises(Disagrees):
        check_variance(walk(0.01, 93, q), 0.01, 94, q)


def check_fitted_pull(title: Title) -> None:
    # Gabel & Redner 2012, J. Quant. Anal. Sports 8(1): the leader scores
    # next with 1/2 - 0.0022 a point of lead, 0.03291 scores a second. The variance is the closed form above.
    check_variance(title, 0.0022, 2880, 0.03291)


def test_fitted_pull_over_a_long_contest() -> None:
    check_fitted_pull(walk(0.0022, 720, 0.03291, periods=4))


def test_control_fitted_pull_without_the_pull() -> None:
    with pytest.raises(Disagrees):
        check_fitted_pull(walk(0.0, 720, 0.03291, periods=4))


def check_printed(title: Title) -> None:
    # From the definition; both values computed independently by recursion and by simulation: k = 0.01, 94 scores.
    chain = Chain(title, Match())
    assert_prints(variance_of(chain, chain.final_margin), "24.46119")
    assert_prints(by_margin(chain)[0], "0.16094")


def test_variance_and_ties_after_94_scores() -> None:
    check_printed(walk(0.01, 94))


def test_variance_and_ties_in_periods() -> None:
    check_printed(walk(0.01, 47, periods=2))


def test_control_variance_and_ties_without_pull() -> None:
    with pytest.raises(Disagrees):
        check_printed(walk(0.0, 94))


def check_holds_lead(title: Title, printed: str) -> None:
    # From the definition; computed independently: 4 ahead with 20 scores left, chance to end ahead (a tie is no win).
    chain = Chain(title, Match())
    ahead = after_period(chain, 4)[chain.margins > 0].sum()
    assert_prints(float(ahead), printed)


@pytest.mark.parametrize(
    ("k", "printed"), [(0.0, "0.74828"), (0.0022, "0.73224"), (0.01, "0.67327"), (0.05, "0.40731")]
)
def test_chance_to_keep_a_lead_of_four(k: float, printed: str) -> None:
    check_holds_lead(walk(k, 20), printed)


def test_control_chance_to_keep_a_lead_under_another_pull() -> None:
    with pytest.raises(Disagrees):
        check_holds_lead(walk(0.0025, 20), "0.73224")


@pytest.mark.parametrize("k", [0.0, 0.01, 0.05])
def test_a_drawn_end_is_half_a_win(k: float) -> None:
    chain = Chain(walk(k, 20), Match())
    row = after_period(chain, 4)
    ahead, level = row[chain.margins > 0].sum(), row[chain.zero]
    assert_closed(float(chain.win[0][chain.zero + 4]), float(ahead + level / 2))


def check_binomial(title: Title, p: float, scores: int) -> None:
    # From the definition: n scores, each side A's with chance p, leave A 2 X - n ahead, X binomial.
    for margin, chance in by_margin(Chain(title, Match(gap=0.4))).items():
        made, odd = divmod(scores + margin, 2)
        expected = 0.0 if odd else float(stats.binom.pmf(made, scores, p))
        check_close(chance, expected, rel=1e-6, abs=1e-9)


def test_walk_without_rules_is_binomial() -> None:
    check_binomial(open_title("40 s"), float(stats.logistic.cdf(0.4)), 40)


def test_control_binomial_of_equal_sides() -> None:
    with pytest.raises(Disagrees):
        check_binomial(open_title("40 s"), 0.5, 40)


def check_urn(title: Title, balls: int) -> None:
    # Ehrenfest & Ehrenfest 1907; Kac 1947, Amer. Math. Monthly 54 (location from memory): with pull k = 1 / balls the
    # walk is their urn, and in the long run lead + balls / 2 is binomial (balls, 1/2).
    found = by_margin(Chain(title, Match()))
    for drawn in range(balls + 1):
        assert_closed(found[drawn - balls // 2], float(stats.binom.pmf(drawn, balls, 0.5)))


def test_long_run_is_the_ehrenfest_urn() -> None:
    check_urn(walk(1 / 20, 400, 0.5), 20)


def test_control_urn_of_another_size() -> None:
    with pytest.raises(Disagrees):
        check_urn(walk(1 / 22, 400, 0.5), 20)


def check_persistence(title: Title, again: float, scores: int) -> None:
    # Goldstein 1951, Quart. J. Mech. Appl. Math. 4 (location from memory): steps with correlation r = 2 again - 1 from
    # one to the next have variance n (1 + r) / (1 - r) - 2 r (1 - r^n) / (1 - r)^2.
    chain = Chain(title, Match())
    r = 2 * again - 1
    expected = scores * (1 + r) / (1 - r) - 2 * r * (1 - r**scores) / (1 - r) ** 2
    assert_closed(variance_of(chain, chain.final_margin), expected)


@pytest.mark.parametrize("again", [0.3, 0.6, 0.8])
def test_who_scored_last_scores_again(again: float) -> None:
    check_persistence(open_title("60 s", scores_again=again), again, 60)


def test_who_scored_last_is_remembered_over_a_break() -> None:
    check_persistence(open_title("20 s", periods=3, scores_again=0.7, period_start="carry on"), 0.7, 60)


def test_control_who_scored_last_is_forgotten_over_a_break() -> None:
    with pytest.raises(Disagrees):
        check_persistence(open_title("20 s", periods=3, scores_again=0.7, period_start="toss"), 0.7, 60)
