"""A skill gap in log-odds is a rating difference: the next score goes by the logistic curve of rating lists."""

from __future__ import annotations

import math

import pytest
from scipy import optimize

from tests.checking import Disagrees
from venue.contest.chain import Chain
from venue.contest.match import Match
from venue.scenario.title import Title

from .building import assert_prints, open_title, success, turns_title

PER_POINT = math.log(10) / 400  # log-odds of a rating point, by the usual definition of the logistic list
ONE_SCORE = open_title("1 s")


def check_rating(title: Title, difference: float, printed: str, per_point: float = PER_POINT) -> None:
    # FIDE Handbook, rating regulations, table 8.1a. The table is of a normal curve; at these differences the logistic
    # prints the same.
    assert_prints(Chain(title, Match(gap=difference * per_point)).win_chance, printed)


TABLE = [(72, "0.60"), (149, "0.70"), (202, "0.76"), (240, "0.80")]


@pytest.mark.parametrize(("difference", "printed"), TABLE)
def test_next_score_in_open_play(difference: float, printed: str) -> None:
    check_rating(ONE_SCORE, difference, printed)
    with pytest.raises(Disagrees):  # the sides change places
        check_rating(ONE_SCORE, -difference, printed)


@pytest.mark.parametrize(("difference", "printed"), TABLE)
def test_control_rating_points_taken_to_base_e(difference: float, printed: str) -> None:
    with pytest.raises(Disagrees):
        check_rating(ONE_SCORE, difference, printed, 1 / 400)


def check_departure(per_point: float) -> None:
    # FIDE, table 8.1a: .90 at 366 on the normal curve; the logistic needs 15.7 more, and prints .89 there.
    def short(difference: float) -> float:
        return Chain(ONE_SCORE, Match(gap=difference * per_point)).win_chance - 0.90

    assert_prints(float(optimize.brentq(short, 300, 1000, xtol=1e-6)) - 366, "15.7")
    assert_prints(Chain(ONE_SCORE, Match(gap=366 * per_point)).win_chance, "0.89")


def test_departure_from_the_normal_curve() -> None:
    check_departure(PER_POINT)
    with pytest.raises(Disagrees):
        check_rating(ONE_SCORE, 366, "0.90")


def test_control_departure_to_base_e() -> None:
    with pytest.raises(Disagrees):
        check_departure(1 / 400)


@pytest.mark.parametrize(("difference", "printed"), TABLE)
def test_even_attempt_by_turns(difference: float, printed: str) -> None:
    attempt = turns_title("1 s", period_start="carry on")
    gap = difference * PER_POINT
    assert_prints(success(attempt, 0, Match(gap=gap)), printed)
    assert_prints(success(attempt, 0, Match(gap=-gap), side=1), printed)
    with pytest.raises(Disagrees):
        assert_prints(success(attempt, 0, Match(gap=gap), side=1), printed)
