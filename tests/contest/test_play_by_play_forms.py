"""The exact contest against contests played out at random: memory, points, races, levels of skill, and any mixture.

The controls play a title that is wrong in the one thing a case is about and must not agree.
"""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings

from tests.checking import Disagrees
from venue.contest.match import Match
from venue.scenario.title import Title

from .agreement import Case, by_turns, check_agreement, check_case, disagreements, in_the_open
from .building import MIXED, MIXED_OPEN, Rules, open_title, points_title, pull, race_title, turns_title
from .drawing import every_form, few, gaps
from .sampler import play_by_play

CONTESTS = 12_000


def boost(**keys: Any) -> Rules:
    return {"boost": {"kind": "run boost", "after": 2, "gain": "14 pp"} | keys}


def dry(**keys: Any) -> Rules:
    return {"dry": {"kind": "drought", "after": 2, "at_least": "80 %"} | keys}


def least(**keys: Any) -> Rules:
    return {"least": {"kind": "least chance", "at_least": "65 %", "behind_from": 3} | keys}


LONG_RUNS: Rules = {"long": {"kind": "run boost", "after": 3, "gain": "30 pp", "serves": "computer"}}
EVERYWHERE = {"kind": "least chance", "at_least": "65 %"}
MEMORY = boost(serves="visitors", scalable=False) | dry(attempts=["far"]) | least(periods=[2, 3]) | pull("2 pp", cap=5)
SOFT = {"strength": 0.6}

REMEMBERING = {
    "turns, run boost": Case(turns_title, by_turns(boost()), {"rules": boost(after=3)}),
    "turns, run boost over breaks": Case(
        turns_title,
        by_turns(LONG_RUNS, length="10 s", periods=9, period_start="carry on", scorer_keeps=True),
        {"period_start": "toss"},
    ),
    "turns, drought": Case(turns_title, by_turns(dry()), {"rules": dry(after=3)}),
    "turns, drought for one side": Case(
        turns_title, by_turns(dry(serves="visitors", after=1)), {"rules": dry(serves="computer", after=1)}
    ),
    "turns, two droughts": Case(
        turns_title,
        by_turns({"dry": {"kind": "drought", "after": 1, "at_least": "55 %"}, "parched": dry()["dry"]}),
        {"rules": dry()},
    ),
    "turns, least chance": Case(turns_title, by_turns(least()), {"rules": least(behind_from=5)}),
    "turns, all memory": Case(
        turns_title, by_turns(MEMORY, tie="next score"), {}, SOFT, {"strength": 1.0}
    ),
    "open, run boost": Case(open_title, in_the_open(boost()), {"rules": boost(gain="8 pp")}),
    "open, run boost for one side": Case(
        open_title,
        in_the_open(boost(serves="computer"), scores_again=0.4, tie="next score"),
        {"scores_again": 0.6},
    ),
    "open, least chance": Case(open_title, in_the_open(least()), {"rules": least(behind_from=1)}),
    "open, would lead": Case(
        open_title,
        in_the_open({"late": {"kind": "closing chance", "last": "15 s", "when": "would lead", "at_least": "85 %"}}),
        {"rules": {}},
        {"gap": 0.4},
    ),
    "open, lifts that meet": Case(
        open_title,
        in_the_open({"both": EVERYWHERE, "one": EVERYWHERE | {"serves": "visitors", "at_least": "55 %"}}),
        {"rules": {"both": EVERYWHERE}},
        {"gap": -0.5},
    ),
}  # fmt: skip


SMALL = {"near": {"share": 0.7, "points": 1, "chance": "50 %"}, "far": {"share": 0.3, "points": 2, "chance": "35 %"}}
SMALL_OPEN = {"near": {"share": 0.7, "points": 1}, "far": {"share": 0.3, "points": 2}}


def to_points(rules: Rules | None = None, **keys: Any) -> dict[str, Any]:
    plain = {"points": 11, "mean_attack": "2 s", "minimum_chance": 0.05, "maximum_chance": 0.9, "attempts": SMALL_OPEN}
    return plain | {"rules": rules or {}} | keys


