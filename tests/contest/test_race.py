"""A race under pull is a process of Ornstein and Uhlenbeck: the gap is drawn back in proportion to itself.

With pull k a second, drift mu and luck of standard deviation w, the gap seen each second is a first-order
autoregression (Uhlenbeck & Ornstein 1930, Phys. Rev. 36; the discrete form is from the definition): from level its mean
is mu (1 - (1 - k)^T) / k, its variance w^2 (1 - (1 - k)^2T) / (1 - (1 - k)^2). The gap moves in whole lengths, its mean
and variance do not know it; its distribution is normal but for that.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from scipy import stats

from tests.checking import Disagrees, check_close, check_that
from venue.contest.chain import Chain
from venue.contest.clock_segments import period_stretches
from venue.contest.match import Match
from venue.contest.win_probability import unfold
from venue.scenario.title import Title

from .building import after_period, follow, mean_of, pull, race_title, variance_of

PACE, PER_SKILL, GAP = 10.0, 0.05, 0.08
DRIFT = PACE * PER_SKILL * GAP


def race(pulled: float, seconds: int, wander: float = 0.9, **keys: Any) -> Title:
    """A race in which whoever trails is drawn up by a share of the gap each second."""
    rules = pull(pulled / PACE, **keys.pop("rule", {})) if pulled else {}
    return race_title(seconds, pace=PACE, pace_per_skill=PER_SKILL, wander=wander, rules=rules, **keys)


def moments(k: float, seconds: int, wander: float, start: float = 0.0) -> tuple[float, float]:
    """Mean and variance of the gap, as above."""
    kept = (1 - k) ** seconds
    if k == 0.0:
        return start + DRIFT * seconds, wander**2 * seconds
    return start * kept + DRIFT * (1 - kept) / k, wander**2 * (1 - kept**2) / (1 - (1 - k) ** 2)


def check_moments(title: Title, k: float, seconds: int, wander: float, start: int = 0) -> None:
    chain = Chain(title, Match(gap=GAP))
    row = after_period(chain, start) if title.periods == 1 else chain.margins_of(chain.distributions[-1])
    mean, variance = moments(k, seconds, wander, start)
    # What is cut off at the ends, under 1e-9 of the mass, weighs the more the farther out it is.
    check_close(mean_of(chain, row), mean, rel=1e-9, abs=1e-9)
    check_close(variance_of(chain, row), variance, rel=1e-6)


@pytest.mark.parametrize("wander", [0.5, 0.9, 2.1])
@pytest.mark.parametrize("k", [0.0, 0.004, 0.02, 0.3])
def test_mean_and_variance_of_the_gap(k: float, wander: float) -> None:
    check_moments(race(k, 90, wander), k, 90, wander)


@pytest.mark.parametrize("start", [-7, 12])
def test_a_gap_is_drawn_back(start: int) -> None:
    check_moments(race(0.02, 60), 0.02, 60, 0.9, start)


def test_a_race_in_periods_is_one_race() -> None:
    check_moments(race(0.02, 90, periods=3), 0.02, 90, 0.9)


@pytest.mark.parametrize(("k", "seconds", "wander"), [(0.022, 90, 0.9), (0.02, 80, 0.9), (0.02, 90, 0.95)])
def test_control_mean_and_variance_of_another_race(k: float, seconds: int, wander: float) -> None:
    with pytest.raises(Disagrees):
        check_moments(race(k, seconds, wander), 0.02, 90, 0.9)


def test_control_a_pull_that_acts_for_one_side_only() -> None:
    with pytest.raises(Disagrees):
        check_moments(race(0.02, 90, rule={"serves": "visitors", "behind_from": 1}), 0.02, 90, 0.9)


def check_wins(title: Title, k: float, seconds: int, wander: float) -> None:
    # Half of a level end is won, so whole lengths stray from the normal curve by a tenth of the squared length over
    # the variance at most; here the spread is five lengths and more.
    chain = Chain(title, Match(gap=GAP))
    mean, variance = moments(k, seconds, wander)
    check_close(chain.win_chance, float(stats.norm.cdf(mean / math.sqrt(variance))), abs=2e-3)


@pytest.mark.parametrize(("k", "seconds", "wander"), [(0.0, 120, 0.9), (0.004, 240, 0.7), (0.01, 120, 2.1)])
def test_chance_to_win_is_normal(k: float, seconds: int, wander: float) -> None:
    check_wins(race(k, seconds, wander), k, seconds, wander)


def test_control_chance_to_win_without_the_pull() -> None:
    with pytest.raises(Disagrees):
        check_wins(race(0.0, 240, 0.7), 0.004, 240, 0.7)


def check_distribution(title: Title, k: float, seconds: int, wander: float) -> None:
    # The gap up to each whole length, against the normal distribution between the lengths.
    chain = Chain(title, Match(gap=GAP))
    mean, variance = moments(k, seconds, wander)
    normal = stats.norm.cdf((chain.margins + 0.5 - mean) / math.sqrt(variance))
    check_that(np.abs(np.cumsum(chain.final_margin) - normal).max() < 2e-3)


def test_final_gap_is_normal() -> None:
    check_distribution(race(0.01, 120, 2.1), 0.01, 120, 2.1)


def test_control_final_gap_of_a_luckier_race() -> None:
    with pytest.raises(Disagrees):
        check_distribution(race(0.01, 120, 2.2), 0.01, 120, 2.1)


def check_who_is_drawn(title: Title, *, ahead_slows: bool) -> None:
    # From the definition: a rule for both sides acts for whoever trails; the leader keeps its own pace.
    chain = Chain(title, Match())
    rules = dict(title.rules)
    for side, sign in ((0, -1), (1, 1)):
        found = chain.builder.pace(rules, 50.0, side)
        behind = sign * chain.margins
        check_close(found.chance[behind == 10], 1.02)
        check_close(found.chance[behind == -10], 0.98 if ahead_slows else 1.0)
        check_close(found.unaided, 1.0)


def test_a_pull_for_both_acts_for_whoever_trails() -> None:
    check_who_is_drawn(race(0.02, 60), ahead_slows=False)
    with pytest.raises(Disagrees):
        check_who_is_drawn(race(0.02, 60), ahead_slows=True)


def test_control_a_pull_for_visitors_slows_them_ahead() -> None:
    title = race(0.02, 60, rule={"serves": "visitors"})
    chain = Chain(title, Match(side_b="visitor"))
    assert chain.builder.pace(title.rules, 50.0, 0).chance[chain.margins == 10] == pytest.approx(1.0)
    chain = Chain(title, Match(side_b="computer"))
    assert chain.builder.pace(title.rules, 50.0, 0).chance[chain.margins == 10] == pytest.approx(0.98)


def check_lengths(title: Title, seconds: int) -> None:
    # Two routes: what the sides run differs by the final gap; what they run beyond their own pace is owed to the rule.
    course = follow(title, Match(gap=GAP))
    run, owed = course.total("points"), course.total("pull")
    mean = sum(gap * chance for gap, chance in course.margin.items())
    check_close(run[0] - run[1], mean, abs=1e-6)
    check_close(run.sum(), 2 * PACE * seconds + owed.sum(), abs=1e-6)
    assert owed.min() > 0.1


def test_lengths_run_by_two_routes() -> None:
    check_lengths(race(0.02, 90), 90)
    with pytest.raises(Disagrees):
        check_lengths(race(0.02, 90), 91)


def test_pace_never_turns_back() -> None:
    # A pull of the whole pace at ten lengths: nobody runs backwards, and nobody at more than twice the pace.
    title = race(10.0, 20, wander=2.0, rule={"serves": "visitors"})
    chain = Chain(title, Match())
    paces = chain.builder.pace(title.rules, 10.0, 0).chance
    assert (paces.min(), paces.max()) == (0.0, 2.0)
    stretch = period_stretches(title, 0)[0]
    assert chain.transitions(stretch).dense().sum(axis=1) == pytest.approx(1.0, abs=1e-12)


def test_a_lead_is_the_safer_the_later() -> None:
    found = unfold(Chain(race(0.004, 60), Match()))
    lead = found.margins == 5
    assert np.all(np.diff(found.lasts[:, lead].ravel()) < 0)
    assert np.all(np.diff(found.win[:, lead].ravel()) < 0)
