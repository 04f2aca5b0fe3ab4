"""What must hold of every form of contest and every kind of rule: drawn small and at random by Hypothesis."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings

from tests.checking import Disagrees, check_close, check_that
from venue.contest.chain import Chain
from venue.contest.forms import solve, unaided
from venue.contest.match import Match
from venue.contest.realised_rates import bands, by_margin, rates
from venue.contest.results import Field, MatchUps, field
from venue.contest.win_probability import unfold
from venue.scenario.rules import LuckyDraw
from venue.scenario.title import Title

from .building import MIXED, MIXED_OPEN, Array, follow, open_title, points_title, pull, race_title, turns_title
from .drawing import every_form, few, gaps

GIFT = {"gift": {"kind": "run boost", "after": 1, "gain": "15 pp", "serves": "visitors"}}


@settings(few, max_examples=10)
@given(every_form, gaps)
def test_transition_rows_sum_to_one(title: Title, gap: float) -> None:
    contest = solve(title, Match(0.8, gap))
    for period in range(title.periods):
        rows = contest.transition(period)
        assert rows.min() >= -1e-15
        assert np.abs(rows.sum(axis=1) - 1.0).max() < 1e-12
    assert abs(contest.final_margin.sum() - 1.0) < 1e-12
    course = follow(title, Match(0.8, gap))
    assert abs(course.courses.final.sum() - 1.0) < 1e-12


def figures(title: Title, match: Match) -> dict[str, Array]:
    """All results of a contest, a pair for side A and side B."""
    contest = solve(title, match)
    course = follow(title, match)
    found = {name: contest.expected(name) for name in ("points", "assisted", "noticeable", *title.rules)}
    found["wins"] = np.array([contest.win_chance, 1.0 - contest.win_chance])
    behind, came_back = course.comebacks
    for name, same in (("lead changes", course.lead_changes), ("behind", behind), ("comebacks", came_back)):
        found[name] = np.array([same, same])
    for margin, chance in zip(contest.margins.tolist(), contest.final_margin.tolist(), strict=True):
        pair = found.setdefault(f"by {abs(margin)}", np.zeros(2))
        pair[int(margin < 0)] = chance
        if margin == 0:
            pair[1] = chance
    return found


def check_mirror(title: Title, match: Match, mirrored: Match) -> None:
    here, there = figures(title, match), figures(title, mirrored)
    for name in here.keys() | there.keys():
        none = np.zeros(2)  # a margin that only one of the two reckons with
        check_close(there.get(name, none), here.get(name, none)[::-1], abs=1e-7)


@few
@given(every_form, gaps)
def test_sides_that_change_places_change_results(title: Title, gap: float) -> None:
    check_mirror(title, Match(0.8, gap), Match(0.8, -gap, "computer", "visitor"))


@pytest.mark.parametrize(
    "title",
    [
        points_title(7, 2, rules=GIFT),
        open_title("20 s", rules=GIFT),
        race_title(20, rules=pull("2 %", serves="visitors", behind_from=1)),
    ],
    ids=["to points", "clocked", "race"],
)
def test_control_sides_that_change_skill_but_not_rules(title: Title) -> None:
    check_mirror(title, Match(gap=0.3), Match(1.0, -0.3, "computer", "visitor"))
    with pytest.raises(Disagrees):
        check_mirror(title, Match(gap=0.3), Match(gap=-0.3))


def check_strength(title: Title, kept: list[str], strength: float, gap: float) -> None:
    without = title.model_copy(update={"rules": {name: title.rules[name] for name in kept}})
    off, bare = figures(title, Match(strength, gap)), figures(without, Match(1.0, gap))
    for name, pair in off.items():
        expected = bare.get(name, np.zeros(2))
        check_close(pair, expected, abs=1e-9)


@few
@given(every_form, gaps)
def test_no_strength_is_no_scalable_rules(title: Title, gap: float) -> None:
    check_strength(title, [name for name, rule in title.rules.items() if not rule.scalable], 0.0, gap)


@pytest.mark.parametrize("title", [points_title(7, 2, rules=GIFT), race_title(20, rules=pull("2 %"))])
def test_control_a_little_strength_is_not_none(title: Title) -> None:
    check_strength(title, [], 0.0, 0.3)
    with pytest.raises(Disagrees):
        check_strength(title, [], 0.01, 0.3)


def check_clock_favours_leader(title: Title) -> None:
    """The fewer seconds, or points of the leader, are left, the less often whoever trails still wins."""
    contest = solve(title, Match())
    found = unfold(contest)
    win = found.win
    if contest.modes > 1:
        # Who comes to a score late attacks otherwise than who comes there early: here each mode counts alike.
        if not isinstance(contest, Chain):
            return
        values = contest.by_second(contest.end_values())
        win = np.stack([values[left].mean(axis=0) for left in found.left.tolist()])
    for lead in found.margins[found.margins < 0].tolist():
        wins = win[:, found.margins == lead].ravel()
        check_that(np.diff(wins[~np.isnan(wins)]).min(initial=0.0) >= -1e-12)


@settings(few, max_examples=40)
@given(every_form)
def test_trailing_side_wins_less_often_as_the_contest_runs_out(title: Title) -> None:
    # Where each second brings a score, odd and even margins take turns; and where one score may pass over the point
    # that is needed, needing two is no worse than needing one. A toss between periods favours whoever has not the
    # attack, so that to N points one period is looked at.
    # Sides that are not alike in level are not alike in what they lose by the clock either.
    no_levels: dict[str, dict[str, float]] = {
        f"{side}_{what}": {} for side in ("visitor", "computer") for what in ("levels", "players")
    }
    plain = unaided(title).model_copy(update=no_levels | {"mixes": {}, "attack_limit": None})
    if title.race is None:
        plain = plain.model_copy(update={"mean_attack": 2.0})
    if title.first_to is not None:
        ones = {name: kind.model_copy(update={"points": 1}) for name, kind in title.attempts.items()}
        plain = plain.model_copy(update={"attempts": ones, "periods": 1})
    check_clock_favours_leader(plain)


@pytest.mark.parametrize(
    "title",
    [
        open_title("10 s", periods=2, mean_attack="4 s", rules=pull("-9 pp", periods=[1])),
        points_title(9, rules={"end": {"kind": "closing chance", "when": "behind", "last_points": 2, "at_least": 0.9}}),
        race_title(20, rules={"late": {"kind": "clocked slope", "steps": [{"left": "4 s", "per_point": "9 %"}]}}),
    ],
    ids=["clocked", "to points", "race"],
)
def test_control_rules_by_the_clock(title: Title) -> None:
    check_clock_favours_leader(unaided(title))
    with pytest.raises(Disagrees):
        check_clock_favours_leader(title)


# -- coded against effective ----------------------------------------------------------------------------------------


def of(title: Title, gap: float = 0.0) -> Field:
    return field(title, MatchUps(gap, 0.0, "computer"), 1.0)


def check_written(title: Title, gap: float = 0.0) -> None:
    found = rates(title, by_margin(title, of(title, gap)))
    check_that(found)
    for rate in found:
        check_close(rate.effective, rate.written, abs=1e-9)
        check_close(rate.ratio, 1.0, abs=1e-8)


PLAIN_TITLES = [
    turns_title("20 s", periods=2, mean_attack="2 s", attempts=MIXED, turnover=0.1),
    open_title("20 s", attempts=MIXED_OPEN),
    points_title(7, 2, play="turns", attempts=MIXED),
    race_title(30),
]
NAMES = ["turns", "open", "to points", "race"]


@pytest.mark.parametrize("title", PLAIN_TITLES, ids=NAMES)
def test_effective_is_as_written_between_equals_without_rules(title: Title) -> None:
    # From the definition: nothing but skill and rules can part the two.
    check_written(title)
    with pytest.raises(Disagrees):
        check_written(title, gap=0.2)


@few
@given(every_form, gaps)
def test_points_by_attempt_and_margin_make_up_the_points(title: Title, gap: float) -> None:
    """Two routes: attempts in each band times their rate times their worth; and expected points of the contest."""
    found = rates(title, by_margin(title, of(title, gap)))
    contest = solve(title, Match(1.0, gap))
    # What is drawn is no attempt: lengths that a lucky draw gives are its own.
    drawn = [name for name, rule in title.rules.items() if isinstance(rule, LuckyDraw)]
    for side, points in enumerate(contest.expected("points") - sum(contest.expected(name) for name in drawn)):
        by_band = sum(
            rate.tried * rate.effective * (title.attempts[rate.attempt].points if title.attempts else 1)
            for rate in found
            if rate.side == side
        )
        # Bands in which less than one attempt in a million is made are left out.
        assert by_band == pytest.approx(points, abs=1e-6 * 2 * 7 * 2 + 1e-9)
    assert len(list(bands(title))) == 7


def test_control_points_by_attempts_alone() -> None:
    title = PLAIN_TITLES[0]
    found = rates(title, by_margin(title, of(title)))
    tried = sum(rate.tried * title.attempts[rate.attempt].points for rate in found if rate.side == 0)
    with pytest.raises(Disagrees):
        check_close(tried, float(solve(title, Match()).expected("points")[0]), abs=1e-4)
