"""Each kind of catch-up rule by itself, in examples small enough to work by hand from its description.

`success` reads one second of the chain's own transition, so every number here has passed through the clock, the
jump matrix and its powers.
"""

from __future__ import annotations

import math
from typing import Any

import pytest

from tests.checking import Disagrees, check_equal
from venue.contest.chain import Chain
from venue.contest.match import Match, Player
from venue.scenario.title import Title

from .building import Rules, after_period, assert_closed, by_margin, open_title, pull, success, turns_title

HALF = Match(strength=0.5)
OFF = Match(strength=0.0)


def attempt(chance: str = "40 %", points: int = 1) -> dict[str, Any]:
    return {"shot": {"share": 1.0, "points": points, "chance": chance}}


def one_second(rules: Rules, chance: str = "40 %", points: int = 1, **keys: Any) -> Title:
    """Periods of one attempt; twelve of them, so that margins up to twelve are there to look at."""
    plain = {"periods": 12, "period_start": "carry on", "attempts": attempt(chance, points), "rules": rules}
    return turns_title("1 s", **(plain | keys))


def check(title: Title, match: Match, expected: dict[int, float], **where: int) -> None:
    """Chance of success by points behind."""
    for behind, chance in expected.items():
        assert_closed(success(title, behind, match, **where), chance)


def differs(title: Title, match: Match, expected: dict[int, float], **where: int) -> None:
    """The control of `check`: the same comparison does not hold."""
    with pytest.raises(Disagrees):
        check(title, match, expected, **where)


# -- slope ---------------------------------------------------------------------------------------------------------

SLOPE = {-3: 0.34, -1: 0.38, 0: 0.40, 1: 0.42, 4: 0.48}


@pytest.mark.parametrize("side", [0, 1])
def test_slope(side: int) -> None:
    check(one_second(pull("2 pp")), Match(), SLOPE, side=side)
    differs(one_second(pull("2 pp")), HALF, SLOPE, side=side)
    differs(one_second(pull("-2 pp")), Match(), SLOPE, side=side)


def test_slope_is_flat_beyond_its_cap() -> None:
    expected = {-7: 0.34, -3: 0.34, 2: 0.44, 3: 0.46, 7: 0.46}
    check(one_second(pull("2 pp", cap=3)), Match(), expected)
    differs(one_second(pull("2 pp", cap=4)), Match(), expected)


# -- table ---------------------------------------------------------------------------------------------------------

CURVE = {"curve": {"kind": "table", "shift": [[-5, "-10 pp"], [0, 0.0], [5, "20 pp"]]}}


@pytest.mark.parametrize("side", [0, 1])
def test_table_is_straight_between_rows_and_flat_beyond(side: int) -> None:
    expected = {-8: 0.30, -5: 0.30, -2: 0.36, 0: 0.40, 2: 0.48, 5: 0.60, 8: 0.60}
    check(one_second(CURVE), Match(), expected, side=side)
    differs(one_second(pull("4 pp", cap=5)), Match(), expected, side=side)
    check(one_second(CURVE), HALF, {-5: 0.35, 2: 0.44, 8: 0.50}, side=side)


def test_table_in_open_play_acts_for_the_side_behind_and_on_the_leader() -> None:
    # Five behind: 20 pp for the side itself, and the leader's 10 pp less are that side's 10 pp more.
    title = open_title("1 s", periods=9, rules=CURVE)
    chain = Chain(title, Match())
    for margin, scores in {-5: 0.80, -2: 0.62, 0: 0.50, 2: 0.38, 5: 0.20}.items():
        assert_closed(float(after_period(chain, margin)[chain.zero + margin + 1]), scores)


# -- clocked slope -------------------------------------------------------------------------------------------------

LATE = {
    "late": {
        "kind": "clocked slope",
        "steps": [{"left": "2 s", "per_point": "10 pp"}, {"left": "1 s", "per_point": "20 pp"}],
    }
}


def check_three_seconds(title: Title) -> None:
    # By hand, from one ahead with three scores left. No slope in the first second: 2 or 0, half each. 10 points in
    # the second: from 2 the leader scores with .3, so 3, 1, -1 have .15, .60, .25. 20 points in the last: from 3 the
    # leader cannot score, from 1 it does with .3, from -1 with .7: 2, 0, -2 have .15 + .18, .42 + .175, .075.
    chain = Chain(title, Match())
    found = by_margin(chain, after_period(chain, 1))
    for margin, chance in {2: 0.33, 0: 0.595, -2: 0.075}.items():
        assert_closed(found[margin], chance)
    check_equal(found[4], 0.0)


