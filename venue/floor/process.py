"""A process of the floor: a generator stepped by SimPy's schedule. It yields events, or seconds, to wait for.

It does what `simpy.Process` does for a generator that nobody waits for and nobody interrupts, and leaves out the two
events by which a process announces its start and its end; most of a floor's processes are visits. A process that waits
some seconds stands in the schedule itself, so that waiting makes no event either. For that it takes the place of an
event in SimPy's own schedule, which is private to SimPy: docs/performance.md says what it saves, and a test fails when
another version of SimPy keeps its schedule otherwise.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Generator
from heapq import heappop, heappush
from typing import Any

import simpy
from simpy.events import NORMAL

Steps = Generator[simpy.Event | float, None, Any]


class Process:
    """Runs a generator, at once up to its first wait.

    A process is not handed an event's value; where there is one, it reads it off the event.
    """

    __slots__ = ("_again", "_env", "_next", "callbacks")
    _ok = True  # to the schedule, a process that has waited is an event that went well

    def __init__(self, env: simpy.Environment, steps: Steps) -> None:
        self._env = env
        self._next = steps.__next__
        self.callbacks: list[Any] | None = None
        self._again = [self._go_on]
        self._go_on()

    def _go_on(self, _event: object = None) -> None:
        try:
            while True:
                waits_for = self._next()
                if isinstance(waits_for, float):
                    if waits_for < 0.0:
                        raise ValueError(f"seconds to wait must not be negative, got {waits_for}")
                    self.callbacks = self._again
                    env = self._env
                    heappush(env._queue, (env._now + waits_for, NORMAL, next(env._eid), self))  # type: ignore[misc]
                    return
                callbacks = waits_for.callbacks
                if callbacks is not None:  # an event that has happened already has none left: go straight on
                    callbacks.append(self._go_on)
                    return
        except StopIteration:
            self._again.clear()  # a circle would wait for the garbage collector


class Appointment:
    """Something to be done at a time: an event of the schedule at just that time, to the last bit."""

    __slots__ = ("callbacks",)
    _ok = True

    def __init__(self, env: simpy.Environment, at: float, do: Callable[[], None]) -> None:
        self.callbacks: list[Any] | None = [lambda _event: do()]
        heappush(env._queue, (at, NORMAL, next(env._eid), self))  # type: ignore[misc]


def next_event(env: simpy.Environment) -> float:
    """When the next event is due; infinite if none is."""
    return env._queue[0][0] if env._queue else math.inf


def run_out(env: simpy.Environment) -> None:
    """Let happen what is scheduled, until nothing is left.

    What `env.run()` does, in fewer calls an event. It knows of no end but an empty schedule, and of no event that
    fails: processes have none, and an error in one comes out here at once.
    """
    schedule = env._queue
    while schedule:
        env._now, _, _, event = heappop(schedule)
        callbacks = event.callbacks
        event.callbacks = None  # type: ignore[assignment]
        for callback in callbacks:
            callback(event)


def step(env: simpy.Environment) -> None:
    """Let the next event happen."""
    env._now, _, _, event = heappop(env._queue)
    callbacks = event.callbacks
    event.callbacks = None  # type: ignore[assignment]
    for callback in callbacks:
        callback(event)
