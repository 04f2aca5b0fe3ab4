"""A title taken apart rule by rule, and the states in which it would pay to trail."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from venue.contest.ablation import take_apart
from venue.contest.chain import Chain
from venue.contest.incentives import Trailing, where_trailing_pays
from venue.contest.match import Match
from venue.contest.results import Headline, MatchUps, headline_of, unaided_edge
from venue.scenario.title import Title

from .building import MIXED, turns_title

PAIR = MatchUps(0.3, 0.0, "computer")
RULES: dict[str, dict[str, Any]] = {
    "pull": {"kind": "slope", "per_point": "2 pp", "cap": 8, "switch": "help"},
    "end": {"kind": "closing chance", "last": "10 s", "when": "would tie", "at_least": 0.7, "switch": "help"},
    "wall": {"kind": "turnover", "shift": [[0, 0.0], [5, -0.1]], "serves": "computer"},
}


def title_with(*names: str) -> Title:
    """A title with some of the rules."""
    return turns_title(
        "60 s", mean_attack="4 s", attempts=MIXED, turnover=0.15, rules={name: RULES[name] for name in names}
    )


def edge() -> float:
    return unaided_edge(title_with(*RULES), PAIR)


def alone(*names: str) -> Headline:
    """The headline of a title that has only these rules."""
    return headline_of(title_with(*names), PAIR, 1.0, edge())


def test_a_rule_left_out_is_a_title_without_it() -> None:
    apart = take_apart(title_with(*RULES), PAIR, alone(*RULES), edge())
    for name in RULES:
        others = [other for other in RULES if other != name]
        assert apart.without[name] == alone(*others)
        assert apart.alone[name] == alone(name)
        assert apart.without[name] != apart.whole
    assert apart.bare == alone()


def test_with_every_switch_off_the_rules_without_one_stay() -> None:
    apart = take_apart(title_with(*RULES), PAIR, alone(*RULES), edge())
    assert apart.stays_on == ("wall",)
    assert apart.switched_off == alone("wall")
    assert apart.switched_off != apart.bare
    off = take_apart(title_with(*RULES), PAIR, alone("wall"), edge(), frozenset({"help"}))
    assert set(off.without) == {"wall"}
    assert off.whole == apart.switched_off


# -- trailing pays --------------------------------------------------------------------------------------------------


def last_shots(rules: dict[str, Any], seconds: int = 1) -> Title:
    """Two-point shots that go in 3 times in 10, one each second, by turns from a toss."""
    return turns_title(
        f"{seconds} s",
        mean_attack="1 s",
        attempts={"shot": {"share": 1.0, "points": 2, "chance": 0.3}},
        tie="draw",
        rules=rules,
    )


GIFT = {"gift": {"kind": "closing chance", "last": "1 s", "when": "behind", "points": 2, "at_least": 1.0}}


def test_a_gift_for_two_behind_worked_by_hand() -> None:
    # Second of two: at two behind a shot always goes in and levels, worth 1/2. At the first second, level and on the
    # attack: a success (0.3) leads by two, and the other side is given its way back: 1/2. A miss (0.7): level, the
    # other side's shot goes in 0.3 of the time and wins: 0.7 of the rest is level, worth 1/2, so 0.35.
    chain = Chain(last_shots(GIFT, 2), Match())
    first = chain.by_second(chain.end_values())[2]
    attack = next(place for place, mode in enumerate(chain.automaton.modes) if mode.holder == 0)
    assert first[attack, chain.zero] == pytest.approx(0.3 * 0.5 + 0.7 * 0.35, abs=1e-12)


def three_point_title(behind: int) -> Title:
    """Three-point shots, and a certain success in the last second for whoever is so far behind."""
    return turns_title(
        "2 s",
        mean_attack="1 s",
        periods=1,
        attempts={
            "one": {"share": 0.5, "points": 1, "chance": 0.3},
            "three": {"share": 0.5, "points": 3, "chance": 0.3},
        },
        rules={"gift": {"kind": "least chance", "at_least": 1.0, "behind_from": behind}},
    )


def check_trailing(found: Trailing, margin: int, blame: tuple[str, ...]) -> None:
    assert [fault for fault in found.faults if fault.margin == margin and fault.blame == blame]
    assert found.faults[0].gain > 0.1


def test_it_pays_to_be_two_behind_rather_than_one() -> None:
    # Two behind and on the attack with a second left: half of the shots are threes, all go in, so the chance to win is
    # 1/2. One behind: a one (0.15) draws, a three (0.15) wins: 0.225.
    chain = Chain(three_point_title(2), Match())
    last = chain.by_second(chain.end_values())[1]
    attack = next(place for place, mode in enumerate(chain.automaton.modes) if mode.holder == 0)
    assert last[attack, chain.zero - 2] == pytest.approx(0.5, abs=1e-12)
    assert last[attack, chain.zero - 1] == pytest.approx(0.225, abs=1e-12)
    found = where_trailing_pays(three_point_title(2), Match())
    check_trailing(found, -1, ("gift",))


def test_control_no_gift_no_fault() -> None:
    plain = three_point_title(2).model_copy(update={"rules": {}})
    found = where_trailing_pays(plain, Match())
    assert found == Trailing(())
    with pytest.raises((AssertionError, IndexError)):
        check_trailing(found, -1, ("gift",))


def test_a_slope_alone_makes_no_fault() -> None:
    assert where_trailing_pays(title_with("pull"), Match()) == Trailing(())


def test_chance_by_the_second_meets_the_chance_at_breaks() -> None:
    title = title_with(*RULES).model_copy(update={"periods": 3, "period_length": 20.0})
    chain = Chain(title, Match(gap=0.1))
    seconds = chain.by_second(chain.end_values())
    assert len(seconds) == 60
    for period in range(3):
        left = (3 - period) * 20
        start = np.mean(seconds[left], axis=0)  # a toss for the attack
        assert start == pytest.approx(chain.win[period], abs=1e-12)
