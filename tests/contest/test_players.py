"""Players within a side: who takes an attempt, levels of their own, and runs and misses that count by player."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from tests.checking import Disagrees, check_close
from venue.contest.automaton import Automaton
from venue.contest.chain import Chain
from venue.contest.clock_segments import period_stretches
from venue.contest.match import Match
from venue.scenario.title import Title

from .agreement import Case, check_case
from .building import turns_title

BOTH = {"one": 0.5, "other": 0.5}


def shot(chance: float = 0.4, **keys: Any) -> dict[str, Any]:
    return {"shot": {"share": 1.0, "points": 1, "chance": chance, "taken_by": BOTH} | keys}


def drought(after: int, **keys: Any) -> dict[str, Any]:
    return {"dry": {"kind": "drought", "after": after, "at_least": 1.0, "counts": "player"} | keys}


def boost(**keys: Any) -> dict[str, Any]:
    return {"hot": {"kind": "run boost", "after": 1, "gain": "20 pp", "counts": "player"} | keys}


# -- the automaton holds what the rules need, and no more ----------------------------------------------------------


@pytest.mark.parametrize(
    ("rules", "match", "modes"),
    [
        ({}, Match(), 2),
        (drought(2), Match(), 2 * 3**4),
        (drought(2, serves="visitors"), Match(), 2 * 3**2),
        (drought(2, serves="visitors", weight=0.0), Match(), 2),
        (drought(2, serves="visitors", attempts=["far"]), Match(), 2 * 3),
        (drought(2, serves="visitors", counts="side"), Match(), 2 * 3),
    ],
    ids=["none", "both sides", "one side", "out", "one player", "by side"],
)
def test_only_what_the_rules_need_is_remembered(rules: dict[str, Any], match: Match, modes: int) -> None:
    near, far = shot(share=0.6)["shot"], shot(share=0.4, taken_by={"other": 1.0})["shot"]
    title = turns_title("20 s", attempts={"near": near, "far": far}, rules=rules)
    assert len(Automaton(title, match).modes) == modes


# -- by hand -------------------------------------------------------------------------------------------------------


def points_of_a(title: Title) -> float:
    return float(Chain(title, Match()).expected("points")[0])


def check_hot_hand(counts: str) -> None:
    # By hand: side A attacks first, and again after a score, with 40 % each time; two seconds. The second attempt is
    # by the same player in half of the cases, who then has 60 %: .4 + .4 (.5 · .6 + .5 · .4) = .6.
    title = turns_title(
        "2 s", attempts=shot(), rules=boost(counts=counts), scorer_keeps=True, period_start="alternate"
    )  # fmt: skip
    check_close(points_of_a(title), 0.6, abs=1e-12)


def test_a_run_counts_for_the_player_who_made_it() -> None:
    check_hot_hand("player")
    with pytest.raises(Disagrees):
        check_hot_hand("side")


def test_a_players_run_is_answered_by_the_other_side() -> None:
    # By hand, by turns, all attempts by one player of each side, four seconds: A, B, A, B. A's second attempt has 60 %
    # if the first went in (.4) and B's between did not (.6): .4 + .4 + .2 · .4 · .6.
    title = turns_title("4 s", attempts=shot(taken_by={"one": 1.0}), rules=boost(), period_start="alternate")
    check_close(points_of_a(title), 0.8 + 0.2 * 0.4 * 0.6, abs=1e-12)


LEVELS: dict[str, Any] = {
    "level_table": ((0, -1.0), (10, 1.0)),
    "level_tables": {"far": ((1, -0.3), (2, 0.0), (3, 0.9))},
}


def check_levels(title: Title, chance: float) -> None:
    check_close(points_of_a(title), chance, abs=1e-12)


def test_each_player_and_each_category_has_its_own_level_and_table() -> None:
    # By hand: one attempt a second for one second by side A. From an even chance, "one" at level 3 of "far" has
    # expit(.9) = .7109495; "other", without a level of its own there, has the side's level 1: expit(-.3) = .4255575.
    title = turns_title(
        "1 s",
        attempts=shot(0.5, skill="far"),
        period_start="alternate",
        visitor_players={"one": {"far": 3}, "other": {"near": 10}},
        visitor_levels={"far": 1},
        **LEVELS,
    )
    check_levels(title, 0.5 * 0.7109495026250039 + 0.5 * 0.425557483188341)
    with pytest.raises(Disagrees):  # the table of the other categories
        check_levels(title.model_copy(update={"level_tables": {}}), 0.5682534929)


def test_a_defence_without_a_level_is_the_mean_of_its_players() -> None:
    # By hand: levels 10 and 4 are worth 1 and -.2, their mean .4; an even chance falls to expit(-.4) = .4013123.
    title = turns_title(
        "1 s",
        attempts=shot(0.5),
        period_start="alternate",
        defence="guard",
        computer_players={"one": {"guard": 10}, "other": {"guard": 4}},
        **LEVELS,
    )
    check_levels(title, 0.401312339887548)
    with pytest.raises(Disagrees):
        check_levels(title.model_copy(update={"computer_levels": {"guard": 5.0}}), 0.401312339887548)


# -- run lengths ---------------------------------------------------------------------------------------------------


def stationary_rate(title: Title) -> float:
    """Scores a resolved attack of side A in the long run, from the chain's own transitions at a level score."""
    chain = Chain(title, Match())
    jumps = chain.transitions(period_stretches(title, 0)[0])
    size, modes = len(chain.margins), len(chain.automaton.modes)
    level = jumps.dense()[chain.zero :: size].reshape(modes, modes, size).sum(axis=2)
    equations = np.vstack([level.T - np.eye(modes), np.ones(modes)])
    share = np.linalg.lstsq(equations, np.append(np.zeros(modes), 1.0), rcond=None)[0]
    points = jumps.tally.rates("points")[0].reshape(modes, size)[:, chain.zero]
    return float(share @ points / share[[mode.holder == 0 for mode in chain.automaton.modes]].sum())


