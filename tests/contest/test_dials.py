"""What every rule may say of itself: a weight, shares of the base chance, whom it must face; exact chances; blocks.

Small enough to work by hand from the description; `success` reads one second of the chain's own transition.
"""

from __future__ import annotations

from typing import Any

import pytest

from tests.checking import Disagrees, check_close
from venue.contest.chain import Chain
from venue.contest.match import Match, Player
from venue.scenario.title import Title

from .building import Rules, open_title, pull, success, turns_title

HALF = Match(strength=0.5)


def one_second(rules: Rules, chance: str = "40 %", points: int = 1, **keys: Any) -> Title:
    """Periods of one attempt; twelve of them, so that margins up to twelve are there to look at."""
    attempts = {"shot": {"share": 1.0, "points": points, "chance": chance}}
    plain = {"periods": 12, "period_start": "carry on", "attempts": attempts, "rules": rules}
    return turns_title("1 s", **(plain | keys))


def check(title: Title, match: Match, expected: dict[int, float], side: int = 0) -> None:
    """Chance of success by points behind."""
    for behind, chance in expected.items():
        check_close(success(title, behind, match, side=side), chance, abs=1e-9)


def closing(**keys: Any) -> dict[str, Any]:
    return {"kind": "closing chance", "last": "1 s", "when": "behind", "points": 1} | keys


STEALS = {"kind": "turnover", "shift": [[0, 0.0], [4, "20 pp"]]}
BLOCKS = {"kind": "block", "shift": [[0, 0.0], [4, "20 pp"]]}


# -- weight --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rule", "full"),
    [
        (pull("5 pp")["pull"], 0.60),
        ({"kind": "table", "shift": [[0, 0.0], [4, "20 pp"]]}, 0.60),
        (closing(at_least="60 %"), 0.60),
        (closing(exactly="20 %"), 0.20),
        (STEALS, 0.80 * 0.40),
        (BLOCKS, 0.80 * 0.40),
    ],
    ids=["slope", "table", "at least", "exactly", "turnover", "block"],
)
def test_weight_scales_a_rule_like_strength_but_each_by_itself(rule: dict[str, Any], full: float) -> None:
    for weight in (0.0, 0.25, 1.0):
        expected = {4: 0.40 + weight * (full - 0.40)}
        title = one_second({"rule": rule | {"weight": weight}})
        check(title, Match(), expected)
        check(one_second({"rule": rule | {"weight": weight, "scalable": False}}), HALF, expected)
        check(title, HALF, {4: 0.40 + 0.5 * weight * (full - 0.40)})
    with pytest.raises(Disagrees):
        check(one_second({"rule": rule}), Match(), {4: 0.40 + 0.25 * (full - 0.40)})


def test_strength_of_a_title_multiplies_that_of_the_study() -> None:
    rules = pull("5 pp") | {"fixed": {"kind": "slope", "per_point": "1 pp", "scalable": False}}
    check(one_second(rules, strength=0.5), Match(), {4: 0.40 + 0.10 + 0.04})
    check(one_second(rules, strength=0.5), HALF, {4: 0.40 + 0.05 + 0.04})
    with pytest.raises(Disagrees):
        check(one_second(rules), Match(), {4: 0.40 + 0.10 + 0.04})


# -- relative changes ----------------------------------------------------------------------------------------------


def test_a_relative_slope_is_a_share_of_the_base_chance() -> None:
    # By hand: +14 % of itself for each point, of 50 % and of 20 %.
    for chance, base in (("50 %", 0.50), ("20 %", 0.20)):
        title = one_second(pull("14 %", relative=True), chance)
        check(title, Match(), {-1: base * 0.86, 0: base, 1: base * 1.14, 2: base * 1.28})
        with pytest.raises(Disagrees):
            check(one_second(pull("14 %"), chance), Match(), {1: base * 1.14})


def test_additive_and_relative_changes_add_up() -> None:
    both = pull("5 pp") | {"share": {"kind": "slope", "per_point": "10 %", "relative": True}}
    check(one_second(both), Match(), {2: 0.40 + 0.10 + 0.08})
    check(one_second(both), HALF, {2: 0.40 + 0.05 + 0.04})


@pytest.mark.parametrize("chance", [0.0, 1.0])
def test_a_relative_change_at_the_ends(chance: float) -> None:
    """Of nothing it makes nothing; of a certainty it takes its share, and cannot add to it."""
    title = one_second(pull("14 %", relative=True), f"{100 * chance} %")
    check(title, Match(), {-2: 0.72 * chance, 0: chance, 2: chance})
    with pytest.raises(Disagrees):
        check(
            one_second(pull("15 %", relative=chance == 1.0), f"{100 * chance} %"),
            Match(),
            {-2: 0.72 * chance, 2: chance},
        )


