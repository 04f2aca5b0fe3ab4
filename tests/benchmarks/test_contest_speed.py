"""What exact contests cost: against playing them out, with every kind of rule, and as a command with all its charts."""

from __future__ import annotations

import math
import statistics
import time
from pathlib import Path

import numpy as np
import pytest

from venue.contest.chain import Chain
from venue.contest.match import Match
from venue.threads import one_thread

from ..contest.building import MIXED, turns_title
from ..contest.sampler import Play
from .side_by_side import report
from .test_program_speed import PIER, seconds

pytestmark = pytest.mark.benchmark

EVERY_KIND = {
    "slope": {"kind": "slope", "per_point": "1 pp"},
    "table": {"kind": "table", "shift": [[0, 0.0], [4, 0.05]]},
    "clock": {"kind": "clocked slope", "steps": [{"left": "30 s", "per_point": "1 pp"}]},
    "closing": {"kind": "closing chance", "last": "15 s", "when": "behind", "points": 2, "at_least": "60 %"},
    "run": {"kind": "run boost", "after": 3, "gain": "4 pp"},
    "drought": {"kind": "drought", "after": 3, "at_least": "70 %"},
    "least": {"kind": "least chance", "at_least": "20 %", "behind_from": 4},
    "steal": {"kind": "turnover", "shift": [[0, 0.0], [5, -0.05]]},
}
SETTING = Match(1.0, 0.2)
ACCURACY = 1e-4
PLAYED = 20_000


def title(**rules):
    return turns_title("45 s", periods=4, mean_attack="5 s", attempts=MIXED, turnover=0.1, rules=rules)


def solve(rules) -> Chain:
    chain = Chain(title(**rules), SETTING)
    assert len(chain.win) == chain.title.periods + 1
    return chain


def test_the_chain_is_a_thousand_times_as_fast_as_playing_out() -> None:
    rules = {"slope": EVERY_KIND["slope"]}
    ratios = []
    with one_thread():
        solve(rules)
        for seed in range(5):
            began = time.process_time()
            chain = solve(rules)
            exact = time.process_time() - began
            began = time.process_time()
            won = Play(title(**rules), SETTING, PLAYED, seed).play().won
            played = time.process_time() - began
            assert abs(won.mean() - chain.win_chance) < 5 * won.std() / math.sqrt(PLAYED)
            # One standard error of ACCURACY in the chance from one state takes so many contests; time grows with them.
            contests = won.var() / ACCURACY**2
            ratios.append(played * contests / PLAYED / exact)
    # From one state only: the chain has the chance from every state, playing out would need as many again for each.
    report("playing out over solving, chance to win from one state", statistics.median(ratios), "at least 1000")
    assert statistics.median(ratios) >= 1000


def test_every_kind_of_rule_costs_under_40_times_a_title_with_none() -> None:
    ratios = []
    with one_thread():
        for _ in range(9):
            costs = []
            for rules in (EVERY_KIND, {}):
                began = time.process_time()
                chain = solve(rules)
                costs.append(time.process_time() - began)
                assert np.isclose(chain.final_margin.sum(), 1.0, atol=1e-12)
            ratios.append(costs[0] / costs[1])
    report("every kind of rule over none", statistics.median(ratios[1:]), "under 40")
    assert statistics.median(ratios[1:]) < 40


def test_a_title_with_all_parts_and_charts_answers_in_two_seconds(tmp_path: Path) -> None:
    times = [
        seconds("-m", "venue", "contest", PIER, "--title", "tug", "--quiet", "--out", str(tmp_path / str(run)))
        for run in range(5)
    ]
    report("venue contest with all parts and charts, seconds", statistics.median(times), "under 2")
    assert statistics.median(times) < 2.0
