"""One situation looked at closely: chances worked by hand, every reason, and parts that add up to the change."""

from __future__ import annotations

from dataclasses import replace
from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.checking import Disagrees, check_close
from venue.contest.match import Match
from venue.contest.situation import ChanceThere, Reason, Situation, chances_at
from venue.scenario.title import Title

from .building import open_title, points_title, race_title, turns_title

RULES = {
    "pull": {"kind": "slope", "per_point": "2 pp", "cap": 5},
    "late": {"kind": "clocked slope", "steps": [{"left": "30 s", "per_point": "1 pp"}], "periods": [2]},
    "tie": {"kind": "closing chance", "last": "10 s", "when": "would tie", "at_least": "70 %"},
    "within": {"kind": "closing chance", "last": "10 s", "when": "would come within", "points": 1, "at_least": "65 %"},
    "hot": {"kind": "run boost", "after": 2, "gain": "5 pp"},
    "dry": {"kind": "drought", "after": 3, "at_least": "60 %"},
    "low": {"kind": "least chance", "at_least": "40 %", "behind_from": 4},
    "steal": {"kind": "turnover", "shift": [[0, 0.0], [5, -0.05]]},
    "house": {"kind": "slope", "per_point": "1 pp", "serves": "computer"},
    "far-only": {"kind": "slope", "per_point": "1 pp", "attempts": ["far"]},
    "off": {"kind": "slope", "per_point": "1 pp", "switch": "help"},
}
KINDS = {"near": {"share": 0.7, "points": 2, "chance": "50 %"}, "far": {"share": 0.3, "points": 3, "chance": "35 %"}}
TITLE = turns_title("60 s", periods=2, mean_attack="5 s", attempts=KINDS, turnover=0.1, rules=RULES)
MATCH = Match(1.0, 0.0, switches_off=frozenset({"help"}))
LATE = Situation(side=0, period=2, left=5, margin=-2)


def there(title: Title, match: Match, at: Situation, attempt: str) -> ChanceThere:
    return next(item for item in chances_at(title, match, at) if item.attempt == attempt)


def reasons(at: Situation, attempt: str, match: Match = MATCH, title: Title = TITLE) -> dict[str, Reason]:
    return {part.rule: part.reason for part in there(title, match, at, attempt).parts}


def test_a_closing_attempt_by_hand() -> None:
    # Two behind with 5 s left: the slope gives 2 x 2 pp, the late one 2 x 1 pp; what ties goes in 70 % of the time.
    near = there(TITLE, MATCH, LATE, "near")
    parts = {part.rule: part.part for part in near.parts}
    assert (near.written, near.unaided, near.chance) == pytest.approx((0.5, 0.5, 0.7))
    assert parts["pull"] == pytest.approx(0.04) and parts["late"] == pytest.approx(0.02)
    assert parts["tie"] == pytest.approx(0.7 - 0.56) and parts["within"] == 0.0
    # Three points would lead: no rule but the slopes and what comes within 1.
    far = there(TITLE, MATCH, LATE, "far")
    assert far.chance == pytest.approx(0.65)
    assert {part.rule: part.part for part in far.parts}["far-only"] == pytest.approx(0.02)
    # The attack is lost less often to a defence that leads: 2 / 5 of 5 pp.
    assert there(TITLE, MATCH, LATE, "turnover").chance == pytest.approx(0.08)
    # The control: a second before the closing chance begins.
    with pytest.raises(Disagrees):
        check_close(there(TITLE, MATCH, replace(LATE, left=11), "near").chance, 0.7)


