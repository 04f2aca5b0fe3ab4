"""The exact contest against contests played out at random: rules without memory, both kinds of play, by the clock.

The controls play a title that is wrong in the one thing a case is about and must not agree.
"""

from __future__ import annotations

from typing import Any

import pytest

from .agreement import Case, by_turns, check_case, in_the_open
from .building import Rules, open_title, pull, turns_title

CONTESTS = 40_000

CURVE = {"curve": {"kind": "table", "shift": [[-6, "-9 pp"], [-1, 0.0], [2, "1 pp"], [9, "25 pp"]]}}
LATE = {
    "late": {
        "kind": "clocked slope",
        "steps": [{"left": "45 s", "per_point": "2 pp"}, {"left": "12 s", "per_point": "6 pp"}],
        "cap": 6,
    }
}
STEALS = {"steals": {"kind": "turnover", "shift": [[-6, "-8 pp"], [0, 0.0], [10, "30 pp"]]}}


def closing(when: str, **keys: Any) -> Rules:
    rule = {"kind": "closing chance", "last": "8 s", "when": when, "at_least": "85 %", "points": 1}
    return {when: rule | keys}


EVERYTHING = (
    pull("1 pp", cap=8, serves="visitors", switch="help")
    | {"curve": CURVE["curve"] | {"scalable": False, "attempts": ["near"]}}
    | LATE
    | closing("would come within", serves="computer", periods=[3])
    | closing("behind", points=5, at_least="70 %", switch="closing")
    | {"gone": {"kind": "slope", "per_point": "9 pp", "switch": "off"}}
)
OFF = {"strength": 0.7, "switches_off": frozenset({"off"})}

CASES = {
    "turns": Case(turns_title, by_turns(), {"turnover": 0.2}),
    "turns, scorer keeps": Case(turns_title, by_turns(scorer_keeps=True), {"scorer_keeps": False}),
    "turns, sides begin in turn": Case(
        turns_title, by_turns(period_start="alternate", mean_attack="10 s"), {"period_start": "toss"}
    ),
    "turns, carrying on": Case(
        turns_title,
        by_turns(period_start="carry on", scorer_keeps=True, mean_attack="1 s"),
        {"period_start": "alternate"},
    ),
    "turns, next score": Case(
        turns_title, by_turns(tie="next score", mean_attack="25 s", scorer_keeps=True), {"tie": "draw"}, {"gap": 0.6}
    ),
    "turns, slope": Case(turns_title, by_turns(pull("2 pp", cap=7)), {"rules": pull("1 pp", cap=7)}),
    "turns, slope for visitors": Case(
        turns_title, by_turns(pull("2 pp", serves="visitors")), {"rules": pull("2 pp", serves="computer")}
    ),
    "turns, slope in a band": Case(
        turns_title, by_turns(pull("4 pp", behind_from=2, behind_to=8)), {"rules": pull("4 pp", behind_from=3)}
    ),
    "turns, slope for some": Case(
        turns_title,
        by_turns(pull("4 pp", attempts=["far"], periods=[2, 3])),
        {"rules": pull("4 pp", attempts=["near"], periods=[2, 3])},
    ),
    "turns, half strength": Case(turns_title, by_turns(pull("4 pp")), {}, {"strength": 0.5}, {"strength": 1.0}),
    "turns, switched off": Case(
        turns_title,
        by_turns(pull("4 pp", switch="help")),
        {},
        {"switches_off": frozenset({"help"})},
        {"switches_off": frozenset({"hinder"})},
    ),
    "turns, table": Case(turns_title, by_turns(CURVE), {"rules": {}}),
    "turns, clocked slope": Case(turns_title, by_turns(LATE), {"rules": pull("2 pp", cap=6)}),
    "turns, would tie": Case(turns_title, by_turns(closing("would tie")), {"rules": closing("would lead")}),
    "turns, would lead": Case(
        turns_title, by_turns(closing("would lead")), {"rules": closing("would lead", last="5 s")}
    ),
    "turns, would come within": Case(
        turns_title, by_turns(closing("would come within")), {"rules": closing("would tie")}
    ),
    "turns, behind": Case(turns_title, by_turns(closing("behind")), {"rules": closing("behind", points=3)}),
    "turns, turnover": Case(turns_title, by_turns(STEALS), {"rules": {}}),
    "turns, turnover for the computer": Case(
        turns_title,
        by_turns({"steals": STEALS["steals"] | {"serves": "computer"}}),
        {"rules": {"steals": STEALS["steals"] | {"serves": "visitors"}}},
    ),
    "turns, everything": Case(
        turns_title, by_turns(EVERYTHING | STEALS, tie="next score"), {}, OFF, {"switches_off": frozenset()}
    ),
    "open": Case(open_title, in_the_open(), {}, {}, {"gap": 0.0}),
    "open, scores again": Case(open_title, in_the_open(scores_again=0.65), {"scores_again": 0.5}),
    "open, scores again, carrying on": Case(
        open_title,
        in_the_open(scores_again=0.8, period_start="carry on", mean_attack="6 s"),
        {"period_start": "toss"},
    ),
    "open, next score": Case(
        open_title, in_the_open(tie="next score", mean_attack="45 s"), {"tie": "draw"}, {"gap": 0.6}
    ),
    "open, slope": Case(open_title, in_the_open(pull("2 pp", cap=7)), {"rules": pull("1.5 pp", cap=7)}),
    "open, slope for the computer": Case(
        open_title, in_the_open(pull("2 pp", serves="computer", behind_from=1)), {"rules": pull("2 pp")}
    ),
    "open, table": Case(open_title, in_the_open(CURVE), {"rules": {}}),
    "open, clocked slope": Case(open_title, in_the_open(LATE), {"rules": pull("2 pp", cap=6)}),
    "open, would tie": Case(open_title, in_the_open(closing("would tie")), {"rules": {}}),
    "open, would come within": Case(
        open_title,
        in_the_open(closing("would come within", points=0), scores_again=0.6),
        {"rules": closing("would tie"), "scores_again": 0.6},
    ),
    "open, behind": Case(open_title, in_the_open(closing("behind")), {"rules": closing("behind", last="6 s")}),
    "open, everything": Case(
        open_title,
        in_the_open(EVERYTHING, scores_again=0.55, tie="next score"),
        {},
        OFF,
        {"switches_off": frozenset()},
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_exact_contest_agrees_with_contests_played_out(name: str) -> None:
    check_case(CASES[name], CONTESTS)
