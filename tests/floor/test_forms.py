"""Contests to N points, races, difficulties and ladders on the floor come out as the exact contest says they should."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import Any

import numpy as np
import pytest
from scipy import stats

import venue
from tests.checking import Disagrees
from venue.contest.forms import solve
from venue.contest.match import Match

from .textbook import Run, assert_simulated, over, run, textbook

MACHINE: dict[str, Any] = {"title": "game", "price": 1, "count": 80}
FREE = {"wallet": {"off": True}}
TO_SEVEN: dict[str, Any] = {
    "play": "open",
    "periods": 3,
    "first_to": {"points": 7},
    "break_length": "10 s",
    "mean_attack": "5 s",
    "attempts": {"tap": {"share": 1.0, "points": 1}},
    "minimum_chance": 0.0,
    "maximum_chance": 1.0,
}
RACE: dict[str, Any] = {
    "periods": 2,
    "break_length": "5 s",
    "race": {"distance": 600, "pace": 10, "wander": 0.8, "pace_per_skill": "2 %"},
    "rules": {"draught": {"kind": "slope", "per_point": "0.2 pp"}},
}


def played(
    title: dict[str, Any], *, gap: float = 0.0, machine: dict[str, Any] | None = None, **people: Any
) -> list[Run]:
    """Visitors against the computer, each contest to the end."""
    wants = over({**FREE, "skill": {"mean": gap, "sd": 0.0}}, people)
    return run(textbook({"game": machine or MACHINE}, 16.0, titles={"game": title}, people=wants), seed=71)


def design(title: dict[str, Any]) -> Any:
    return textbook({"game": MACHINE}, 1.0, titles={"game": title}).scenario.titles["game"]


# -- to N points ---------------------------------------------------------------------------------------------------


@cache
def to_seven() -> tuple[Run, ...]:
    return tuple(played(TO_SEVEN, gap=0.5))


def check_to_seven(runs: Sequence[Run], gap: float) -> None:
    # The first to 7 wins the best of 13: binomial, from the definition (scipy.stats).
    chance = 1 / (1 + np.exp(-gap))
    assert_simulated([one.plays["result"].mean() for one in runs], float(stats.binom.sf(6, 13, chance)))


def test_first_to_seven_is_the_best_of_thirteen() -> None:
    check_to_seven(to_seven(), 0.5)


def test_control_first_to_seven_at_another_skill() -> None:
    with pytest.raises(Disagrees):
        check_to_seven(to_seven(), 0.3)


def test_periods_end_by_points_and_last_as_long_as_they_should() -> None:
    # Mean points of the best of 13 by summing its tail: each takes 5 s on average; two breaks of 10 s.
    chance = 1 / (1 + np.exp(-0.5))
    lengths = np.arange(7, 14)
    ends = stats.nbinom.pmf(lengths - 7, 7, chance) + stats.nbinom.pmf(lengths - 7, 7, 1 - chance)
    mean = 5.0 * float(lengths @ ends) + 2 * 10.0
    assert_simulated([(one.plays["ended"] - one.plays["began"]).mean() for one in to_seven()], mean)
    for one in to_seven():
        assert (one.plays["periods"] == 3).all()
        assert one.plays["margin"].abs().between(1, 7).all()


# -- a race --------------------------------------------------------------------------------------------------------


@cache
def raced() -> tuple[Run, ...]:
    return tuple(played(RACE, gap=0.5))


def check_raced(runs: Sequence[Run], strength: float) -> None:
    # Ornstein-Uhlenbeck seen each second, from the definition: T = 60, pull k = 10 * 0.002 * strength a length.
    pull, mean, seconds = 10 * 0.002 * strength, 10 * 0.02 * 0.5, 60
    assert_simulated([one.plays["margin"].mean() for one in runs], mean * (1 - (1 - pull) ** seconds) / pull)
    contest = solve(design(RACE), Match(strength, 0.5))
    assert_simulated([one.plays["result"].mean() for one in runs], contest.win_chance)


def test_race_on_the_floor() -> None:
    check_raced(raced(), 1.0)


def test_control_race_pulled_less() -> None:
    with pytest.raises(Disagrees):
        check_raced(raced(), 0.3)


def test_a_race_lasts_as_long_as_its_distance() -> None:
    for one in raced():
        assert np.allclose(one.plays["ended"] - one.plays["began"], 60.0 + 5.0)


# -- difficulties and ladders --------------------------------------------------------------------------------------


def test_a_difficulty_shifts_the_computer_side() -> None:
    title = {**TO_SEVEN, "opponent": 0.1, "difficulties": {"hard": 0.6}}
    hard = played(title, machine={**MACHINE, "difficulty": "hard"})
    plain = played(title)
    assert all(np.allclose(one.plays["gap"], -0.7) for one in hard)
    assert all(np.allclose(one.plays["gap"], -0.1) for one in plain)


def rungs(runs: Sequence[Run], step: float) -> list[tuple[list[int], list[float]]]:
    """For each visit: the rungs that the gaps show, and the results."""
    found = []
    for one in runs:
        for _, visit in one.plays.groupby(["person", "visit"]):
            found.append(((-visit["gap"] / step).round().astype(int).tolist(), visit["result"].tolist()))
    return found


def test_a_ladder_steps_up_with_each_win_in_a_row() -> None:
    title = {**TO_SEVEN, "ladder": {"step": 0.25, "rungs": 2}}
    again = {"buy_in": {"again": 2.0}, "stay": {"median": "2 h"}}
    seen = 0
    for found, results in rungs(played(title, **again), 0.25):
        expected, rung = [], 0
        for result in results:
            expected.append(rung)
            rung = min(rung + 1, 2) if result == 1.0 else 0
        # A visitor who gets up and comes back to the machine begins below; that needs a play in between to tell.
        assert found[0] == 0
        assert all(here in (there, 0) for here, there in zip(found, expected, strict=True))
        seen += sum(here == 2 for here in found)
    assert seen > 100


def test_the_exact_ladder_is_what_the_floor_meets() -> None:
    raw = textbook({"game": MACHINE}, 1.0, titles={"game": {**TO_SEVEN, "ladder": {"step": 0.25, "rungs": 2}}})
    ladder = venue.solve(raw, strengths=(1.0,)).ladder
    chances = [float(stats.binom.sf(6, 13, 1 / (1 + np.exp(0.25 * rung)))) for rung in range(3)]
    assert np.allclose(ladder, chances, rtol=1e-9)