def test_clocked_slope_over_the_last_seconds() -> None:
    check_three_seconds(open_title("3 s", rules=LATE))
    with pytest.raises(Disagrees):
        check_three_seconds(open_title("3 s", rules=pull("10 pp")))


def test_clocked_slope_counts_the_whole_contest() -> None:
    title = one_second(LATE, periods=4, attempts=attempt())
    for period, expected in enumerate(({3: 0.40}, {3: 0.40}, {3: 0.70}, {3: 1.00, -1: 0.20})):
        check(title, Match(), expected, period=period)
    differs(title, Match(), {3: 0.70}, period=1)


def test_clocked_slope_is_capped_and_scaled() -> None:
    capped = {"late": LATE["late"] | {"cap": 2}}
    title = one_second(capped, periods=4)
    check(title, Match(), {3: 0.60, 1: 0.50}, period=2)
    check(title, HALF, {3: 0.50, 1: 0.45}, period=2)
    differs(one_second(LATE, periods=4), Match(), {3: 0.60, 1: 0.50}, period=2)


# -- closing chance ------------------------------------------------------------------------------------------------


def closing(when: str, last: str = "1 s", at_least: str = "90 %", **keys: Any) -> Rules:
    return {"late": {"kind": "closing chance", "last": last, "when": when, "at_least": at_least} | keys}


@pytest.mark.parametrize("side", [0, 1])
@pytest.mark.parametrize(
    ("when", "points", "covered", "uncovered"),
    [
        ("would tie", 0, [2], [-2, -1, 0, 1, 3]),
        ("would lead", 0, [0, 1], [-2, -1, 2, 3]),
        ("would come within", 1, [1, 2, 3], [-1, 0, 4]),
        ("would come within", 4, [1, 5, 6], [-1, 0, 7]),
        ("behind", 3, [3, 4, 9], [-3, 0, 2]),
    ],
)
def test_closing_chance(when: str, points: int, covered: list[int], uncovered: list[int], side: int) -> None:
    title = one_second(closing(when, points=points), points=2)
    expected = dict.fromkeys(covered, 0.90) | dict.fromkeys(uncovered, 0.40)
    check(title, Match(), expected, side=side)
    check(title, HALF, dict.fromkeys(covered, 0.65) | dict.fromkeys(uncovered, 0.40), side=side)
    check(title, OFF, dict.fromkeys(expected, 0.40), side=side)
    for other in {"would tie", "would lead", "behind"} - {when}:
        differs(one_second(closing(other, points=points), points=2), Match(), expected, side=side)


def test_closing_chance_depends_on_what_the_attempt_is_worth() -> None:
    check(one_second(closing("would tie"), points=3), Match(), {3: 0.90, 2: 0.40})
    check(one_second(closing("would lead"), points=3), Match(), {0: 0.90, 2: 0.90, 3: 0.40})
    differs(one_second(closing("would tie"), points=2), Match(), {3: 0.90, 2: 0.40})


def test_closing_chance_lowers_nothing() -> None:
    check(one_second(closing("would lead", at_least="30 %")), Match(), {0: 0.40, 1: 0.40})


def test_closing_chance_starts_from_the_chance_that_other_rules_leave() -> None:
    both = pull("10 pp") | closing("behind", at_least="65 %", points=1)
    check(one_second(both), Match(), {0: 0.40, 1: 0.65, 2: 0.65, 3: 0.70})
    check(one_second(both), HALF, {1: 0.45 + 0.10, 2: 0.50 + 0.075})
    differs(one_second(pull("10 pp")), Match(), {1: 0.65})


def test_the_greatest_of_several_closing_chances_acts() -> None:
    rules = closing("behind", at_least="60 %", points=1) | {
        "later": closing("behind", at_least="80 %", points=3)["late"]
    }
    check(one_second(rules), Match(), {0: 0.40, 1: 0.60, 2: 0.60, 3: 0.80, 5: 0.80})
    check(one_second(rules), HALF, {2: 0.50, 3: 0.60})


def check_closing_second(title: Title, level: float) -> None:
    # By hand, three scores left and one ahead: two seconds of the plain walk put 3, 1, -1 at .25, .50, .25; in the
    # last second the side one behind ties with .9 from either, so the end is level with .75 * .9.
    chain = Chain(title, Match())
    assert_closed(by_margin(chain, after_period(chain, 1))[0], level)


