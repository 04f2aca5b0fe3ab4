"""What must hold of every title: drawn small and at random by Hypothesis, always the same ones."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.checking import Disagrees, check_close, check_equal, check_that
from venue.contest.chain import Chain
from venue.contest.clock_segments import period_stretches
from venue.contest.match import Match
from venue.contest.results import better_side
from venue.scenario.title import Title

from .building import (
    MIXED,
    Array,
    assert_closed,
    by_margin,
    mean_of,
    open_title,
    pull,
    turns_title,
    variance_of,
)
from .drawing import few, gaps, titles


@few
@given(titles(), gaps)
def test_transition_rows_sum_to_one(title: Title, gap: float) -> None:
    chain = Chain(title, Match(gap=gap))
    for period in range(title.periods):
        rows = chain.transition(period)
        assert rows.min() >= 0.0
        assert np.abs(rows.sum(axis=1) - 1.0).max() < 1e-12
    assert abs(chain.final_margin.sum() - 1.0) < 1e-12


@few
@given(titles(), gaps)
def test_forward_and_backward_meet(title: Title, gap: float) -> None:
    chain = Chain(title, Match(gap=gap))
    final = chain.final_margin
    won = float(final[chain.margins > 0].sum() + chain.tie_value * final[chain.zero])
    assert chain.win_chance == pytest.approx(won, abs=1e-12)
    for share, win, close in zip(chain.distributions, chain.win, chain.close_chance(), strict=True):
        assert float(share @ win) == pytest.approx(won, abs=1e-12)
        assert float(share @ close) == pytest.approx(
            float(final[np.abs(chain.margins) <= title.close].sum()), abs=1e-12
        )


def check_mirror(title: Title, match: Match, mirrored: Match) -> None:
    here, there = Chain(title, match), Chain(title, mirrored)
    check_close(there.win_chance, 1.0 - here.win_chance, abs=1e-9)
    found = by_margin(there)
    for margin, chance in by_margin(here).items():
        check_close(found.get(-margin, 0.0), chance, abs=1e-9)
    for name in ("points", "assisted", *title.rules):
        check_close(there.expected(name), here.expected(name)[::-1], abs=1e-7)


@few
@given(titles(), gaps, st.sampled_from([0.0, 0.6, 1.0]))
def test_sides_that_change_places_change_results(title: Title, gap: float, strength: float) -> None:
    check_mirror(
        title,
        Match(strength, gap, "visitor", "computer"),
        Match(strength, -gap, "computer", "visitor"),
    )


def test_control_sides_that_change_skill_but_not_rules() -> None:
    title = turns_title("20 s", rules=pull("3 pp", serves="visitors", behind_from=1))
    check_mirror(title, Match(gap=0.3), Match(1.0, -0.3, "computer", "visitor"))
    with pytest.raises(Disagrees):
        check_mirror(title, Match(gap=0.3), Match(gap=-0.3))


@few
@given(titles(), gaps)
def test_no_strength_is_no_scalable_rules(title: Title, gap: float) -> None:
    kept = {name: rule for name, rule in title.rules.items() if not rule.scalable}
    without = Chain(title.model_copy(update={"rules": kept}), Match(1.0, gap))
    off = Chain(title, Match(0.0, gap))
    assert off.win_chance == pytest.approx(without.win_chance, abs=1e-9)
    assert by_margin(off) == pytest.approx(by_margin(without), abs=1e-9)
    for name in set(title.rules) - set(kept):
        assert np.abs(off.expected(name)).max() < 1e-12


@pytest.mark.slow
@few
@given(titles(), gaps)
def test_single_seconds_make_up_a_period(title: Title, gap: float) -> None:
    """The product of single steps, each built for its own second, is the period that powers make."""
    chain = Chain(title, Match(gap=gap))
    period = title.periods - 1
    steps = np.eye(chain.modes * len(chain.margins))
    for stretch in period_stretches(title, period):
        jump = chain.transitions(stretch).dense()
        for _ in range(stretch.seconds):
            steps = steps @ ((1.0 - 1.0 / title.mean_attack) * np.eye(len(jump)) + jump / title.mean_attack)
    by_seconds = chain.out_of_modes(chain.into_modes(period, np.eye(len(chain.start))) @ steps)
    assert np.abs(chain.transition(period) - by_seconds).max() < 1e-12


@few
@given(titles(), gaps)
def test_range_of_margins_loses_nothing(title: Title, gap: float) -> None:
    chain = Chain(title, Match(gap=gap))
    assert chain.final_margin[0] < 1e-9
    assert chain.final_margin[-1] < 1e-9


def base_points(title: Title, gap: float, here: Array) -> Array:
    """Points that the base chances alone would bring each side, given expected seconds on the attack."""
    found = []
    for side, sign in enumerate((1, -1)):
        worth = 0.0
        for kind in title.attempts.values():
            odds = 0.0 if kind.chance is None else np.log(kind.chance / (1 - kind.chance))
            worth += kind.share * kind.points / (1 + np.exp(-(odds + sign * gap)))
        found.append(here[side] / title.mean_attack * (1 - title.turnover) * worth)
    return np.array(found)


def check_owed(title: Title, gap: float, here: Array) -> None:
    # Every point is either owed to a rule or would have come from the base chances: two routes to one total.
    chain = Chain(title, Match(gap=gap))
    owed = sum(chain.expected(name) for name in title.rules)
    check_close(owed, chain.expected("points") - base_points(title, gap, here), abs=1e-9)
    assert float(np.abs(owed).max()) > 0.01
    difference = chain.expected("points") @ [1.0, -1.0]
    check_close(mean_of(chain, chain.final_margin), difference, abs=1e-6)


HELP = pull("2 pp", cap=5, serves="visitors") | {
    "curve": {"kind": "table", "shift": [[-3, "-4 pp"], [3, "6 pp"]]},
    "close": {"kind": "closing chance", "last": "5 s", "when": "behind", "points": 2, "at_least": "80 %"},
}
STEALS = {"steals": {"kind": "turnover", "shift": [[-4, "-8 pp"], [4, "12 pp"]]}}


def test_points_owed_by_turns() -> None:
    # Attacks alternate whatever happens, so each side has the ball for half of the 80 seconds.
    title = turns_title(
        "40 s", periods=2, mean_attack="3 s", attempts=MIXED, turnover=0.1, maximum_chance=0.7, rules=HELP | STEALS
    )
    check_owed(title, 0.2, np.array([40.0, 40.0]))
    with pytest.raises(Disagrees):
        check_owed(title, 0.2, np.array([50.0, 30.0]))


def test_points_owed_in_open_play() -> None:
    title = open_title("40 s", periods=2, mean_attack="3 s", maximum_chance=0.7, minimum_chance=0.3, rules=HELP)
    check_owed(title, 0.2, np.array([80.0, 80.0]))
    with pytest.raises(Disagrees):
        check_owed(title, 0.2, np.array([40.0, 40.0]))


def test_points_owed_when_the_scorer_keeps_the_attack() -> None:
    title = turns_title("40 s", mean_attack="3 s", attempts=MIXED, turnover=0.1, scorer_keeps=True, rules=HELP | STEALS)
    chain = Chain(title, Match(gap=0.2))
    share = np.kron([0.5, 0.5], (chain.margins == 0).astype(float))
    here = np.zeros(2)
    for stretch in period_stretches(title, 0):
        for _ in range(stretch.seconds):
            here += share.reshape(2, -1).sum(axis=1)
            share = share @ chain.transitions(stretch).dense() / 3 + share * 2 / 3
    assert here.sum() == pytest.approx(40.0)
    check_owed(title, 0.2, here)
    with pytest.raises(Disagrees):
        check_owed(title, 0.2, np.array([20.0, 20.0]))


STRENGTHS = (0.0, 0.25, 0.5, 0.75, 1.0)


def check_brings_together(title: Title) -> None:
    chains = [Chain(title, Match(strength, gap=0.25)) for strength in STRENGTHS]
    spread = [variance_of(chain, chain.final_margin) for chain in chains]
    close = [float(chain.final_margin[np.abs(chain.margins) <= title.close].sum()) for chain in chains]
    better = [better_side(0.25, chain.win_chance) for chain in chains]
    check_that(np.all(np.diff(spread) < 0))
    check_that(np.all(np.diff(close) > 0))
    check_that(np.all(np.diff(better) < 0))
    check_that(better[-1] > 0.5)


@pytest.mark.parametrize(
    "title",
    [
        open_title("90 s", rules=pull("1 pp"), close=3),
        open_title("90 s", mean_attack="3 s", scores_again=0.6, rules=pull("1.5 pp", cap=8)),
        turns_title(
            "90 s", mean_attack="3 s", attempts=MIXED, rules=pull("1.5 pp"), minimum_chance=0.01, maximum_chance=0.99
        ),
        turns_title("45 s", periods=2, mean_attack="2 s", attempts=MIXED, rules=pull("2 pp", cap=6), turnover=0.1),
    ],
    ids=["open", "open, scores again", "turns", "turns, capped"],
)
def test_a_stronger_slope_brings_sides_together(title: Title) -> None:
    check_brings_together(title)


def test_control_a_slope_that_helps_the_leader_drives_sides_apart() -> None:
    with pytest.raises(Disagrees):
        check_brings_together(open_title("90 s", rules=pull("-1 pp")))


def check_clock_favours_leader(title: Title) -> None:
    chain = Chain(title, Match())
    for behind in range(1, 5):
        wins = [float(values[chain.zero - behind]) for values in chain.win]
        check_that(np.all(np.diff(wins) < 0))
        check_equal(wins[-1], 0.0)


@pytest.mark.parametrize("points", [1, 2])
def test_trailing_side_wins_less_often_as_the_clock_runs(points: int) -> None:
    tap = {"share": 1.0, "points": points}
    check_clock_favours_leader(open_title("10 s", periods=8, mean_attack="4 s", attempts={"tap": tap}))
    tap["chance"] = 0.45
    check_clock_favours_leader(turns_title("10 s", periods=8, mean_attack="4 s", attempts={"tap": tap}))


def test_control_trailing_side_that_was_pushed_down_at_first() -> None:
    with pytest.raises(Disagrees):
        check_clock_favours_leader(open_title("10 s", periods=8, mean_attack="4 s", rules=pull("-9 pp", periods=[1])))


@few
@given(titles(), gaps)
def test_more_points_ahead_never_hurt_without_rules(title: Title, gap: float) -> None:
    chain = Chain(title.model_copy(update={"rules": {}}), Match(gap=gap))
    for win in chain.win:
        by_mode = win.reshape(chain.break_modes, -1)
        assert np.all(np.diff(by_mode, axis=1) >= -1e-12)


@pytest.mark.parametrize("gap", [-8.0, -3.0, 0.0, 3.0, 8.0])
@pytest.mark.parametrize("build", [open_title, turns_title])
def test_range_of_margins_follows_the_skill_gap(build: Any, gap: float) -> None:
    chain = Chain(build("60 s", periods=4, mean_attack="2 s"), Match(gap=gap))
    assert chain.final_margin[0] < 1e-9
    assert chain.final_margin[-1] < 1e-9
    # Nothing leaked at the ends either: the mean of an unaided contest is known.
    p = 1 / (1 + np.exp(-gap))
    expected = 240 / 2 * (2 * p - 1) if build is open_title else 240 / 2 / 2 * (2 * p - 1)
    assert mean_of(chain, chain.final_margin) == pytest.approx(expected, rel=1e-6, abs=1e-6)


def test_range_of_margins_grows_for_rare_heavy_scores() -> None:
    attempts = {"rare": {"share": 0.02, "points": 40}, "plain": {"share": 0.98, "points": 1}}
    chain = Chain(open_title("120 s", mean_attack="5 s", attempts=attempts), Match())
    # From the definition: 24 scores of mean square .02 * 1600 + .98, either way.
    assert_closed(variance_of(chain, chain.final_margin), 24 * (0.02 * 1600 + 0.98))
    assert chain.final_margin[0] < 1e-9
