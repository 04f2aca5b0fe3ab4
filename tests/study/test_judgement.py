"""What is said of a sweep, by hand: five replications, so that t is 2.776 for one difference and 3.495 for two.

Table of Student's t, four degrees of freedom, 97.5 % and 98.75 % (from memory; checked against scipy).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import pytest
from scipy import stats

import venue
from venue.errors import InputError
from venue.study.findings import SweepFindings
from venue.study.judgement import Weeks, changed, sensitivity_findings, sweep_findings
from venue.study.point import Point
from venue.study.recommendation import Best

from ..floor.demos import FOLDER
from .test_recommendation import point

TAKE = "credits_per_hour"
BASE = [100.0, 101.0, 99.0, 102.0, 98.0]
# Mean 1 and standard deviation 0.7071: half an interval is 0.878 for one difference, 1.105 for each of two.
ONE = [0.0, 1.0, 2.0, 1.0, 1.0]
# Mean 2, as far spread.
TWO = [1.0, 2.0, 3.0, 2.0, 2.0]
NONE = [0.0] * 5


def moved(*differences: Sequence[float], strengths: Sequence[float] = (0.0, 1.0, 2.0)) -> list[Point]:
    return [
        point(strength, [base + more for base, more in zip(BASE, change, strict=True)])
        for strength, change in zip(strengths, differences, strict=True)
    ]


def less(change: Sequence[float]) -> list[float]:
    return [-value for value in change]


def said(points: Sequence[Point], place: int | None = 1, today: int | None = None, **best: Any) -> SweepFindings:
    strength = None if place is None else points[place].strength
    chosen = Best(place, strength, "nothing to judge by" if place is None else "most take", **best)
    return sweep_findings(points, chosen, today=today, days=42, front=(), surely=0.9)


def test_the_hand_worked_half_widths_are_so() -> None:
    assert stats.t.ppf([0.975, 0.9875], 4) == pytest.approx([2.776, 3.495], abs=5e-4)
    assert 2.776 * math.sqrt(0.5 / 5) == pytest.approx(0.878, abs=5e-4)
    assert 3.495 * math.sqrt(0.5 / 5) == pytest.approx(1.105, abs=5e-4)


@pytest.mark.parametrize(
    ("lower", "upper", "direction", "more", "less_"),
    [
        (less(TWO), TWO, "rises", (2,), (0,)),
        (TWO, less(TWO), "falls", (0,), (2,)),
        (less(TWO), less(TWO), "both", (), (0, 2)),
        (TWO, TWO, "both", (0, 2), ()),
        (less(ONE), TWO, "rises", (2,), ()),  # one of the two is sure
        (less(ONE), ONE, "flat", (), ()),  # 1 less 1.105 is below zero
        (NONE, TWO, "rises", (2,), ()),
        (NONE, NONE, "same", (), ()),
        (NONE, ONE, "flat", (), ()),
    ],
)
def test_where_a_measure_goes(
    lower: list[float], upper: list[float], direction: str, more: tuple[int, ...], less_: tuple[int, ...]
) -> None:
    found = said(moved(lower, NONE, upper)).measures[TAKE]
    assert (found.direction, found.more, found.less) == (direction, more, less_)


def test_one_difference_needs_no_correction_for_many() -> None:
    found = said(moved(NONE, ONE, strengths=(0.0, 1.0)), 0).measures[TAKE]
    assert (found.direction, found.more) == ("rises", (1,))


def test_settings_along_two_keys_differ_and_have_no_direction() -> None:
    points = [Point(item.strength, item.replications, at=(("a", row), ("b", 2 * row)))
              for row, item in enumerate(moved(less(TWO), NONE, TWO))]  # fmt: skip
    assert said(points).measures[TAKE].direction == "differs"


def test_one_setting_or_one_replication_has_no_direction() -> None:
    assert said(moved(NONE, strengths=(1.0,)), 0).measures[TAKE].direction == "unknown"
    short = [Point(item.strength, item.replications[:1]) for item in moved(less(TWO), NONE, TWO)]
    assert said(short).measures[TAKE].direction == "unknown"


@pytest.mark.parametrize(
    ("strengths", "rivals", "places", "ends"),
    [
        ((0.0, 1.0, 2.0), (0,), (0, 1), (0, 1)),
        ((0.0, 1.0, 2.0), (0, 2), (0, 1, 2), (0, 2)),
        ((2.0, 0.0, 1.0), (2,), (1, 2), (1, 2)),  # 0 and 1 are neighbours, whatever the order of the settings
        ((2.0, 0.0, 1.0), (0,), (0, 1), (None, None)),  # 2 and 0 are not
        ((0.0, 1.0, 2.0), (), (1,), (None, None)),
    ],
)
def test_a_tie_and_its_ends(
    strengths: tuple[float, ...], rivals: tuple[int, ...], places: tuple[int, ...], ends: tuple[int | None, ...]
) -> None:
    tie = said(moved(ONE, NONE, less(ONE), strengths=strengths), rivals=rivals).tie
    assert tie is not None and (tie.places, (tie.lowest, tie.highest)) == (places, ends)
    # At 0 the best would lose 1 at most by its mean, 0.105 more than nothing by the upper end; at 2 it gains 1.
    most = {0: -1.0 + 1.105, 2: 1.0 + 1.105}
    lost = max((most[place] for place in rivals), default=math.nan)
    assert tie.most_lost == pytest.approx(lost, abs=1e-3, nan_ok=True)


@pytest.mark.parametrize(
    ("place", "today", "best", "standing"),
    [
        (1, 1, {}, "recommended"),
        (1, 0, {"rivals": (0,)}, "tied"),
        (1, 0, {"refused": (0,)}, "refused"),
        (1, 0, {"rivals": (2,)}, "behind"),
        (None, 0, {}, "alone"),
    ],
)
def test_how_todays_setting_stands(place: int | None, today: int, best: dict[str, Any], standing: str) -> None:
    found = said(moved(less(TWO), NONE, less(TWO)), place, today, **best).today
    assert found is not None and (found.place, found.standing) == (today, standing)
    if standing in ("recommended", "alone"):
        assert found.gain is None
    else:  # moving brings 2, and that may be off by 1.105
        assert found.gain is not None and found.gain.mean == pytest.approx(2.0)
        assert (found.gain.low, found.gain.high) == pytest.approx((2 - 1.105, 2 + 1.105), abs=1e-3)


def test_what_is_at_stake() -> None:
    points = moved(less(TWO), NONE, less(ONE))
    move = said(points, 1, 0).stake
    assert move is not None and (move.kind, move.place, move.measure) == ("move", 0, TAKE)
    assert move.difference.mean == pytest.approx(2.0)
    worst = said(points, 1, 1).stake
    assert worst is not None and (worst.kind, worst.place) == ("worst", 0)
    assert worst.difference.mean == pytest.approx(2.0)  # what it would lose
    tied = said(points, 1, 1, rivals=(0, 2)).stake
    assert tied is not None and (tied.kind, tied.place) == ("worst tie", 0)
    assert said(points, None, 0).stake is None and said(points[:1], 0, 0).stake is None


def test_catch_up_off_is_what_a_recommendation_is_held_against() -> None:
    assert said(moved(NONE, TWO, NONE, strengths=(2.0, 1.0, 0.0)), 1).unaided == 2
    assert said(moved(NONE, TWO, NONE, strengths=(2.0, 1.0, 0.5)), 1).unaided == 0
    assert said(moved(TWO, NONE, NONE, strengths=(0.0, 1.0, 2.0)), 0).unaided is None
    assert said(moved(TWO, NONE, NONE), None).unaided is None


def test_the_best_at_an_end_of_what_was_tried() -> None:
    points = moved(NONE, ONE, TWO)
    assert said(points, 2).at_end and not said(points, 1).at_end
    assert not said(points, 0).at_end  # nothing lies below strength 0
    assert said(moved(NONE, ONE, TWO, strengths=(0.5, 1.0, 2.0)), 0).at_end
    assert not said(points[:1], 0).at_end


def week(number: int, mean: float, half: float = 3.0, warm_up: bool = False) -> dict[str, Any]:
    return {"week": number, "warm_up": warm_up, TAKE: {"mean": mean, "low": mean - half, "high": mean + half}}


@pytest.mark.parametrize(
    ("first", "last", "state"),
    [
        (100.0, 106.1, "moving"),  # 103 is below 103.1
        (106.1, 100.0, "moving"),
        (100.0, 105.9, "unclear"),  # they meet, and differ by more than 5 %
        (100.0, 105.0, "settled"),
        (100.0, 95.0, "settled"),
        (100.0, 94.9, "unclear"),
    ],
)
def test_whether_the_take_has_settled(first: float, last: float, state: str) -> None:
    rows = [week(1, 50.0, warm_up=True), week(2, first), week(3, 500.0), week(4, last), week(5, 900.0)]
    found = Weeks(rows, 28 + 6).settling  # the fifth week is not whole
    assert found.state == state and found.first is not None and found.last is not None
    assert (found.first.mean, found.last.mean) == (first, last)


def test_one_week_or_one_replication_is_too_short() -> None:
    assert Weeks([week(1, 50.0)], 7).settling.state == "too short"
    assert Weeks([week(1, 50.0), week(2, 50.0, math.nan)], 14).settling.state == "too short"
    assert Weeks([week(1, 50.0), week(2, 50.0)], 14).settling.state == "settled"
    # All of it warm-up: what there is counts.
    assert Weeks([week(1, 50.0, warm_up=True), week(2, 80.0, warm_up=True)], 14).settling.state == "moving"


def row(measure: str, difference: float, half: float) -> dict[str, Any]:
    low, high = difference - half, difference + half
    return {"measure": measure, "difference": difference, "low": low, "high": high, "told_apart": low > 0 or high < 0}


@pytest.mark.parametrize(
    ("difference", "half", "way"),
    [(2.0, 1.0, "more"), (-2.0, 1.0, "less"), (1.0, 2.0, "not told apart"), (0.0, 0.0, "same"),
     (1.0, math.nan, "unknown")],
)  # fmt: skip
def test_what_a_change_does_to_the_take(difference: float, half: float, way: str) -> None:
    assert changed("a", [row(TAKE, difference, half)], Weeks([], 7).settling).take == way


def test_what_changes_surely_stands_by_importance() -> None:
    rows = [row("suspicion", 9.0, 1.0), row("spend_p95", 8.0, 1.0), row("close_finishes", 5.0, 1.0),
            row("return_28d", 4.0, 5.0), row("better_side_wins", 3.0, 1.0), row(TAKE, -2.0, 1.0)]  # fmt: skip
    found = changed("a", rows, Weeks([], 7).settling)
    assert found.by_importance == (TAKE, "better_side_wins", "close_finishes", "suspicion", "spend_p95")
    assert changed("a", [], Weeks([], 7).settling).take == "unknown"


def test_what_an_answer_depends_on() -> None:
    numbers = [{"number": "a", "from": "fitted", "effect": 3.0}, {"number": "b", "from": "assumed", "effect": 2.0},
               {"number": "c", "from": "not stated", "effect": None}]  # fmt: skip
    found = sensitivity_findings(numbers)
    assert (found.foremost, found.known, found.next_to_measure) == ("a", True, "b")
    found = sensitivity_findings(numbers[1:])
    assert (found.foremost, found.known, found.next_to_measure) == ("b", False, "b")
    found = sensitivity_findings([numbers[0], {"number": "d", "from": "measured", "effect": math.nan}])
    assert (found.foremost, found.known, found.next_to_measure) == ("a", True, None)
    assert sensitivity_findings([]).foremost is None


def test_exact_results_are_asked_for_each_strength_once() -> None:
    with pytest.raises(InputError, match="names one twice"):
        venue.solve(venue.load(FOLDER / "pier.toml"), title="tug", strengths=(1.0, 1.0))
