"""Processes of the floor against SimPy's own processes: the same steps at the same times, in the same order."""

from __future__ import annotations

import random
from collections.abc import Callable, Generator
from typing import Any

import pytest
import simpy
from simpy.events import NORMAL

from venue.floor.process import Process, run_out

Seen = list[tuple[float, int, str]]


def steps(
    env: simpy.Environment, number: int, seen: Seen, bell: simpy.Event, wait: Callable[[float], Any]
) -> Generator[Any, None, None]:
    """Waits of whole seconds, so that many fall together; everybody waits for one bell, which the first rings."""
    draw = random.Random(number)
    for _ in range(draw.randint(1, 6)):
        yield wait(float(draw.randint(0, 3)))
        seen.append((env.now, number, "waited"))
    if number == 0:
        yield wait(5.0)
        bell.succeed()
    yield bell
    seen.append((env.now, number, "heard the bell"))
    yield wait(1.0)
    seen.append((env.now, number, "gone"))


def ours(count: int, *, longer: float = 0.0) -> Seen:
    env, seen = simpy.Environment(), Seen()
    bell = env.event()
    for number in range(count):
        Process(env, steps(env, number, seen, bell, lambda seconds: seconds + longer))
    run_out(env)
    return seen


def by_simpy(count: int) -> Seen:
    env, seen = simpy.Environment(), Seen()
    bell = env.event()
    for number in range(count):
        env.process(steps(env, number, seen, bell, env.timeout))
    env.run()
    return seen


def test_processes_do_what_those_of_simpy_do() -> None:
    seen = by_simpy(40)
    assert ours(40) == seen and len({time for time, _, _ in seen}) < len(seen) / 4


def test_control_processes_that_wait_longer() -> None:
    assert ours(40, longer=0.25) != by_simpy(40)


def test_simpy_itself_runs_them_out() -> None:
    env, seen = simpy.Environment(), Seen()
    bell = env.event()
    for number in range(9):
        Process(env, steps(env, number, seen, bell, float))
    env.run()
    assert seen == ours(9)


def test_nobody_waits_less_than_no_time() -> None:
    env = simpy.Environment()
    with pytest.raises(ValueError, match="must not be negative, got -1.0"):
        Process(env, iter([-1.0]))  # type: ignore[arg-type]


def test_an_error_in_a_process_comes_out_of_the_run() -> None:
    env = simpy.Environment()

    def stumbles() -> Generator[float, None, None]:
        yield 3.0
        raise ZeroDivisionError

    Process(env, stumbles())
    with pytest.raises(ZeroDivisionError):
        run_out(env)
    assert env.now == 3.0


def test_the_schedule_of_simpy_is_what_processes_take_their_places_in() -> None:
    # Private to SimPy, and so bound to its version: entries are (time, priority, number, event), least first.
    env = simpy.Environment(initial_time=2.0)
    late, early = env.timeout(5.0), env.timeout(3.0)
    assert [(entry[0], entry[1], entry[3]) for entry in sorted(env._queue)] == [
        (5.0, NORMAL, early),
        (7.0, NORMAL, late),
    ]
    numbers = [entry[2] for entry in env._queue]
    assert next(env._eid) > max(numbers) and env._now == env.now == 2.0
    Process(env, iter([4.0]))  # type: ignore[arg-type]
    assert [entry[0] for entry in sorted(env._queue)] == [5.0, 6.0, 7.0]
    env.run()
    assert env.now == 7.0 and not env._queue