def test_closing_chance_in_the_last_seconds_only() -> None:
    check_closing_second(open_title("3 s", rules=closing("would tie")), 0.675)
    # From the second second on: 2 and 0 stand at .5 each; from 0 nothing ties, from 2 nothing ties: as before.
    check_closing_second(open_title("3 s", rules=closing("would tie", last="2 s")), 0.675)
    # From the first second on: the walk is level with .9, two ahead with .1, before the last two.
    check_closing_second(open_title("3 s", rules=closing("would tie", last="3 s")), 0.9 * 0.9 + 0.1 * 0.5 * 0.9)


def test_control_closing_chance_in_the_last_seconds_only() -> None:
    for rules in ({}, closing("would tie", last="3 s"), closing("would lead"), closing("would tie", at_least="80 %")):
        with pytest.raises(Disagrees):
            check_closing_second(open_title("3 s", rules=rules), 0.675)


def test_closing_chance_holds_at_the_end_of_every_period_it_names() -> None:
    two = open_title("3 s", periods=2, rules=closing("would tie"))
    last_only = open_title("3 s", periods=2, rules=closing("would tie", periods=[2]))
    for period, plain in ((0, 0.375), (1, 0.675)):
        chain = Chain(two, Match())
        assert_closed(by_margin(chain, after_period(chain, 1, period))[0], 0.675)
        chain = Chain(last_only, Match())
        assert_closed(by_margin(chain, after_period(chain, 1, period))[0], plain)


def test_closing_chances_of_level_sides_in_open_play_leave_the_better_side_better() -> None:
    # Both sides are entitled to at least 60 % of the next score, which cannot be: level sides cancel, as they do under
    # every other rule for both sides, and skill keeps its say.
    title = open_title("1 s", rules=closing("would lead", at_least="60 %"))
    assert_closed(Chain(title, Match(gap=0.0)).win_chance, 0.5)
    assert Chain(title, Match(gap=0.2)).win_chance > 0.5
    assert Chain(title, Match(gap=-0.2)).win_chance < 0.5


def test_in_open_play_a_greater_lift_that_the_other_side_has_takes_nobodys_place() -> None:
    # By hand: skill leaves visitors 30 % of the next scores. Ahead, the rule for them gives them 40 %; the greater
    # rule for both is then the computer's, which trails and has 70 %. Behind, they have the greater.
    rules = {
        "both": {"kind": "least chance", "at_least": "60 %"},
        "visitors": {"kind": "least chance", "at_least": "40 %", "serves": "visitors"},
    }

    def visitors(rules: Rules, lead: int) -> float:
        chain = Chain(open_title("6 s", rules=rules), Match(gap=math.log(3 / 7)))
        return float(chain.chances(chain.title.rules, 1.0, 0, "tap").chance[chain.zero + lead])

    assert_closed(visitors(rules, 2), 0.40)
    assert_closed(visitors(rules, 0), 0.40)
    assert_closed(visitors(rules, -2), 0.60)
    with pytest.raises(Disagrees):
        assert_closed(visitors({"both": rules["both"]}, 2), 0.40)


# -- turnover ------------------------------------------------------------------------------------------------------

STEALS = {"steals": {"kind": "turnover", "shift": [[-4, "-8 pp"], [0, 0.0], [10, "20 pp"]]}}


@pytest.mark.parametrize("side", [0, 1])
def test_turnover_takes_attacks_from_the_side_behind(side: int) -> None:
    # By hand: an attack is lost with .10 and the change, then succeeds with .40.
    title = one_second(STEALS, turnover="10 %")
    expected = {-8: 0.98 * 0.4, -4: 0.98 * 0.4, -2: 0.94 * 0.4, 0: 0.90 * 0.4, 5: 0.80 * 0.4, 11: 0.70 * 0.4}
    check(title, Match(), expected, side=side)
    check(title, HALF, {-4: 0.94 * 0.4, 0: 0.90 * 0.4, 5: 0.85 * 0.4}, side=side)
    check(title, OFF, dict.fromkeys(expected, 0.90 * 0.4), side=side)
    differs(one_second(STEALS), Match(), expected, side=side)
    differs(title, OFF, expected, side=side)


def test_turnover_serves_the_side_that_defends() -> None:
    title = one_second({"steals": STEALS["steals"] | {"serves": "computer"}}, turnover="10 %")
    check(title, Match(), {5: 0.80 * 0.4, -4: 0.98 * 0.4}, side=0)
    check(title, Match(), {5: 0.90 * 0.4, -4: 0.90 * 0.4}, side=1)
    differs(title, Match(side_a="computer", side_b="visitor"), {5: 0.80 * 0.4}, side=0)