def test_a_relative_turnover_and_block_are_shares_of_the_titles_own() -> None:
    rules = {"steals": STEALS | {"relative": True, "shift": [[0, 0.0], [4, "50 %"]]}}
    check(one_second(rules, turnover="10 %"), Match(), {0: 0.90 * 0.4, 4: 0.85 * 0.4})
    rules = {"blocks": BLOCKS | {"relative": True, "shift": [[0, 0.0], [4, "50 %"]]}}
    check(one_second(rules, block="10 %"), Match(), {0: 0.90 * 0.4, 4: 0.85 * 0.4})
    with pytest.raises(Disagrees):
        check(one_second({"blocks": BLOCKS}, block="10 %"), Match(), {4: 0.85 * 0.4})


def test_in_open_play_a_relative_change_is_of_the_sides_own_chance() -> None:
    # By hand: side B at -1 trails; its even chance of one half grows by a fifth, and side A has the rest.
    title = open_title("1 s", periods=9, rules=pull("20 %", relative=True))
    chain = Chain(title, Match())
    chances = chain.chances(title.rules, 1.0, 0, "tap").chance
    check_close([chances[chain.zero + lead] for lead in (1, 0, -1)], [0.40, 0.50, 0.60], abs=1e-12)


# -- whom a rule faces ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("facing", "side_b", "acts"),
    [
        ("anyone", "computer", True),
        ("anyone", "visitor", True),
        ("computer", "computer", True),
        ("computer", "visitor", False),
        ("visitors", "computer", False),
        ("visitors", "visitor", True),
    ],
)
def test_whom_a_rule_faces(facing: str, side_b: Player, acts: bool) -> None:
    title, match = one_second(pull("5 pp", facing=facing)), Match(side_b=side_b)
    check(title, match, {4: 0.60 if acts else 0.40})
    with pytest.raises(Disagrees):
        check(title, match, {4: 0.40 if acts else 0.60})


# -- exact chances -------------------------------------------------------------------------------------------------


def test_an_exact_chance_lifts_and_lowers() -> None:
    check(one_second({"late": closing(exactly="70 %")}), Match(), {0: 0.40, 1: 0.70, 5: 0.70})
    check(one_second({"late": closing(exactly="10 %")}), Match(), {0: 0.40, 1: 0.10, 5: 0.10})
    check(one_second({"late": closing(exactly="10 %")}), HALF, {1: 0.25})
    with pytest.raises(Disagrees):
        check(one_second({"late": closing(at_least="10 %")}), Match(), {1: 0.10})


def test_an_exact_chance_goes_before_least_ones() -> None:
    rules = {"first": closing(at_least="90 %"), "second": closing(exactly="30 %", points=2)}
    check(one_second(rules), Match(), {1: 0.90, 2: 0.30})
    rules |= {"third": closing(exactly="50 %", points=3)}
    check(one_second(rules), Match(), {2: 0.30, 3: 0.50})
    with pytest.raises(Disagrees):
        check(one_second({"first": rules["first"]}), Match(), {2: 0.30})


# -- blocks --------------------------------------------------------------------------------------------------------


def test_a_block_turns_a_success_into_a_miss() -> None:
    title = one_second({"blocks": BLOCKS}, block="10 %")
    check(title, Match(), {0: 0.40 * 0.90, 2: 0.40 * 0.80, 4: 0.40 * 0.70})
    check(one_second({"blocks": BLOCKS | {"serves": "computer"}}), Match(), {4: 0.40}, side=1)


def test_a_block_is_a_miss_to_a_drought_and_a_steal_is_none() -> None:
    # By hand: two seconds by turns with one miss for a sure score; side A shoots first, then B, then A again.
    rules = {"hot": {"kind": "drought", "after": 1, "at_least": "100 %", "serves": "visitors"}}
    keys: dict[str, Any] = {"period_start": "alternate", "periods": 1, "attempts": {
        "shot": {"share": 1.0, "points": 1, "chance": "50 %"}}}  # fmt: skip

    def points_of_a(**base: Any) -> float:
        chain = Chain(turns_title("3 s", rules=rules, **keys, **base), Match())
        return float(chain.expected("points")[0])

    # Blocked for sure half of the time: A scores with .25 at first; if it did not (.75) it has .50 of a sure one next,
    # else .25. Taken half of the time: .25, a miss (.25) leaves .50, a steal (.5) or a score leaves .25.
    check_close(points_of_a(block=0.5), 0.25 + 0.75 * 0.5 + 0.25 * 0.25, abs=1e-9)
    check_close(points_of_a(turnover=0.5), 0.25 + 0.25 * 0.5 + 0.75 * 0.25, abs=1e-9)
    with pytest.raises(Disagrees):
        check_close(points_of_a(turnover=0.5), 0.25 + 0.75 * 0.5 + 0.25 * 0.25, abs=1e-9)