def turns_to_points(rules: Rules | None = None, **keys: Any) -> dict[str, Any]:
    return to_points(rules, play="turns", attempts=SMALL, turnover=0.1) | keys


END = {
    "end": {"kind": "closing chance", "last_points": 4, "when": "behind", "points": 2, "at_least": "75 %"},
    "late": {
        "kind": "clocked slope",
        "steps": [{"points_left": 7, "per_point": "1 pp"}, {"points_left": 4, "per_point": "5 pp"}],
    },
}

POINTS = {
    "open": Case(points_title, to_points(), {"points": 12}),
    "open, two ahead": Case(points_title, to_points(win_by=2), {"win_by": 1}),
    "open, five ahead": Case(points_title, to_points(win_by=5, scores_again=0.4), {"win_by": 4}),
    "open, in periods": Case(
        points_title, to_points(pull("6 pp", periods=[2]), periods=3), {"rules": pull("6 pp", periods=[3])}
    ),
    "open, towards the end": Case(points_title, to_points(END, win_by=2), {"rules": {}}),
    "open, run boost": Case(points_title, to_points(boost()), {"rules": {}}),
    "turns": Case(points_title, turns_to_points(), {"turnover": 0.4, "scorer_keeps": True}),
    "turns, two ahead": Case(points_title, turns_to_points(win_by=2, scorer_keeps=True), {"win_by": 1}),
    "turns, in periods": Case(
        points_title,
        turns_to_points(pull("3 pp"), periods=3, period_start="alternate", win_by=2, scorer_keeps=True),
        {"period_start": "toss", "periods": 2},
    ),
    "turns, towards the end": Case(points_title, turns_to_points(END), {"rules": END | {"end": END["late"]}}),
    "turns, all memory": Case(
        points_title, turns_to_points(MEMORY, periods=3, win_by=2), {}, SOFT, {"strength": 1.0}
    ),
    "turns, steals": Case(
        points_title,
        turns_to_points({"steals": {"kind": "turnover", "shift": [[-6, "-8 pp"], [8, "30 pp"]]}}),
        {"rules": {}},
    ),
}  # fmt: skip


def racing(rules: Rules | None = None, **keys: Any) -> dict[str, Any]:
    return {"seconds": 60, "pace": 5.0, "wander": 0.8, "pace_per_skill": 0.1} | {"rules": rules or {}} | keys


LATE_RUN = {"late": {"kind": "clocked slope", "steps": [{"left": "25 s", "per_point": "2 %"}], "cap": 6}}
CURVE = {"curve": {"kind": "table", "shift": [[-5, "-4 %"], [0, 0.0], [8, "9 %"]], "serves": "visitors"}}

RACES = {
    "plain": Case(race_title, racing(), {"wander": 0.9}),
    "much luck": Case(race_title, racing(wander=2.2, periods=3), {"wander": 2.0}),
    "slope": Case(race_title, racing(pull("1 %")), {"rules": pull("0.5 %")}),
    "slope for one side": Case(race_title, racing(pull("1 %", serves="computer")), {"rules": pull("1 %")}),
    "table": Case(race_title, racing(CURVE), {"rules": {}}),
    "clocked slope": Case(race_title, racing(LATE_RUN, periods=2), {"rules": pull("2 %", cap=6)}),
    "everything": Case(
        race_title,
        racing(pull("1 %", behind_from=2, periods=[2]) | CURVE | LATE_RUN, periods=2),
        {},
        SOFT,
        {"strength": 1.0},
    ),
}

LEVELS = {
    "level_table": [[0, -1.5], [4, 0.0], [10, 1.0]],
    "visitor_levels": {"close range": 6, "long range": 2, "defence": 3},
    "computer_levels": {"close range": 3, "long range": 9, "defence": 5, "blocking": 7},
}


def by_category(attempts: dict[str, Any], **far: str) -> dict[str, Any]:
    return {"near": attempts["near"] | {"skill": "close range"}, "far": attempts["far"] | {"skill": "long range"} | far}