def test_turnover_chance_stays_a_chance() -> None:
    sure = {"steals": {"kind": "turnover", "shift": [[0, 0.0], [2, "100 pp"]]}}
    check(one_second(sure, turnover="30 %"), Match(), {0: 0.70 * 0.4, 1: 0.20 * 0.4})
    assert success(one_second(sure, turnover="30 %"), 2) == pytest.approx(0.0, abs=1e-12)


# -- what every rule says ------------------------------------------------------------------------------------------

KINDS: dict[str, dict[str, Any]] = {
    "slope": {"kind": "slope", "per_point": "5 pp"},
    "table": {"kind": "table", "shift": [[0, 0.0], [4, "20 pp"]]},
    "clocked slope": {"kind": "clocked slope", "steps": [{"left": "12 s", "per_point": "5 pp"}]},
    "closing chance": {"kind": "closing chance", "last": "1 s", "when": "behind", "points": 1, "at_least": "60 %"},
}
ACTING = 0.60  # chance at four behind with any of them; .40 without


def with_keys(kind: str, **keys: Any) -> Title:
    return one_second({"rule": KINDS[kind] | keys})


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(
    ("serves", "side_a", "side_b", "acts"),
    [
        ("both", "visitor", "computer", (True, True)),
        ("visitors", "visitor", "computer", (True, False)),
        ("visitors", "visitor", "visitor", (True, True)),
        ("computer", "visitor", "computer", (False, True)),
        ("computer", "computer", "visitor", (True, False)),
        ("computer", "visitor", "visitor", (False, False)),
    ],
)
def test_whom_a_rule_serves(kind: str, serves: str, side_a: Player, side_b: Player, acts: tuple[bool, bool]) -> None:
    title, match = with_keys(kind, serves=serves), Match(side_a=side_a, side_b=side_b)
    for side, acting in enumerate(acts):
        check(title, match, {4: ACTING if acting else 0.40}, side=side)
        differs(title, match, {4: 0.40 if acting else ACTING}, side=side)


@pytest.mark.parametrize("serves", ["visitors", "computer"])
def test_slope_for_one_side_in_open_play_acts_ahead_and_behind(serves: str) -> None:
    title = open_title("1 s", periods=9, rules=pull("3 pp", serves=serves))
    chain = Chain(title, Match())
    for margin in (-4, 0, 4):
        assert_closed(float(after_period(chain, margin)[chain.zero + margin + 1]), 0.50 - 0.03 * margin)


@pytest.mark.parametrize("kind", KINDS)
def test_switch_turns_a_rule_off(kind: str) -> None:
    title = with_keys(kind, switch="help", scalable=False)
    check(title, Match(), {4: ACTING})
    check(title, Match(switches_off=frozenset({"other"})), {4: ACTING})
    check(title, Match(switches_off=frozenset({"help"})), {4: 0.40})
    check(with_keys(kind), Match(switches_off=frozenset({"help"})), {4: ACTING})


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("strength", [0.0, 0.25, 1.0, 1.5])
def test_strength_scales_what_is_scalable(kind: str, strength: float) -> None:
    check(with_keys(kind), Match(strength), {4: 0.40 + 0.20 * strength})
    check(with_keys(kind, scalable=False), Match(strength), {4: ACTING})


@pytest.mark.parametrize("kind", KINDS)
def test_periods_a_rule_holds_in(kind: str) -> None:
    title = with_keys(kind, periods=[2, 12])
    for period in range(12):
        check(title, Match(), {4: ACTING if period in (1, 11) else 0.40}, period=period)


@pytest.mark.parametrize("kind", KINDS)
def test_attempts_a_rule_holds_for(kind: str) -> None:
    def title(*attempts: str) -> Title:
        kinds = {
            "shot": {"share": 0.75, "points": 1, "chance": "40 %"},
            "pass": {"share": 0.25, "points": 1, "chance": "40 %"},
        }
        return one_second({"rule": KINDS[kind] | {"attempts": list(attempts)}}, attempts=kinds)

    check(title("shot"), Match(), {4: 0.40 + 0.75 * 0.20})
    check(title("pass"), Match(), {4: 0.40 + 0.25 * 0.20})
    check(title("shot", "pass"), Match(), {4: ACTING})


@pytest.mark.parametrize("side", [0, 1])
def test_margins_a_rule_holds_at(side: int) -> None:
    check(one_second(pull("2 pp", behind_from=3)), Match(), {-4: 0.40, 2: 0.40, 3: 0.46, 5: 0.50}, side=side)
    check(one_second(pull("2 pp", behind_to=3)), Match(), {-4: 0.32, 2: 0.44, 3: 0.46, 4: 0.40}, side=side)
    check(one_second(pull("2 pp", behind_from=1, behind_to=1)), Match(), {0: 0.40, 1: 0.42, 2: 0.40}, side=side)
    # Limits of a turnover rule look at the defence: behind_to = -3 is a defence that leads by three or more.
    steals = {"steals": STEALS["steals"] | {"behind_to": -3}}
    check(one_second(steals, turnover="10 %"), Match(), {2: 0.90 * 0.4, 3: 0.84 * 0.4, 5: 0.80 * 0.4}, side=side)


