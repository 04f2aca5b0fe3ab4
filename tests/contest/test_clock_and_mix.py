"""Shares of attempts that change, a limit on attacks, overtime, difficulties: by hand, closed forms, and at random."""

from __future__ import annotations

from typing import Any

import pytest

from tests.checking import Disagrees, check_close
from venue.contest.automaton import Automaton
from venue.contest.chain import Chain
from venue.contest.forms import solve
from venue.contest.match import Match
from venue.errors import InputError
from venue.scenario.title import Title

from .agreement import Case, by_turns, check_case, in_the_open
from .building import MIXED, open_title, points_title, pull, turns_title

TWO = {"near": {"share": 0.75, "points": 1, "chance": "40 %"}, "far": {"share": 0.25, "points": 2, "chance": "20 %"}}


def points_of_a(title: Title, match: Match | None = None) -> float:
    return float(solve(title, match or Match()).expected("points")[0])


# -- shares of attempts --------------------------------------------------------------------------------------------


def check_shares(mixes: dict[str, Any], expected: float, **match: Any) -> None:
    title = turns_title("2 s", attempts=TWO, period_start="alternate", scorer_keeps=True, mixes=mixes)
    check_close(points_of_a(title, Match(**match)), expected, abs=1e-12)


def test_other_shares_while_they_hold() -> None:
    # By hand: an attempt at the title's shares brings .75 · .4 + .25 · .2 · 2 = .4 points and succeeds with .35; far
    # ones alone bring .4 too and succeed with .2. Side A goes on after a score.
    far = {"shares": {"far": 1.0}}
    check_shares({}, 0.4 + 0.35 * 0.4)
    check_shares({"far": far}, 0.4 + 0.2 * 0.4)
    check_shares({"far": far | {"left": "1 s"}}, 0.4 + 0.35 * 0.4)
    near = {"shares": {"near": 1.0}}
    check_shares({"late": near | {"left": "1 s"}}, 0.4 + 0.35 * 0.4)
    check_shares({"ahead": near | {"behind_to": -2}}, 0.4 + 0.35 * 0.4)
    check_shares({"first": far, "then": near}, 0.4 + 0.4 * 0.4)  # the last written counts
    check_shares({"computer": far | {"serves": "computer"}}, 0.4 + 0.35 * 0.4)
    with pytest.raises(Disagrees):
        check_shares({"far": far}, 0.4 + 0.35 * 0.4)


MIXES = {
    "trailing": {"shares": {"near": 0.2, "far": 0.8}, "behind_from": 4},
    "late": {"shares": {"far": 1.0}, "left": "15 s", "behind_from": 1, "behind_to": 3, "serves": "visitors"},
}


# -- a limit on attacks --------------------------------------------------------------------------------------------


def check_mean_attack(title: Title, limit: int, hazard: float) -> None:
    """Attacks of a contest to N points take 1 − (1 − q)^L over q seconds each on average: a geometric time cut at the
    limit (textbook)."""
    contest = solve(title, Match())
    attacks = float(contest.expected("points").sum()) / 0.4
    seconds = float(contest.start @ contest.seconds(0))
    check_close(seconds / attacks, (1 - (1 - hazard) ** limit) / hazard, rel=1e-9)


def test_attacks_with_a_limit_take_a_geometric_time_cut_short() -> None:
    keys: dict[str, Any] = {
        "play": "turns", "mean_attack": "4 s", "attempts": {"shot": {"share": 1.0, "points": 1, "chance": 0.4}},
    }  # fmt: skip
    check_mean_attack(points_title(5, attack_limit="3 s", at_limit="attempt", **keys), 3, 0.25)
    with pytest.raises(Disagrees):
        check_mean_attack(points_title(5, attack_limit="4 s", at_limit="attempt", **keys), 3, 0.25)


def test_an_attack_at_its_limit_is_lost_or_made() -> None:
    # By hand, two seconds, a limit of two, each over in a second with a half; side A first. It makes an attempt in the
    # first second (.5), or in the second: with .25 if late ones are lost, else always.
    title = turns_title(
        "2 s", mean_attack="2 s", attack_limit="2 s", period_start="alternate",
        attempts={"shot": {"share": 1.0, "points": 1, "chance": "40 %"}},
    )  # fmt: skip
    check_close(points_of_a(title), 0.4 * 0.75, abs=1e-12)
    made = title.model_copy(update={"at_limit": "attempt"})
    check_close(points_of_a(made), 0.4, abs=1e-12)
    with pytest.raises(Disagrees):
        check_close(points_of_a(made), 0.4 * 0.75, abs=1e-12)


@pytest.mark.parametrize(("keys", "modes"), [({}, 2), ({"attack_limit": "5 s"}, 10)])
def test_the_age_of_an_attack_is_remembered_where_it_has_a_limit(keys: dict[str, Any], modes: int) -> None:
    assert len(Automaton(turns_title("20 s", **keys), Match()).modes) == modes


def test_a_limit_that_is_never_reached_changes_nothing() -> None:
    plain = turns_title("20 s", mean_attack="2 s", attempts=MIXED, rules=pull("2 pp"))
    limited = plain.model_copy(update={"attack_limit": 20.0})
    for measure in ("points", "assisted", "pull"):
        check_close(solve(limited, Match()).expected(measure), solve(plain, Match()).expected(measure), rel=1e-9)


# -- overtime ------------------------------------------------------------------------------------------------------


