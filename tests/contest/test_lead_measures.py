"""Lead changes, the last tie and comebacks of a fair walk: the classic results on who leads, and how long.

Here a tie is no change of lead: the lead changes when a score goes to the side that did not lead last, which is
Feller's change of sign (the path passes through level), not his return to level.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from tests.checking import Disagrees, check_close
from venue.contest.chain import Chain
from venue.contest.match import Match
from venue.contest.results import MatchUps
from venue.contest.win_probability import unfold
from venue.scenario.title import Title

from .building import (
    Course,
    assert_closed,
    assert_prints,
    by_margin,
    follow,
    headlines,
    lasting,
    open_title,
    points_title,
    pull,
    turns_title,
)

TWENTY = open_title("2 s", periods=10)


def course_of(title: Title, gap: float = 0.0) -> Course:
    return follow(title, Match(gap=gap))


def at_sum(steps: int, margin: int) -> float:
    """Chance that a fair walk of unit steps is at a margin."""
    made, odd = divmod(steps + margin, 2)
    return 0.0 if odd else float(stats.binom.pmf(made, steps, 0.5))


def sign_changes(steps: int) -> float:
    """Expected changes of sign.

    Feller, An Introduction to Probability Theory and Its Applications, vol. I, ch. III, 5 (location from memory):
    r changes of sign in 2n + 1 steps have chance 2 P(S = 2r + 1).
    """
    odd = steps if steps % 2 else steps - 1
    return sum(r * 2 * at_sum(odd, 2 * r + 1) for r in range(1, odd // 2 + 1))


def check_lead_changes(title: Title, steps: int) -> None:
    assert_closed(course_of(title).lead_changes, sign_changes(steps))
    (found,) = headlines(title, MatchUps(0.0, 0.0, "visitor"), [1.0])
    assert_closed(found.lead_changes, sign_changes(steps))


@pytest.mark.parametrize("steps", [3, 20, 21, 99])
def test_lead_changes_are_changes_of_sign(steps: int) -> None:
    check_lead_changes(open_title(f"{steps} s"), steps)


def test_lead_changes_over_breaks() -> None:
    check_lead_changes(TWENTY, 20)


def test_control_lead_changes_under_pull() -> None:
    with pytest.raises(Disagrees):
        check_lead_changes(open_title("21 s", rules=pull("1 pp", scalable=False)), 21)


def test_control_a_tie_is_no_lead_change() -> None:
    # Ties on the way to 20 steps: the sum of P(S = 0), which is more than twice as many.
    ties = sum(at_sum(step, 0) for step in range(2, 21, 2))
    assert ties > 2 * sign_changes(20)
    with pytest.raises(Disagrees):
        assert_closed(course_of(TWENTY).lead_changes, ties)


def check_thinned(title: Title, seconds: int, scored: float) -> None:
    # From the definition: scores come with a hazard, so their number is binomial.
    counts = stats.binom.pmf(np.arange(seconds + 1), seconds, scored)
    expected = sum(float(chance) * sign_changes(steps) for steps, chance in enumerate(counts) if steps)
    assert_closed(course_of(title).lead_changes, expected)


def test_lead_changes_by_the_hazard_of_a_score() -> None:
    check_thinned(open_title("90 s", mean_attack=lasting(4.0)), 90, 0.25)


def test_control_lead_changes_by_another_hazard() -> None:
    with pytest.raises(Disagrees):
        check_thinned(open_title("90 s", mean_attack=lasting(4.1)), 90, 0.25)


def last_tie(title: Title, after: int) -> float:
    """Chance that the last tie of 20 scores is after so many, from two measures: level then, and a lead that lasts."""
    chain, found = Chain(title, Match()), unfold(Chain(title, Match()))
    level = by_margin(chain, chain.margins_of(chain.distributions[after // 2]))[0]
    if after == 20:
        return level
    # The next score makes a lead of one, either side's, which then lasts.
    one_up = int(np.flatnonzero(found.margins == 1)[0])
    return level * float(found.lasts[20 - after - 2, one_up])


def check_arcsine(title: Title) -> None:
    # Feller, vol. I, ch. III (location from memory; values computed): of 20 fair steps 0, 2, 4, ... are spent in the
    # lead with .1762 .0927 .0736 .0655 .0617 .0606, and back up again. The last tie has the same discrete arcsine law.
    printed = ["0.1762", "0.0927", "0.0736", "0.0655", "0.0617", "0.0606"]
    for half, text in enumerate([*printed, *printed[-2::-1]]):
        assert_prints(last_tie(title, 2 * half), text)


def test_last_tie_by_the_arcsine_law() -> None:
    check_arcsine(TWENTY)


def test_control_last_tie_under_pull() -> None:
    with pytest.raises(Disagrees):
        check_arcsine(open_title("2 s", periods=10, rules=pull("0.5 pp")))


def check_comebacks(title: Title, half: int) -> None:
    # From the definition: behind by m after half of the scores, and yet ahead at the end, a level end being half.
    trails = comes_back = 0.0
    for behind in range(1, half + 1):
        here = 2 * at_sum(half, behind)
        trails += here
        more = sum(at_sum(half, made) for made in range(behind + 1, half + 1))
        comes_back += here * (more + at_sum(half, behind) / 2)
    check_close(course_of(title).comebacks, (trails, comes_back), rel=1e-9)
    (found,) = headlines(title, MatchUps(0.0, 0.0, "visitor"), [1.0])
    assert_closed(found.comebacks, comes_back / trails)


@pytest.mark.parametrize("title", [open_title("15 s", periods=2), open_title("30 s")], ids=["two periods", "one"])
def test_comebacks_from_behind_at_the_turn(title: Title) -> None:
    check_comebacks(title, 15)


def test_control_comebacks_from_the_last_of_three_periods() -> None:
    with pytest.raises(Disagrees):
        check_comebacks(open_title("10 s", periods=3), 15)


def test_control_comebacks_with_help() -> None:
    with pytest.raises(Disagrees):
        check_comebacks(open_title("15 s", periods=2, rules=pull("1 pp")), 15)


def check_lead_changes_to_points(title: Title, points: int) -> None:
    # To N points of one each at most 2 N - 1 scores are made; the path that would go on makes its changes of sign only
    # until somebody has N, so changes are counted at ties k all, k < N, each passed through half the time.
    expected = sum(at_sum(2 * each, 0) / 2 for each in range(1, points))
    assert_closed(course_of(title).lead_changes, expected)


def test_lead_changes_to_points() -> None:
    check_lead_changes_to_points(points_title(11), 11)


def test_control_lead_changes_to_points_won_by_two() -> None:
    with pytest.raises(Disagrees):
        check_lead_changes_to_points(points_title(11, win_by=2), 11)


def check_remembered(win: float, first: float) -> None:
    assert win == pytest.approx(first, abs=1e-12)


def test_a_moment_counts_what_is_then_remembered() -> None:
    # Side A attacks first and an attack takes a second each: with four seconds left side B cannot have the attack.
    kind = {"shot": {"share": 1.0, "points": 1, "chance": 0.4}}
    chain = Chain(turns_title("4 s", attempts=kind, period_start="alternate"), Match())
    values = chain.by_second(chain.end_values())
    found = unfold(chain)
    for left, holder in ((4, 0), (3, 1), (2, 0), (1, 1)):
        mode = next(place for place, mode in enumerate(chain.automaton.modes) if mode.holder == holder)
        check_remembered(float(found.win[left - 1, chain.zero]), float(values[left][mode, chain.zero]))
    with pytest.raises(AssertionError):
        check_remembered(float(values[3][:, chain.zero].mean()), float(found.win[2, chain.zero]))