def test_every_reason_is_given_where_it_holds() -> None:
    near = reasons(LATE, "near")
    assert near == {
        "pull": "behind", "late": "behind", "tie": "would tie", "within": "another lifts more", "hot": "run too short",
        "dry": "too few misses", "low": "outside its band", "house": "serves the other side",
        "far-only": "other attempts", "off": "switched off",
    }  # fmt: skip
    assert reasons(LATE, "turnover") == {"steal": "ahead"}
    assert (reasons(LATE, "far")["tie"], reasons(LATE, "far")["within"]) == ("does not matter", "would come within")
    early = reasons(replace(LATE, period=1, left=60, margin=5, run=2), "near")
    assert (early["tie"], early["late"], early["hot"], early["pull"]) == ("not yet", "other periods", "run", "ahead")
    assert reasons(replace(LATE, margin=0), "near")["pull"] == "nothing here"
    dry = reasons(replace(LATE, period=1, left=60, margin=-4, missed=3), "near")
    assert (dry["dry"], dry["low"]) == ("missed", "chance already above")
    assert reasons(replace(LATE, margin=-5), "far", replace(MATCH, gap=-2.0))["low"] == "holds"
    assert reasons(LATE, "near", replace(MATCH, strength=0.0))["pull"] == "strength 0"
    assert reasons(replace(LATE, side=1), "near")["house"] == "behind"
    lead = {"lead": {"kind": "closing chance", "last": "9 s", "when": "would lead", "at_least": "80 %"}}
    assert reasons(replace(LATE, margin=0), "tap", title=turns_title(rules=lead, periods=2))["lead"] == "would lead"
    rows = {"some": {"kind": "table", "shift": [[0, 0.1], [3, 0.2]]}}
    assert reasons(replace(LATE, margin=0), "tap", title=turns_title(rules=rows, periods=2))["some"] == "level"
    least = open_title(rules={"some": {"kind": "least chance", "at_least": 0.9}})
    assert reasons(Situation(0, 1, 50, 0), "tap", title=least)["some"] == "trailing side only"


def test_one_chance_serves_both_sides_in_open_play() -> None:
    title = open_title(rules={"pull": {"kind": "slope", "per_point": "2 pp"}}, periods=2)
    behind = there(title, Match(), Situation(0, 1, 50, -3), "tap")
    ahead = there(title, Match(), Situation(1, 1, 50, 3), "tap")
    assert behind.chance == pytest.approx(0.56) and ahead.chance == pytest.approx(0.44)
    assert [part.reason for part in (*behind.parts, *ahead.parts)] == ["behind", "ahead"]


def test_to_points_and_in_a_race() -> None:
    rules = {"last": {"kind": "closing chance", "last_points": 2, "when": "behind", "points": 1, "at_least": "90 %"}}
    title = points_title(7, play="turns", attempts={"tap": {"share": 1.0, "points": 1, "chance": 0.5}}, rules=rules)
    assert there(title, Match(), Situation(0, 1, None, -1, (4, 5)), "tap").chance == pytest.approx(0.9)
    early = there(title, Match(), Situation(0, 1, None, -1, (3, 4)), "tap")
    assert early.chance == pytest.approx(0.5) and early.parts[0].reason == "not yet"
    race = race_title(60, rules={"tow": {"kind": "slope", "per_point": "1 pp"}})
    assert there(race, Match(), Situation(0, 1, 30, -4), "pace").chance == pytest.approx(1.04)


@given(
    st.integers(0, 1), st.integers(1, 2), st.integers(1, 60), st.integers(-12, 12), st.integers(0, 3),
    st.integers(0, 4), st.floats(-2, 2), st.floats(0, 2),
)  # fmt: skip
def test_parts_add_up_to_the_change(
    side: int, period: int, left: int, margin: int, run: int, missed: int, gap: float, strength: float
) -> None:
    at = Situation(side, period, left, margin, None, run, missed)
    for item in chances_at(TITLE, Match(strength, gap), at):
        assert item.unaided + sum(part.part for part in item.parts) == pytest.approx(item.chance, abs=1e-12)
        acting = get_args(Reason)[:9]
        assert all((part.reason in acting) == (abs(part.part) > 1e-12) for part in item.parts)