def check_renewal(counts: str) -> None:
    """A player's attempts are a renewal process that ends with each success: after `k` misses the next one is sure, so
    that a success takes 1 + q + … + q^k attempts on average, whoever takes the attempts between (Feller, An
    Introduction to Probability Theory, vol. I, ch. XIII; location from memory)."""
    k, chances, shares = 2, (0.3, 0.6), (0.7, 0.3)
    odds = [float(np.log(chance / (1 - chance))) for chance in chances]
    title = turns_title(
        "10 s",
        attempts=shot(0.5, skill="aim", taken_by=dict(zip(BOTH, shares, strict=True))),
        rules=drought(k, serves="visitors", counts=counts),
        level_table=((-5.0, -5.0), (5.0, 5.0)),
        visitor_players={"one": {"aim": odds[0]}, "other": {"aim": odds[1]}},
    )
    rates = [1.0 / sum((1 - chance) ** j for j in range(k + 1)) for chance in chances]
    check_close(stationary_rate(title), shares[0] * rates[0] + shares[1] * rates[1], abs=1e-9)


def test_droughts_by_player_against_run_lengths() -> None:
    check_renewal("player")
    with pytest.raises(Disagrees):
        check_renewal("side")


# -- against contests played out at random -------------------------------------------------------------------------

TWO: dict[str, Any] = {
    "attempts": {
        "near": {"share": 0.7, "points": 2, "chance": 0.5, "skill": "near", "taken_by": {"big": 0.8, "small": 0.2}},
        "far": {"share": 0.3, "points": 3, "chance": 0.35, "skill": "far", "taken_by": {"big": 0.1, "small": 0.9}},
    },
    "visitor_players": {"big": {"near": 8, "guard": 7}, "small": {"far": 3, "guard": 3}},
    "computer_players": {"big": {"near": 6, "guard": 5}, "small": {"far": 2}},
    "defence": "guard",
    "period_start": "carry on",
    "mean_attack": "2 s",
    "rules": {
        "hot": {"kind": "run boost", "after": 2, "gain": "15 pp", "counts": "player"},
        "dry": {"kind": "drought", "after": 2, "at_least": "90 %", "counts": "player", "serves": "visitors"},
    },
} | LEVELS

CASES = {
    "two players": Case(
        turns_title, TWO | {"length": "30 s", "periods": 2}, {"rules": {
            name: rule | {"counts": "side"} for name, rule in TWO["rules"].items()}},
    ),
    "next score": Case(
        turns_title, TWO | {"length": "30 s", "periods": 2, "tie": "next score", "mean_attack": "10 s"},
        {"computer_players": {}},
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES.values(), ids=CASES.keys())
def test_players_played_out_at_random(case: Case) -> None:
    check_case(case, 8000)
