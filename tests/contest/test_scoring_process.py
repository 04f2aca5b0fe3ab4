"""A published scoring process, as a scenario: spread and ties, with and without the force that restores level.

The scenario beside this file holds the fitted numbers of Gabel & Redner 2012, J. Quant. Anal. Sports 8(1). What it
should come to is computed here from those numbers alone, by moments, by its characteristic function, and by a
recursion over plain arrays.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import venue
from tests.checking import Disagrees, check_close
from venue.contest.results import Headline

from .building import Array, assert_closed

SCENARIO = Path(__file__).with_name("scoring_process.toml")
SECONDS = 4 * 12 * 60
RATE, PULL, MEAN_POINTS = 0.03291, 0.0022, 2.0894
SHARES = {1: 0.0870, 2: 0.7366, 3: 0.1764}
SQUARE = sum(share * points**2 for points, share in SHARES.items())
REACH = 160


def solved(*changes: str, strength: float = 1.0) -> Headline:
    """The title as the scenario has it, with changes laid over."""
    (found,) = venue.solve(venue.load(SCENARIO, changes), strengths=[strength]).headlines
    return found


def test_the_scenario_holds_the_published_numbers() -> None:
    title = venue.load(SCENARIO).scenario.titles["process"]
    assert title.periods * title.seconds == SECONDS
    assert title.hazard == pytest.approx(RATE, rel=1e-5)
    assert {kind.points: kind.share for kind in title.attempts.values()} == pytest.approx(SHARES)
    assert sum(points * share for points, share in SHARES.items()) == pytest.approx(MEAN_POINTS, abs=1e-12)


def spread(pulled: float) -> float:
    """Standard deviation of the final margin: a score takes the mean square s to s (1 - 4 k v) + v2, with v and v2 the
    mean and the mean square of its points."""
    rate = venue.load(SCENARIO).scenario.titles["process"].hazard
    if pulled == 0.0:
        return float(np.sqrt(rate * SQUARE * SECONDS))
    kept = (1 - 4 * pulled * MEAN_POINTS * rate) ** SECONDS
    return float(np.sqrt(SQUARE * (1 - kept) / (4 * pulled * MEAN_POINTS)))


def check_spread(found: Headline, pulled: float) -> None:
    assert_closed(found.margin_sd, spread(pulled))
    check_close(found.margin_mean, 0.0, abs=1e-9)


def test_spread_with_and_without_the_restoring_force() -> None:
    check_spread(solved(), PULL)
    check_spread(solved(strength=0.0), 0.0)
    # The force is weak a point, but takes almost a third of the spread.
    assert 0.65 * spread(0.0) < spread(PULL) < 0.7 * spread(0.0)


@pytest.mark.parametrize("change", ["rules.restoring.per_point=0.0023", 'mean_attack="30 s"', "attempts.one.points=2"])
def test_control_spread_of_another_process(change: str) -> None:
    with pytest.raises(Disagrees):
        check_spread(solved(f"titles.process.{change}"), PULL)


def margins(pulled: float) -> Array:
    """Chances of the margins -REACH to REACH at the end, second by second over plain arrays."""
    rate = venue.load(SCENARIO).scenario.titles["process"].hazard
    lead = np.arange(-REACH, REACH + 1)
    toward_a = 0.5 - pulled * lead
    now = (lead == 0).astype(float)
    for _ in range(SECONDS):
        after = (1 - rate) * now
        for points, share in SHARES.items():
            after[points:] += rate * share * (toward_a * now)[:-points]
            after[:-points] += rate * share * ((1 - toward_a) * now)[points:]
        now = after
    return now


def ties_without_force() -> float:
    """Chance of a level end of a walk without memory or force, by Fourier inversion of its characteristic function."""
    rate = venue.load(SCENARIO).scenario.titles["process"].hazard
    angles = 2 * np.pi * np.arange(4096) / 4096
    step = 1 - rate + rate * sum(share * np.cos(points * angles) for points, share in SHARES.items())
    return float((step**SECONDS).mean())


def check_ties(found: Headline, pulled: float) -> None:
    expected = margins(pulled)
    assert_closed(found.level, float(expected[REACH]))
    for lead in (1, 4, 10, 25):
        check_close(found.margin[lead], float(expected[REACH + lead]), rel=1e-6)


def test_ties_with_the_restoring_force() -> None:
    check_ties(solved(), PULL)


def test_ties_without_the_restoring_force() -> None:
    bare = solved(strength=0.0)
    check_ties(bare, 0.0)
    assert_closed(bare.level, ties_without_force())
    assert solved().level > 1.2 * bare.level


def test_control_ties_with_the_force_left_out() -> None:
    with pytest.raises(Disagrees):
        check_ties(solved(strength=0.0), PULL)


def check_persistence(found: Headline, again: float) -> None:
    # The same paper: whoever scored last scores next more rarely than the other, .348 (from memory). With correlation
    # r = 2 again - 1 from score to score, n scores have variance n v2 + 2 v^2 (n r / (1 - r) - r (1 - r^n) / (1 - r)^2)
    # (from the definition, as for steps of one); n is binomial, so that r^n is on average (1 - rate + rate r)^T.
    rate = venue.load(SCENARIO).scenario.titles["process"].hazard
    r = 2 * again - 1
    number, power = rate * SECONDS, (1 - rate + rate * r) ** SECONDS
    pairs = number * r / (1 - r) - r * (1 - power) / (1 - r) ** 2
    assert_closed(found.margin_sd**2, number * SQUARE + 2 * MEAN_POINTS**2 * pairs)


def test_spread_where_the_other_side_tends_to_score_next() -> None:
    check_persistence(solved("titles.process.scores_again=0.348", strength=0.0), 0.348)


def test_control_spread_where_breaks_forget_who_scored() -> None:
    changes = ("titles.process.scores_again=0.348", 'titles.process.period_start="toss"')
    with pytest.raises(Disagrees):
        check_persistence(solved(*changes, strength=0.0), 0.348)