def check_overtime(title: Title, ways: int) -> None:
    """The chance to win from level is the limit of its series: overtimes until somebody leads, one after another."""
    chain = Chain(title, Match(gap=0.3))
    alone = title.model_copy(update={"tie": "draw", "overtime": None, "periods": 1, "period_length": 3.0})
    end = Chain(alone, Match(gap=0.3))
    won, level = float(end.final_margin[end.margins > 0].sum()), float(end.final_margin[end.zero])
    series = sum(won * level**n for n in range(ways))
    check_close(chain.tie_value, series, abs=1e-9)
    check_close(chain.tie_value, won / (1.0 - level), abs=1e-9)
    longer = float(chain.start @ chain.seconds(0)) - title.seconds
    check_close(longer, float(chain.final_margin[chain.zero]) * 3.0 / (1.0 - level), rel=1e-8)


OVERTIME: dict[str, Any] = {"tie": "overtime", "overtime": {"length": "3 s"}}


def test_overtime_is_the_limit_of_its_series() -> None:
    title = turns_title("20 s", attempts=MIXED, mean_attack="2 s", rules=pull("2 pp"), **OVERTIME)
    check_overtime(title, 200)
    with pytest.raises(Disagrees):
        check_overtime(title, 1)
    with pytest.raises(Disagrees):
        check_overtime(title.model_copy(update={"tie": "next score"}), 200)


def test_rules_for_overtime() -> None:
    # By hand: nobody scores in time, so that it is level; in an overtime of one second, a sure attempt decides it for
    # whoever has the toss.
    sure = {"kind": "least chance", "at_least": 1.0, "serves": "visitors"}
    keys: dict[str, Any] = {"attempts": {"shot": {"share": 1.0, "points": 1, "chance": 0.2}}, "scorer_keeps": True}
    for says, chance in (("only", 1.0), ("also", 1.0), ("never", 0.2)):
        rules = {"sure": sure | {"overtime": says}}
        title = turns_title("1 s", tie="overtime", overtime={"length": "1 s"}, rules=rules, **keys)
        check_close(Chain(title, Match()).tie_value, chance / (chance + 0.2), abs=1e-12)
        regular = 0.5 * (0.2 if says == "only" else chance if says == "never" else 1.0)
        check_close(points_of_a(title), 0.5 * (1.0 if says == "never" else regular / 0.5), abs=1e-12)
    with pytest.raises(Disagrees):
        check_close(Chain(title, Match()).tie_value, 1.0 / 1.2, abs=1e-12)


def test_an_overtime_without_end_is_refused() -> None:
    nobody = {"shot": {"share": 1.0, "points": 1, "chance": 0.0}}
    title = turns_title("5 s", attempts=nobody, **OVERTIME)
    with pytest.raises(InputError, match="overtime would hardly ever be decided"):
        _ = Chain(title, Match()).tie_value


# -- difficulties --------------------------------------------------------------------------------------------------


def test_weights_and_shares_at_a_difficulty() -> None:
    title = turns_title(
        "2 s", attempts=TWO, period_start="alternate", scorer_keeps=True, difficulties={"hard": 0.0, "easy": 0.0},
        rules={"lift": {"kind": "least chance", "at_least": 1.0, "weight_at": {"hard": 0.0}}},
        mixes={"near": {"shares": {"near": 1.0}, "difficulties": ["easy"]}},
    )  # fmt: skip
    # By hand: sure attempts of 1.25 points on average; plain ones as above; sure near ones.
    for difficulty, points in ((None, 2.5), ("hard", 0.4 + 0.35 * 0.4), ("easy", 2.0)):
        check_close(points_of_a(title.at(difficulty)), points, abs=1e-12)
    with pytest.raises(Disagrees):
        check_close(points_of_a(title.at("hard")), 2.5, abs=1e-12)


def test_a_title_that_is_the_same_at_each_difficulty_is_itself() -> None:
    title = turns_title("2 s", difficulties={"hard": 0.3}, rules=pull("2 pp"))
    assert title.at("hard") is title


# -- at random -----------------------------------------------------------------------------------------------------

LATE = {
    "last": {"kind": "closing chance", "last": "8 s", "when": "behind", "points": 1, "at_least": "80 %"},
    "extra": {"kind": "least chance", "at_least": "85 %", "serves": "visitors", "overtime": "only"},
    "spent": {"kind": "slope", "per_point": "-2 pp", "overtime": "never"},
}
CASES = {
    "mixes": Case(turns_title, by_turns(mixes=MIXES), {"mixes": {}}),
    "mixes in open play": Case(
        open_title, in_the_open(mixes={"late": {"shares": {"far": 1.0}, "left": "40 s"}}), {"mixes": {}}
    ),
    "limit, lost": Case(
        turns_title, by_turns(pull("1 pp"), attack_limit="4 s", mean_attack="4 s", period_start="carry on"),
        {"at_limit": "attempt"},
    ),
    "limit, attempt": Case(
        turns_title, by_turns(attack_limit="3 s", mean_attack="5 s", at_limit="attempt", scorer_keeps=True),
        {"attack_limit": "5 s"},
    ),
    "limit, to points": Case(
        points_title,
        {"points": 6, "play": "turns", "attempts": TWO, "attack_limit": "3 s", "mean_attack": "4 s",
         "mixes": {"end": {"shares": {"near": 1.0}, "points_left": 2}}},
        {"mixes": {}},
    ),
    "limit, next score": Case(
        turns_title, by_turns(attack_limit="4 s", mean_attack="25 s", tie="next score", length="12 s"),
        {"tie": "draw"}, {"gap": 0.6},
    ),
    "overtime": Case(
        turns_title, by_turns(LATE, mean_attack="12 s", tie="overtime", overtime={"length": "15 s"}),
        {"rules": {name: rule for name, rule in LATE.items() if name != "extra"}},
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES.values(), ids=CASES.keys())
def test_played_out_at_random(case: Case) -> None:
    check_case(case, 12_000)
