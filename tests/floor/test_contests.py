"""Contests on the floor come out as the exact chain, and the walks of the literature, say they should."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cache
from typing import Any

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from tests.checking import Disagrees, check_likely, check_that
from venue.contest.chain import Chain
from venue.contest.match import Match

from .textbook import NEVER, Run, assert_simulated, run, textbook, walk

MACHINE = {"title": "game", "price": 1, "count": 80}


def play(
    title: dict[str, Any], *, skill: dict[str, float] | None = None, per_hour: float = 16.0, **how: Any
) -> list[Run]:
    """Visitors who play one contest of a title against the computer, each to the end."""
    scenario = textbook(
        {"game": MACHINE}, per_hour, titles={"game": title}, people={"wallet": {"off": True}, "skill": skill or {}}
    )
    return run(scenario, **{"seed": 61, **how})


# -- walks of the literature ---------------------------------------------------------------------------------------


@cache
def pulled(pull: float) -> tuple[Run, ...]:
    """94 unit steps from a level start, in two periods with a break between."""
    return tuple(play(walk(47, pull, periods=2)))


def check_pulled_walk(runs: Sequence[Run]) -> None:
    # From the definition: with pull k = 0.01 and n = 94 steps the margin has variance (1 - (1 - 4k)^n) / (4k) =
    # 24.46119, and 0.16094 of contests end level.
    assert_simulated([(one.plays["margin"] ** 2).mean() for one in runs], 24.46119)
    assert_simulated([(one.plays["margin"] == 0).mean() for one in runs], 0.16094)
    assert_simulated([one.plays["margin"].mean() for one in runs], 0.0)


def test_pulled_walk_on_the_floor() -> None:
    check_pulled_walk(pulled(0.01))


def test_control_walk_pulled_less() -> None:
    with pytest.raises(Disagrees):
        check_pulled_walk(pulled(0.0022))


def check_drift(runs: Sequence[Run], steps: int, gap: float) -> None:
    # From the definition: the side that is better by `gap` in log-odds makes each point with 1 / (1 + exp(-gap)).
    chance = 1 / (1 + math.exp(-gap))
    assert_simulated([one.plays["margin"].mean() for one in runs], steps * (2 * chance - 1))
    won = stats.binom.sf(steps // 2, steps, chance)
    level = stats.binom.pmf(steps // 2, steps, chance)
    assert_simulated([one.plays["result"].mean() for one in runs], won + level / 2)


def test_a_better_visitor_on_the_floor() -> None:
    check_drift(play(walk(30, opponent=-0.25), skill={"mean": 0.25}), 30, 0.5)


def test_control_a_visitor_who_is_not_that_much_better() -> None:
    with pytest.raises(Disagrees):
        check_drift(play(walk(30, opponent=-0.25), skill={"mean": 0.0}), 30, 0.5)


# -- the exact chain -----------------------------------------------------------------------------------------------

TURNS = {
    "play": "turns",
    "periods": 3,
    "period_length": "40 s",
    "mean_attack": "4 s",
    "close": 2,
    "opponent": 0.25,
    "attempts": {
        "skip": {"share": 0.6, "points": 1, "chance": "55 %"},
        "leap": {"share": 0.4, "points": 2, "chance": "35 %"},
    },
    "rules": {"pull": {"kind": "slope", "per_point": "3 pp", "cap": 6}},
}


@cache
def by_turns() -> tuple[Run, ...]:
    return tuple(play(TURNS, skill={"mean": 0.75}))


def check_chain(runs: Sequence[Run], strength: float) -> None:
    """Win share, margin, its spread and close finishes against the exact chain of the same title."""
    title = textbook({"game": MACHINE}, 1.0, titles={"game": TURNS}).scenario.titles["game"]
    chain = Chain(title, Match(strength=strength, gap=0.5))
    margins, chances = chain.margins, chain.final_margin
    mean = float(margins @ chances)
    assert_simulated([one.plays["result"].mean() for one in runs], chain.win_chance)
    assert_simulated([one.plays["margin"].mean() for one in runs], mean)
    variance = float((margins - mean) ** 2 @ chances)
    assert_simulated([((one.plays["margin"] - mean) ** 2).mean() for one in runs], variance)
    assert_simulated([one.plays["close"].mean() for one in runs], float(chances[np.abs(margins) <= 2].sum()))
    assert_simulated([one.plays["better_won"].mean() for one in runs], chain.win_chance)


def test_plays_agree_with_the_chain() -> None:
    check_chain(by_turns(), 1.0)


@pytest.mark.parametrize("strength", [0.0, 0.5, 2.0])
def test_control_chain_at_another_strength(strength: float) -> None:
    with pytest.raises(Disagrees):
        check_chain(by_turns(), strength)


def test_what_a_row_says_of_one_contest() -> None:
    for one in by_turns():
        plays = one.plays
        assert (plays["periods"] == 3).all() and (plays["credits"] == 3).all()
        assert np.allclose(plays["ended"] - plays["began"], 3 * 40.0 + 2 * 10.0)
        won = np.select([plays["margin"] > 0, plays["margin"] < 0], [1.0, 0.0], 0.5)
        assert (plays["result"] == won).all()
        assert (plays["close"] == (plays["margin"].abs() <= 2)).all()
        assert (plays["better_won"] == plays["result"]).all()
        assert np.allclose(plays["gap"], 0.5)


@cache
def of_all_skills() -> tuple[Run, ...]:
    return tuple(play(TURNS, skill={"mean": 0.2, "sd": 0.6}))


def check_calibrated(runs: Sequence[Run], column: str) -> None:
    """A stated chance to win is right on average, among the weaker as among the stronger."""
    for part in (lambda rows: rows[rows["gap"] < -0.2], lambda rows: rows[rows["gap"] > 0.2]):
        rows = [part(one.plays) for one in runs]
        assert_simulated([(some["result"] - some[column]).mean() for some in rows], 0.0)


def test_the_chances_that_rows_state_are_right() -> None:
    check_calibrated(of_all_skills(), "true_chance")


def test_control_the_chances_that_newcomers_believe_in() -> None:
    with pytest.raises(Disagrees):
        check_calibrated(of_all_skills(), "believed")


def check_skill(runs: Sequence[Run], mean: float, sd: float) -> None:
    # Normal skills, less the computer's: Kolmogorov-Smirnov, as rare as 4 standard errors.
    gaps = np.concatenate([one.plays["gap"] for one in runs])
    check_likely(stats.kstest(gaps, "norm", (mean, sd)).pvalue, 2 * stats.norm.sf(4))


def test_skills_on_the_floor_are_normal() -> None:
    check_skill(of_all_skills(), 0.2 - 0.25, 0.6)


def test_control_skills_of_another_spread() -> None:
    with pytest.raises(Disagrees):
        check_skill(of_all_skills(), 0.2 - 0.25, 0.5)


# -- catch-up strength ---------------------------------------------------------------------------------------------


@cache
def at_strength(strength: float, scalable: bool = True) -> tuple[Run, ...]:
    title = {**TURNS, "opponent": 0.0, "rules": {"pull": {**TURNS["rules"]["pull"], "scalable": scalable}}}
    return tuple(play(title, skill={"sd": 0.6}, strength=strength))


def above_zero(differences: Sequence[float]) -> bool:
    found = np.asarray(differences)
    return bool(found.mean() > 4 * found.std(ddof=1) / math.sqrt(len(found)))


def check_narrows(weak: Sequence[Run], strong: Sequence[Run]) -> None:
    """More strength, on the same visitors: narrower margins, more close finishes, fewer wins of the better side."""

    def less(value: Any) -> list[float]:
        return [value(a.plays) - value(b.plays) for a, b in zip(weak, strong, strict=True)]

    check_that(above_zero(less(lambda rows: rows["margin"].std())))
    check_that(above_zero(less(lambda rows: -rows["close"].mean())))
    check_that(above_zero(less(lambda rows: rows["better_won"].mean())))


def test_strength_narrows_contests() -> None:
    check_narrows(at_strength(0.0), at_strength(1.0))
    check_narrows(at_strength(1.0), at_strength(2.0))


def test_control_strength_without_a_rule_that_it_scales() -> None:
    with pytest.raises(Disagrees):
        check_narrows(at_strength(0.0, scalable=False), at_strength(2.0, scalable=False))
    for weak, strong in zip(at_strength(0.0, scalable=False), at_strength(2.0, scalable=False), strict=True):
        pd.testing.assert_frame_equal(weak.plays.drop(columns="strength"), strong.plays.drop(columns="strength"))


# -- the reading of the scoreboard ---------------------------------------------------------------------------------


@cache
def readers(wins: float, losses: float) -> tuple[Run, ...]:
    """Newcomers who look at the board at the one break of a walk of 2 x 32 steps, and get up whatever it says."""
    scenario = textbook(
        {"game": MACHINE},
        40.0,
        titles={"game": walk(32, periods=2)},
        people={
            "wallet": {"off": True},
            "belief": {"wins": wins, "losses": losses},
            "buy_in": {"go_on": NEVER},
        },
    )
    return tuple(run(scenario, replications=2, seed=62))


def check_reading(runs: Sequence[Run], belief: float) -> None:
    # Stern 1994, J. Am. Stat. Assoc. 89: Phi((m / sigma + t Phi^-1(b)) / sqrt(t)) with half of it left, t = 1/2. 64
    # unit steps have a spread of 8 points.
    for one in runs:
        margin, met = one.plays["margin"].to_numpy(), one.visits["chance_met"].to_numpy(dtype=float)
        expected = stats.norm.cdf((margin / 8 + 0.5 * stats.norm.ppf(belief)) / math.sqrt(0.5))
        check_that((one.visits["offers"] == 1).all())
        check_that((one.visits["taken"] == 0).all())
        assert len(set(margin)) > 15
        check_that(np.allclose(met, expected, rtol=1e-6))
        # Closeness is 1 when level and falls as a normal curve of the same spread.
        check_that(np.allclose(one.visits["closeness_met"], np.exp(-((margin / 8) ** 2) / 2), rtol=1e-6))


@pytest.mark.parametrize(("wins", "losses"), [(2.0, 2.0), (3.0, 1.0)])
def test_newcomers_read_the_board_as_brownian_motion(wins: float, losses: float) -> None:
    check_reading(readers(wins, losses), wins / (wins + losses))


def test_control_readers_who_believe_in_less() -> None:
    with pytest.raises(Disagrees):
        check_reading(readers(2.0, 2.0), 0.75)
