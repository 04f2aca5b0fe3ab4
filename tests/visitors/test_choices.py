"""Choices as logits, on the two data sets on which everybody fits them."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import optimize, special
from statsmodels.datasets import modechoice, spector

from tests.checking import Disagrees, check_that, check_within
from venue.scenario.people import BuyIn
from venue.visitors.choices import pick, shares, takes
from venue.visitors.perception import weighed
from venue.visitors.person import Record

from ..floor.textbook import assert_close, assert_prints
from .decisions import buy_in_choice

# -- travel modes: the multinomial logit ---------------------------------------------------------------------------

MODES = ("air", "train", "bus", "car")
# Greene, Econometric Analysis (5th ed., Table 21.11): generalised cost, terminal time, income at air, constants.
TRAVEL = {"gc": -0.01550, "ttme": -0.09612, "hinc": 0.01329, "air": 5.20744, "train": 3.86904, "bus": 3.16319}
LOG_LIKELIHOOD = -199.12837


@pytest.fixture(scope="module")
def travellers() -> pd.DataFrame:
    """210 travellers, four rows each."""
    return modechoice.load_pandas().data


def utilities(travellers: pd.DataFrame, taste: dict[str, float]) -> np.ndarray:
    mode = travellers["mode"].astype(int) - 1
    constants = np.array([taste["air"], taste["train"], taste["bus"], 0.0])[mode]
    at_air = np.where(mode == 0, taste["hinc"] * travellers["hinc"], 0.0)
    return (taste["gc"] * travellers["gc"] + taste["ttme"] * travellers["ttme"] + at_air + constants).to_numpy()


def travel_shares(travellers: pd.DataFrame, taste: dict[str, float]) -> tuple[np.ndarray, np.ndarray]:
    """Predicted shares and choices made, a row a traveller."""
    rows = utilities(travellers, taste).reshape(-1, 4).tolist()
    return np.array([shares(row) for row in rows]), travellers["choice"].to_numpy().reshape(-1, 4)


def check_travel(travellers: pd.DataFrame, taste: dict[str, float]) -> None:
    # The log-likelihood printed with those coefficients.
    predicted, chosen = travel_shares(travellers, taste)
    check_within(float(np.log(predicted[chosen == 1]).sum()), LOG_LIKELIHOOD, 0.5e-5)
    # With a constant for each mode the fit predicts every mode as often as it was chosen; coefficients are rounded.
    check_that(np.allclose(predicted.mean(axis=0), chosen.mean(axis=0), atol=2e-4))


def test_travel_modes(travellers: pd.DataFrame) -> None:
    check_travel(travellers, TRAVEL)


@pytest.mark.parametrize("name", TRAVEL)
def test_control_travellers_of_another_taste(travellers: pd.DataFrame, name: str) -> None:
    with pytest.raises(Disagrees):
        check_travel(travellers, {**TRAVEL, name: 1.02 * TRAVEL[name]})


def check_irrelevant(value: Callable[[Sequence[float]], Sequence[float]], travellers: pd.DataFrame) -> None:
    # Independence of irrelevant alternatives (Luce 1959; McFadden 1974): without a car the others keep their odds.
    for row in utilities(travellers, TRAVEL).reshape(-1, 4)[:50].tolist():
        four, three = value(row), value(row[:3])
        assert_close(four[0] / four[2], three[0] / three[2], 1e-6)
        assert_close(sum(three), 1.0, 1e-12)


def test_an_option_less_leaves_the_odds_of_the_others(travellers: pd.DataFrame) -> None:
    check_irrelevant(shares, travellers)


def test_control_odds_that_depend_on_the_mean(travellers: pd.DataFrame) -> None:
    def against_the_mean(row: Sequence[float]) -> list[float]:
        return shares([u * (1 + 0.01 * float(np.mean(row))) for u in row])

    with pytest.raises(Disagrees):
        check_irrelevant(against_the_mean, travellers)


UTILITIES = [
    [0.0],
    [0.3, -1.2, 2.0, 0.0],
    [5.0, 5.0, 5.0],
    [-math.inf, 0.0, 1.0],
    [1.0, -math.inf],
    [900.0, 899.0, -900.0],
    [-1000.0, -1001.0],
]


@pytest.mark.parametrize("row", UTILITIES)
def test_shares_are_a_softmax(row: list[float]) -> None:
    assert np.allclose(shares(row), special.softmax(row), rtol=1e-12, atol=1e-300)


@pytest.mark.parametrize("row", UTILITIES)
def test_picks_come_in_those_shares(row: list[float]) -> None:
    draws = 4000
    found = np.bincount([pick(row, (i + 0.5) / draws) for i in range(draws)], minlength=len(row)) / draws
    assert np.abs(found - special.softmax(row)).max() <= 1 / draws
    for uniform in (0.0, math.nextafter(1.0, 0.0)):
        assert row[pick(row, uniform)] > -math.inf


# -- buying in: the binary logit -----------------------------------------------------------------------------------

# Spector & Mazzeo 1980: grade point average, an entrance score, a method of teaching, constant.
GRADES = {"GPA": 2.82611, "TUCE": 0.09516, "PSI": 2.37869, "const": -13.02135}
GRADES_LOG_LIKELIHOOD = -12.88963

Student = dict[str, float]
Chance = Callable[[Student], float]


def chance_of(says_yes: Callable[[float], bool]) -> float:
    """The chance that a decision is yes, as the uniform draw up to which it is."""
    return float(optimize.bisect(lambda uniform: 0.5 - says_yes(uniform), 0.0, 1.0, xtol=1e-14))


def by_utility(taste: dict[str, float]) -> Chance:
    def chance(student: Student) -> float:
        utility = taste["const"] + sum(taste[name] * student[name] for name in ("GPA", "TUCE", "PSI"))
        return chance_of(lambda uniform: takes(utility, uniform))

    return chance


def by_offer(taste: dict[str, float]) -> Chance:
    """The decision that the floor makes: the marks stand for perceived chance, closeness and price."""
    tastes = BuyIn(
        chance=taste["GPA"], closeness=taste["TUCE"], price=-taste["PSI"], played=0.0, suspicion=0.0, tired=0.0
    )

    def chance(student: Student) -> float:
        accepts = buy_in_choice(tastes, taste["const"], int(student["PSI"]))
        return chance_of(lambda uniform: accepts(student["GPA"], student["TUCE"], 0, 0.0, 0.0, uniform))

    return chance


def check_grades(chance: Chance) -> None:
    # The log-likelihood of the fit (statsmodels.datasets.spector).
    data = spector.load_pandas().data
    total = 0.0
    for student in data.to_dict("records"):
        passed = chance(student)
        total += math.log(passed if student["GRADE"] else 1.0 - passed)
    check_within(total, GRADES_LOG_LIKELIHOOD, 0.5e-5)


@pytest.mark.parametrize("how", [by_utility, by_offer])
def test_grades(how: Callable[[dict[str, float]], Chance]) -> None:
    check_grades(how(GRADES))


@pytest.mark.parametrize("name", GRADES)
@pytest.mark.parametrize("how", [by_utility, by_offer])
def test_control_grades_by_another_taste(how: Callable[[dict[str, float]], Chance], name: str) -> None:
    with pytest.raises(Disagrees):
        check_grades(how({**GRADES, name: 1.02 * GRADES[name]}))


def test_every_taste_weighs_on_an_offer() -> None:
    # From the description of an offer: what is liked adds, what is not is taken off.
    tastes = BuyIn(chance=1.0, closeness=0.5, price=0.25, played=0.2, suspicion=0.4, tired=0.3)
    accepts = buy_in_choice(tastes, 0.7, 2)
    utility = 0.7 + 1.0 * 0.6 + 0.5 * 0.9 - 0.25 * 2 - 0.2 * 3 - 0.4 * 1.5 - 0.3 * 0.8
    found = chance_of(lambda uniform: accepts(0.6, 0.9, 3, 1.5, 0.8, uniform))
    assert_close(found, float(special.expit(utility)), 1e-9)


# -- probability weighting -----------------------------------------------------------------------------------------

# Prelec 1998, "The probability weighting function", Econometrica 66 (from memory): exponent .65.
WEIGHTS = {0.01: "0.0673", 0.10: "0.1791", 0.50: "0.4547", 0.90: "0.7933"}


def weight_in_an_offer(chance: float, exponent: float) -> float:
    """What a perceived chance weighs in the decision that the floor makes, read off the chance to say yes."""
    tastes = BuyIn(chance=1.0, closeness=0.0, price=0.0, played=0.0, suspicion=0.0, tired=0.0)
    accepts = buy_in_choice(tastes, 0.0, 1, weighting=exponent)
    return float(special.logit(chance_of(lambda uniform: accepts(chance, 0.5, 0, 0.0, 0.0, uniform))))


def weight_of_a_belief(chance: float, exponent: float) -> float:
    """What a belief weighs in the choice of a machine."""
    return Record(chance, 1.0 - chance, 0.0, exponent).weight


def check_weights(weight: Callable[[float, float], float], exponent: float) -> None:
    for chance, printed in WEIGHTS.items():
        assert_prints(weight(chance, exponent), printed)


@pytest.mark.parametrize("weight", [weight_in_an_offer, weight_of_a_belief])
def test_small_chances_weigh_too_much_and_large_ones_too_little(weight: Callable[[float, float], float]) -> None:
    check_weights(weight, 0.65)
    # The one chance between 0 and 1 that weighs what it is, whatever the exponent: 1/e.
    for exponent in (0.3, 0.65, 1.4):
        assert_close(weight(1 / math.e, exponent), 1 / math.e, 1e-9)


@pytest.mark.parametrize("weight", [weight_in_an_offer, weight_of_a_belief])
@pytest.mark.parametrize("exponent", [1.0, 0.7])
def test_control_chances_weighed_otherwise(weight: Callable[[float, float], float], exponent: float) -> None:
    with pytest.raises(Disagrees):
        check_weights(weight, exponent)


@given(st.floats(0.0, 1.0), st.floats(0.0, 1.0), st.floats(0.05, 2.0))
def test_a_greater_chance_never_weighs_less(one: float, other: float, exponent: float) -> None:
    low, high = sorted((one, other))
    assert 0.0 <= weighed(low, exponent) <= weighed(high, exponent) <= 1.0
    assert weighed(one, 1.0) == one
    assert (weighed(0.0, exponent), weighed(1.0, exponent)) == (0.0, 1.0)


@pytest.mark.parametrize(("utility", "answer"), [(-math.inf, False), (-1000.0, False), (1000.0, True)])
def test_never_and_always(utility: float, answer: bool) -> None:
    tastes = BuyIn(chance=0.0, closeness=0.0, price=0.0, played=0.0, suspicion=0.0, tired=0.0)
    accepts = buy_in_choice(tastes, utility, 1)
    for uniform in (0.0, 0.5, math.nextafter(1.0, 0.0)):
        assert takes(utility, uniform) is answer
        assert accepts(0.5, 0.5, 0, 0.0, 0.0, uniform) is answer