def test_turnover_obeys_switch_strength_and_periods() -> None:
    def title(**keys: Any) -> Title:
        return one_second({"steals": STEALS["steals"] | keys}, turnover="10 %")

    acting, idle = {5: 0.80 * 0.4}, {5: 0.90 * 0.4}
    check(title(switch="guard"), Match(switches_off=frozenset({"guard"})), idle)
    check(title(scalable=False), OFF, acting)
    check(title(periods=[2]), Match(), idle, period=0)
    check(title(periods=[2]), Match(), acting, period=1)


# -- minimum and maximum, and several rules at once --------------------------------------------------------------------


@pytest.mark.parametrize("side", [0, 1])
def test_floor_and_ceiling(side: int) -> None:
    title = one_second(pull("10 pp"), minimum_chance=0.25, maximum_chance=0.75)
    check(title, Match(), {-9: 0.25, -2: 0.25, -1: 0.30, 3: 0.70, 4: 0.75, 9: 0.75}, side=side)
    differs(one_second(pull("10 pp")), Match(), {-2: 0.25, 4: 0.75}, side=side)
    check(title, Match(gap=20.0 if side == 0 else -20.0), {0: 0.75}, side=side)
    check(title, Match(gap=-20.0 if side == 0 else 20.0), {0: 0.25}, side=side)


@pytest.mark.parametrize("bounds", [(0.2, 1.0), (0.0, 0.8)])
def test_floor_and_ceiling_hold_for_either_side_in_open_play(bounds: tuple[float, float]) -> None:
    # Each bound is of any attempt's chance, so neither side is left with less than .2 of the next score.
    title = open_title("1 s", minimum_chance=bounds[0], maximum_chance=bounds[1])
    assert_closed(Chain(title, Match(gap=-5.0)).win_chance, 0.2)
    assert_closed(Chain(title, Match(gap=5.0)).win_chance, 0.8)


def test_rules_add_up() -> None:
    rules = pull("2 pp") | {"curve": CURVE["curve"]} | {"steals": STEALS["steals"]}
    expected = {-5: 0.20, 0: 0.40, 5: 0.70}
    lost = {-5: 0.02, 0: 0.10, 5: 0.20}
    title = one_second(rules, turnover="10 %")
    check(title, Match(), {d: (1 - lost[d]) * expected[d] for d in expected})
    differs(title, HALF, {d: (1 - lost[d]) * expected[d] for d in expected})


def test_points_owed_are_shared_in_proportion_when_a_chance_is_clipped() -> None:
    # By hand, one attempt of the side five behind: .40 + .10 + .20 is cut to .60, so of 0.2 points owed a third is
    # the slope's and two thirds the curve's; scores assisted are 0.2 too.
    title = one_second(pull("2 pp") | CURVE, maximum_chance=0.60)
    chain = Chain(title, Match())
    behind = chain.zero - 5
    assert_closed(float(chain.collect(0, "pull")[behind, 0]), 0.2 / 3)
    assert_closed(float(chain.collect(0, "curve")[behind, 0]), 0.4 / 3)
    assert_closed(float(chain.collect(0, "assisted")[behind, 0]), 0.2)
    assert_closed(float(chain.collect(0, "points")[behind, 0]), 0.6)
    # And the leader, whose chances fall, is owed less than nothing and assisted never.
    ahead = len(chain.margins) + behind
    assert_closed(float(chain.collect(0, "pull")[ahead, 1]), -0.1)
    assert_closed(float(chain.collect(0, "curve")[ahead, 1]), -0.1)
    assert float(chain.collect(0, "assisted")[ahead, 1]) == 0.0


def test_points_owed_to_a_turnover_rule() -> None:
    # By hand: at five behind 20 % of attacks are lost instead of 10 %, each worth .40 of 2 points.
    chain = Chain(one_second(STEALS, points=2, turnover="10 %"), Match())
    assert_closed(float(chain.collect(0, "steals")[chain.zero - 5, 0]), -0.10 * 0.40 * 2)
    assert_closed(float(chain.collect(0, "points")[chain.zero - 5, 0]), 0.80 * 0.40 * 2)
