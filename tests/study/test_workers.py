"""The numbers are the same to the last bit however many processes share the work, and in whatever order."""

from __future__ import annotations

import multiprocessing
import os
import signal
import struct
import subprocess
import sys
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from functools import cache
from multiprocessing.connection import Connection
from pathlib import Path
from random import Random

import pytest

import venue
from tests.checking import Disagrees, check_equal, check_identical, check_same_rows
from venue.errors import RunError
from venue.scenario.load import Loaded
from venue.scenario.scenario import Scenario
from venue.study.replicate import Bench, Replication, _solved, forget_solved
from venue.study.results import SweepResult
from venue.study.work import Executor, Outcome, SerialExecutor, Work, attempt
from venue.study.workers import ProcessExecutor, own_end_of

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
    check_same_rows(first.plays, second.plays)
    check_same_rows(first.visits, second.visits)
    check_same_rows(first.measures, second.measures)
    check_equal(first.to_dict(), second.to_dict())


@pytest.mark.parametrize("workers", [2, 3])
def test_workers_change_nothing(workers: int) -> None:
    assert len(swept(1).plays) > 300
    check_same(swept(1), swept(workers))


def test_control_another_seed() -> None:
    with pytest.raises(Disagrees):
        check_same(swept(1), swept(1, seed=122))


def check_same_replications(first: list[Replication], second: list[Replication]) -> None:
    for a, b in zip(first, second, strict=True):
        check_equal(a.task, b.task)
        check_identical(a.measured.venue, b.measured.venue)
        check_identical(a.measured.machines, b.measured.machines)
        check_identical(a.measured.hourly, b.measured.hourly)
        check_equal(a.measured.left_because, b.measured.left_because)
        check_equal(a.accounts, b.accounts)
        assert a.plays is not None and b.plays is not None and a.visits is not None and b.visits is not None
        check_equal(a.plays.tobytes(), b.plays.tobytes())
        check_equal(a.visits.tobytes(), b.visits.tobytes())


def works() -> list[Work]:
    return [
        Work(place, small().change(seed=123, strength=strength).scenario, number)
        for place, strength in enumerate(STRENGTHS)
        for number in range(3)
    ]


def carried_out(executor: Executor, todo: list[Work]) -> dict[tuple[int, int], Replication]:
    found = {}
    for outcome in executor.run(todo):
        assert outcome.replication is not None, outcome.failure
        found[outcome.work.place, outcome.work.number] = outcome.replication
    executor.close()
    return found


def test_order_of_the_work_changes_nothing() -> None:
    expected = carried_out(SerialExecutor(keep_rows=True), works())
    shuffled = works()
    Random(1).shuffle(shuffled)
    assert [work.number for work in shuffled] != [work.number for work in works()]
    found = carried_out(SerialExecutor(keep_rows=True), shuffled)
    check_same_replications(list(expected.values()), [found[key] for key in expected])
    # One alone is what it was among others.
    alone = carried_out(SerialExecutor(keep_rows=True), [works()[4]])
    check_same_replications([expected[1, 1]], list(alone.values()))


def test_control_replications_mixed_up() -> None:
    first, second = carried_out(SerialExecutor(keep_rows=True), works()[3:5]).values()
    with pytest.raises(Disagrees):
        check_same_replications([first], [Replication(first.task, second.measured, second.accounts, 0.0)])


@pytest.mark.parametrize("deaths", [1, 2])
def test_a_worker_that_dies_is_replaced_and_its_replication_run_again(deaths: int) -> None:
    expected = carried_out(SerialExecutor(keep_rows=True), works())
    executor = ProcessExecutor(2, keep_rows=True)
    before = set(multiprocessing.active_children())
    found = {}
    for outcome in executor.run(works()):
        assert outcome.replication is not None
        found[outcome.work.place, outcome.work.number] = outcome.replication
        if len(found) <= deaths:
            victim = min(set(multiprocessing.active_children()) - before, key=lambda child: child.pid or 0)
            os.kill(victim.pid or 0, signal.SIGKILL)
    executor.close()
    check_same_replications(list(expected.values()), [found[key] for key in expected])


