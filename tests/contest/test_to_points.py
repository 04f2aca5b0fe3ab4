"""To N points: without a lead to win by it is a negative binomial, with little but a lead it is the gambler's ruin."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from tests.checking import Disagrees, check_close
from venue.contest.first_to import FirstTo
from venue.contest.match import Match
from venue.contest.win_probability import unfold
from venue.scenario.title import Title

from .building import assert_closed, assert_prints, points_title


def odds(chance: float) -> float:
    """Skill gap at which the next score is side A's with a chance."""
    return float(stats.logistic.ppf(chance))


def ruin(contest: FirstTo, ahead: int) -> tuple[float, float]:
    """Chance to be first so many ahead, and mean time until somebody is, from a lead of `ahead` (side A's)."""
    place = contest.board.place((max(ahead, 0), max(-ahead, 0)))
    return float(contest.win[0][place]), float(contest.seconds(0)[place])


def check_ruin(win_by: int, chance: float, lead: int, printed: tuple[str, str]) -> None:
    # Feller, An Introduction to Probability Theory and Its Applications, vol. I, ch. XIV (location from memory; values
    # computed): a gambler with 9 of the 10 in play wins all, and how long it takes. The first to lead by 5 is in play
    # between -5 and 5; whoever leads by 4 has 9 of those 10.
    won, seconds = ruin(FirstTo(points_title(1, win_by), Match(gap=odds(chance))), lead)
    assert_prints(won, printed[0])
    assert_prints(seconds, printed[1])


def test_gamblers_ruin_as_printed() -> None:
    check_ruin(5, 0.45, 4, ("0.7899", "11.0"))
    check_ruin(5, 0.5, 4, ("0.9", "9.0"))


@pytest.mark.parametrize(("win_by", "chance", "lead"), [(6, 0.45, 4), (5, 0.46, 4), (5, 0.45, 3)])
def test_control_gamblers_ruin_of_another_game(win_by: int, chance: float, lead: int) -> None:
    with pytest.raises(Disagrees):
        check_ruin(win_by, chance, lead, ("0.7899", "11.0"))


def check_ruin_everywhere(title: Title, win_by: int, p: float) -> None:
    # The formulas behind the prints, from every lead: with r = q / p, i of N wins with (1 - r^i) / (1 - r^N) and takes
    # i / (q - p) - N / (q - p) times that.
    contest = FirstTo(title, Match(gap=odds(p)))
    r, whole = (1 - p) / p, 2 * win_by
    for owned in range(1, whole):
        won, seconds = ruin(contest, owned - win_by)
        expected = (1 - r**owned) / (1 - r**whole)
        assert_closed(won, expected)
        assert_closed(seconds, 3 * (owned - whole * expected) / (1 - 2 * p))


@pytest.mark.parametrize("p", [0.3, 0.45, 0.55])
def test_gamblers_ruin_from_every_lead(p: float) -> None:
    check_ruin_everywhere(points_title(1, 8, mean_attack="3 s"), 8, p)


def test_control_gamblers_ruin_with_points_to_make_first() -> None:
    with pytest.raises(Disagrees):
        check_ruin_everywhere(points_title(9, 8, mean_attack="3 s"), 8, 0.45)


def check_negative_binomial(title: Title, points: int, p: float) -> None:
    """From the definition: side A has its n points before B has its m when B makes fewer than m before A's n-th."""
    contest = FirstTo(title, Match(gap=odds(p)))
    for a in range(points):
        for b in range(points):
            place = contest.board.place((a, b))
            expected = stats.nbinom.cdf(points - b - 1, points - a, p)
            check_close(float(contest.win[0][place]), float(expected), abs=1e-12)
    for behind in range(points):
        for sign, chance in ((1, p), (-1, 1 - p)):
            found = contest.final_margin[contest.zero + sign * (points - behind)]
            check_close(found, float(stats.nbinom.pmf(behind, points, chance)), abs=1e-12)
    scores = sum(
        (points + other) * float(stats.nbinom.pmf(other, points, p) + stats.nbinom.pmf(other, points, 1 - p))
        for other in range(points)
    )
    assert_closed(float(contest.start @ contest.seconds(0)), scores)
    assert_closed(float(contest.expected("points").sum()), scores)


@pytest.mark.parametrize("p", [0.5, 0.62])
def test_first_to_points_is_a_negative_binomial(p: float) -> None:
    check_negative_binomial(points_title(11), 11, p)


def test_control_first_to_points_two_ahead() -> None:
    with pytest.raises(Disagrees):
        check_negative_binomial(points_title(11, 2), 11, 0.62)


def check_two_ahead(title: Title, p: float) -> None:
    # Kemeny & Snell 1960, Finite Markov Chains, ch. VII (location from memory): to four points and two ahead,
    # p^4 (1 + 4q + 10q^2) + 20 p^3 q^3 p^2 / (p^2 + q^2).
    q = 1 - p
    expected = p**4 * (1 + 4 * q + 10 * q**2) + 20 * p**5 * q**3 / (p**2 + q**2)
    assert_closed(FirstTo(title, Match(gap=odds(p))).win_chance, expected)


@pytest.mark.parametrize("p", [0.4, 0.51, 0.6])
def test_four_points_and_two_ahead(p: float) -> None:
    check_two_ahead(points_title(4, 2), p)


def test_control_four_points_and_one_ahead() -> None:
    with pytest.raises(Disagrees):
        check_two_ahead(points_title(4, 1), 0.6)


def check_ballot(title: Title, points: int) -> None:
    # The ballot (Feller, vol. I, ch. III; location from memory): of equal sides' paths from 1-0 to N-1 and b, which N-b
    # then ends, by reflection as many touch level as paths there are from 0-1. Summed over b.
    found = unfold(FirstTo(title, Match()))
    expected = 0.0
    for other in range(points - 1):
        steps = points - 2 + other
        expected += 0.5 * float(stats.binom.pmf(other, steps, 0.5) - stats.binom.pmf(points - 1, steps, 0.5))
    # 1-0 is the only score that leaves N - 1 points with a margin of 1.
    assert title.first_to is not None
    lasts = float(found.lasts[title.first_to.points - 2, int(np.flatnonzero(found.margins == 1)[0])])
    check_close(lasts, expected, abs=1e-12)


def test_a_first_point_that_is_never_made_up_for() -> None:
    check_ballot(points_title(9), 9)


def test_control_a_first_point_towards_fewer() -> None:
    with pytest.raises(Disagrees):
        check_ballot(points_title(8), 9)


def check_turns(chance: float, keys: dict[str, object]) -> None:
    # From the definition: whoever keeps the attack until it fails makes n more points in a row with chance^n, so the
    # side that begins wins the first to one with p / (1 - (1 - p)^2), the other with what is left.
    title = points_title(1, play="turns", attempts={"tap": {"share": 1.0, "points": 1, "chance": chance}}, **keys)
    contest = FirstTo(title, Match())
    assert_closed(contest.win_chance, chance / (1 - (1 - chance) ** 2))


def test_whoever_begins_is_ahead_of_the_other() -> None:
    check_turns(0.4, {"period_start": "alternate"})
    with pytest.raises(Disagrees):
        check_turns(0.4, {"period_start": "toss"})
