"""In a race and in open play: what a rule says of the leader acts on the leader. By hand, and against the sampler."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from venue.contest.chain import Chain
from venue.contest.match import Match

from .building import after_period, mean_of, open_title, race_title
from .sampler import Play

BRAKE: dict[str, Any] = {"brake": {"kind": "table", "shift": [[-10, -0.08], [0, 0.0]]}}
BAND: dict[str, Any] = {"brake": {"kind": "slope", "per_point": 0.01, "behind_to": -1}}


@pytest.mark.parametrize("rules", [BRAKE, BAND])
def test_a_race_slows_the_leader(rules: dict[str, Any]) -> None:
    # Ahead by 5, at a pace of 10: a brake of 0.8 % (1 %) a length takes 10 * 5 * 0.008 (0.01) lengths off in a second.
    chain = Chain(race_title(1, rules=rules), Match())
    slowed = 10 * 5 * (0.008 if rules is BRAKE else 0.01)
    assert mean_of(chain, after_period(chain, 5)) == pytest.approx(5 - slowed, abs=1e-9)
    assert mean_of(chain, after_period(chain, -5)) == pytest.approx(-5 + slowed, abs=1e-9)


def test_a_race_slows_the_leader_beside_what_it_gives_behind() -> None:
    both = {"both": {"kind": "table", "shift": [[-10, -0.08], [0, 0.0], [10, 0.05]]}}
    chain = Chain(race_title(1, rules=both), Match())
    assert mean_of(chain, after_period(chain, 5)) == pytest.approx(5 - 10 * 5 * (0.008 + 0.005), abs=1e-9)


@pytest.mark.parametrize("rules", [BRAKE, BAND])
def test_open_play_hinders_the_leader(rules: dict[str, Any]) -> None:
    # One chance serves both: ahead by 3 side A's chance of the next score is lower by 3 times 0.8 pp (1 pp).
    chain = Chain(open_title("4 s", mean_attack="4 s", rules=rules), Match())
    lower = 3 * (0.008 if rules is BRAKE else 0.01)
    (found,) = chain.chances(chain.title.rules, 1.0, 0, "tap").chance[[chain.zero + 3]].tolist()
    assert found == pytest.approx(0.5 - lower, abs=1e-12)


def test_control_a_rule_that_says_nothing_of_leaders() -> None:
    behind = {"pull": {"kind": "table", "shift": [[0, 0.0], [10, 0.05]]}}
    race = Chain(race_title(1, rules=behind), Match())
    assert mean_of(race, after_period(race, 5)) == pytest.approx(5 - 10 * 5 * 0.005, abs=1e-9)


def test_against_contests_played_out() -> None:
    title = race_title(30, rules=BRAKE | {"pull": {"kind": "slope", "per_point": 0.002}})
    margins = Play(title, Match(gap=1.5), 20_000, 5).play().margin
    chain = Chain(title, Match(gap=1.5))
    mean, spread = float(margins.mean()), float(margins.std() / np.sqrt(len(margins)))
    assert abs(mean - mean_of(chain, chain.final_margin)) < 4 * spread