def skilled(**keys: Any) -> dict[str, Any]:
    return LEVELS | {"attempts": by_category(MIXED, against="blocking"), "defence": "defence"} | keys


def skilled_open(**keys: Any) -> dict[str, Any]:
    return LEVELS | {"attempts": by_category(MIXED_OPEN)} | keys


SKILLS = {
    "turns": Case(turns_title, by_turns() | skilled(), {"defence": "blocking"}),
    "turns, attempt kinds guarded apart": Case(
        turns_title, by_turns(MEMORY) | skilled(), {"attempts": by_category(MIXED)}
    ),
    "turns, against a visitor": Case(
        turns_title, by_turns() | skilled(), {}, {"side_b": "visitor"}, {"side_b": "computer"}
    ),
    "open": Case(open_title, in_the_open() | skilled_open(), {"attempts": MIXED_OPEN}),
    "to points": Case(
        points_title, turns_to_points(win_by=2) | skilled(), {"level_table": [[0, -0.5], [4, 0.0], [10, 1.0]]}
    ),
    "race": Case(
        race_title,
        racing(skill="close range", pace_per_skill=0.02) | {"levels": LEVELS},
        {"skill": "long range"},
    ),
}

ALL = {
    f"{group}: {name}": case
    for group, cases in {"memory": REMEMBERING, "points": POINTS, "race": RACES, "skills": SKILLS}.items()
    for name, case in cases.items()
}


@pytest.mark.parametrize("name", ALL)
def test_exact_contest_agrees_with_contests_played_out(name: str) -> None:
    check_case(ALL[name], CONTESTS)


def check_mixture(title: Title, gap: float, strength: float = 0.8, others: int = 200_000) -> None:
    """An exact contest agrees with 8,000 played out, or else with many others.

    Hundreds of mixtures make thousands of comparisons, and among a few rare events the sample's own standard error is
    too small: now and then one is more than 4 of them off by chance alone. A fault is there in fresh contests too.
    """
    sampled = Match(0.8, gap)
    if disagreements(title, Match(strength, gap), play_by_play(title, sampled, 8_000, seed=7)):
        check_agreement(title, Match(strength, gap), play_by_play(title, sampled, others, seed=8))


@settings(few, max_examples=40)
@given(every_form, gaps)
def test_any_mixture_agrees_with_contests_played_out(title: Title, gap: float) -> None:
    check_mixture(title, gap)


@pytest.mark.slow
@settings(few, max_examples=200)
@given(every_form, gaps)
def test_many_mixtures_agree_with_contests_played_out(title: Title, gap: float) -> None:
    check_mixture(title, gap)


def test_control_a_mixture_at_another_strength() -> None:
    title = points_title(**turns_to_points(MEMORY, periods=3))
    sample = play_by_play(title, Match(0.8, 0.2), 8_000, seed=7)
    check_agreement(title, Match(0.8, 0.2), sample)
    with pytest.raises(Disagrees):
        check_agreement(title, Match(0.2, 0.2), sample)
    check_mixture(title, 0.2)
    with pytest.raises(Disagrees):
        check_mixture(title, 0.2, strength=0.7, others=30_000)


def test_a_rare_event_missed_by_chance_is_looked_at_again() -> None:
    """Two assisted scores in 8,000 contests where nine were due: rare, but no fault, as fresh contests show."""
    title = turns_title(
        length="19 s", periods=1, mean_attack="2 s", scorer_keeps=True, close=3, period_start="carry on",
        attempts={"one": {"share": 0.6, "points": 1, "chance": 0.625},
                  "two": {"share": 0.4, "points": 2, "chance": 0.453125}},
        rules={"end": {"kind": "closing chance", "last": "3 s", "when": "would come within", "points": 0,
                       "at_least": 0.4765625, "scalable": False}},
    )  # fmt: skip
    assert disagreements(title, Match(0.8, 0.0), play_by_play(title, Match(0.8, 0.0), 8_000, seed=7))
    check_mixture(title, 0.0)