def test_a_replication_that_fails_costs_the_others_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    run = Bench.run

    def fails(bench: Bench, scenario: Scenario, number: int) -> Replication:
        if number == 1:
            raise ZeroDivisionError("made to fail")
        return run(bench, scenario, number)

    monkeypatch.setattr(Bench, "run", fails)
    seen: list[tuple[int, int]] = []
    with pytest.raises(RunError) as caught:
        venue.run(small(), replications=4, seed=5, progress=lambda done, total: seen.append((done, total)))
    assert str(caught.value) == (
        "replication 1 at strength 1, seed 5: ZeroDivisionError: made to fail; to see it alone: "
        f"venue run {small().source} --strength 1 --seed 5 --days 3 --only 1"
    )
    assert seen[-1] == (3, 4)


def deadly(work: Work) -> Outcome:
    """Runs as a worker would, and dies of one replication."""
    if work.number == 1:
        os.kill(os.getpid(), signal.SIGKILL)
    return attempt(Bench(), work)


def torn(work: Work) -> Outcome:
    """The same, but dies in the middle of sending the result."""

    def half(connection: Connection, content: bytes) -> None:
        os.write(connection.fileno(), struct.pack("!i", len(content)) + bytes(content[: len(content) // 2]))
        os.kill(os.getpid(), signal.SIGKILL)

    if work.number == 1:
        Connection._send_bytes = half  # type: ignore[attr-defined]
    return attempt(Bench(), work)


def test_the_pool_keeps_its_pipe_where_workers_look_for_it() -> None:
    """The name is private to the pool, which has no public one: without it a torn result would be waited for."""
    pool = ProcessPoolExecutor(1)
    writer = own_end_of(pool)
    assert isinstance(writer, Connection) and writer.writable and not writer.readable
    pool.shutdown()


@pytest.mark.slow
@pytest.mark.parametrize("dying", [deadly, torn])
def test_a_replication_that_kills_its_workers_is_reported_and_the_others_kept(
    monkeypatch: pytest.MonkeyPatch, dying: Callable[[Work], Outcome]
) -> None:
    monkeypatch.setattr("venue.study.workers._run", dying)
    seen: list[int] = []
    with pytest.raises(RunError) as caught:
        venue.run(small(), replications=4, seed=5, workers=2, progress=lambda done, total: seen.append(done))
    assert seen[-1] == 3
    assert str(caught.value).startswith("replication 1 at strength 1, seed 5: took its worker process down 3 times")
    assert str(caught.value).endswith(f"venue run {small().source} --strength 1 --seed 5 --days 3 --only 1")


def test_what_was_solved_for_another_study_changes_nothing() -> None:
    """A process solves the contests of some titles at a strength once, and again for anything else."""
    scenario = small().change(strength=1.0).scenario
    forget_solved()
    first = Bench(keep_rows=True).run(scenario, 0)
    tables, unaided = _solved(scenario)
    assert _solved(small().change(strength=1.0, seed=3).scenario) == (tables, unaided)
    for other in (small().change(strength=0.5), small().change(strength=1.0).vary(["titles.solo.periods=1"])):
        assert _solved(other.scenario)[0] is not tables
    turned = scenario.model_copy(update={"titles": dict(reversed(scenario.titles.items()))})
    assert list(_solved(turned)[0]) == ["duel", "solo"]
    check_same_replications([first], [Bench(keep_rows=True).run(scenario, 0)])


def test_one_replication_alone_is_what_it_was_among_others() -> None:
    alone = venue.run(small(), strength=1.0, seed=121, only=2, rows=True)
    check_same_replications(list(alone.point.replications), list(swept(1).points[1].replications)[2:])


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


def test_a_script_that_does_not_guard_its_start_is_not_run_again_by_its_workers(tmp_path: Path) -> None:
    script = tmp_path / "unguarded.py"
    script.write_text(
        "import venue\n"
        "print('once')\n"
        "pier = venue.load('scenarios/pier.toml', ['study.warm_up=0'])\n"
        "print(len(venue.run(pier, replications=2, days=1, workers=2).point.replications))\n",
        encoding="utf-8",
    )
    root = Path(__file__).parents[2]
    done = subprocess.run(
        [sys.executable, str(script)],
        cwd=root,
        env=os.environ | {"PYTHONPATH": str(root)},
        capture_output=True,
        text=True,
    )
    assert (done.stdout, done.stderr, done.returncode) == ("once\n2\n", "", 0)
