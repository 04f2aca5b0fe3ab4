"""The numbers are the same to the last bit however many processes share the work, and in whatever order."""

from __future__ import annotations

from functools import cache
from random import Random

import numpy as np
import pandas as pd
import pytest

import venue
from venue.scenario.load import Loaded
from venue.study.replicate import Replication, Task
from venue.study.results import SweepResult
from venue.study.workers import run_all

from ..floor.textbook import over, textbook, walk
from .test_common_numbers import LIVELY

STRENGTHS = (0.0, 1.0)


def small() -> Loaded:
    """Two titles, one of them for two, and a pastime, for three days."""
    titles = {
        "solo": walk(10, 0.03, periods=2),
        "duel": walk(8, 0.02, periods=2, scores_again=0.55, tie="next score"),
    }
    machines = {
        "solo": {"title": "solo", "price": 1, "count": 2},
        "duel": {"title": "duel", "price": 1, "count": 2, "seats": 2, "line_limit": 3},
        "slide": {"price": 1, "count": 1, "play_time": "40 s", "play_time_varies": "exponential"},
    }
    people = over(LIVELY, {"suspicion": {"notice": 0.5}, "patience": {"off": False, "mean": "3 min"}})
    return textbook(machines, 12.0, titles=titles, people=people, hours="10:00-16:00", days=3)


@cache
def swept(workers: int, seed: int = 121) -> SweepResult:
    return venue.sweep(small(), strengths=STRENGTHS, seed=seed, replications=3, workers=workers, rows=True)


def check_same(first: SweepResult, second: SweepResult) -> None:
    pd.testing.assert_frame_equal(first.plays, second.plays, check_exact=True)
    pd.testing.assert_frame_equal(first.visits, second.visits, check_exact=True)
    pd.testing.assert_frame_equal(first.measures, second.measures, check_exact=True)
    assert first.to_dict() == second.to_dict()


@pytest.mark.parametrize("workers", [2, 3])
def test_workers_change_nothing(workers: int) -> None:
    assert len(swept(1).plays) > 300
    check_same(swept(1), swept(workers))


def test_control_another_seed() -> None:
    with pytest.raises(AssertionError):
        check_same(swept(1), swept(1, seed=122))


def check_same_replications(first: list[Replication], second: list[Replication]) -> None:
    for a, b in zip(first, second, strict=True):
        assert a.task == b.task
        np.testing.assert_equal(a.measured.venue, b.measured.venue)
        np.testing.assert_equal(a.measured.machines, b.measured.machines)
        np.testing.assert_array_equal(a.measured.hourly, b.measured.hourly)
        assert a.measured.left_because == b.measured.left_because
        assert a.accounts == b.accounts
        assert a.plays is not None and b.plays is not None and a.visits is not None and b.visits is not None
        assert a.plays.tobytes() == b.plays.tobytes()
        assert a.visits.tobytes() == b.visits.tobytes()


def test_order_of_the_tasks_changes_nothing() -> None:
    scenario = small().change(seed=123).scenario
    tasks = [Task(strength, number) for strength in STRENGTHS for number in range(3)]
    expected = {item.task: item for item in run_all(scenario, tasks, keep_rows=True)}
    shuffled = tasks.copy()
    Random(1).shuffle(shuffled)
    assert shuffled != tasks
    found = run_all(scenario, shuffled, keep_rows=True)
    check_same_replications([expected[task] for task in shuffled], found)
    # One alone is what it was among others.
    check_same_replications([expected[tasks[4]]], run_all(scenario, [tasks[4]], keep_rows=True))


def test_control_replications_mixed_up() -> None:
    scenario = small().change(seed=123).scenario
    first, second = run_all(scenario, [Task(1.0, 0), Task(1.0, 1)], keep_rows=True)
    with pytest.raises(AssertionError):
        check_same_replications([first], [Replication(first.task, second.measured, second.accounts, 0.0)])


def test_a_run_is_a_point_of_the_sweep() -> None:
    result = venue.run(small(), strength=1.0, seed=121, replications=3, rows=True)
    point = swept(1).points[1]
    check_same_replications(list(result.point.replications), list(point.replications))


def test_more_replications_begin_with_the_same_ones() -> None:
    result = venue.run(small(), strength=1.0, seed=121, replications=4, rows=True)
    check_same_replications(list(result.point.replications)[:3], list(swept(1).points[1].replications))


def test_progress_counts_every_replication() -> None:
    seen: list[tuple[int, int]] = []
    venue.run(small(), replications=3, progress=lambda done, total: seen.append((done, total)))
    assert seen == [(1, 3), (2, 3), (3, 3)]
