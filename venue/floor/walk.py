"""A walk through the venue: a generator of SimPy events, stepped by the events themselves.

It does what `simpy.Process` does for a generator that nobody waits for and nobody interrupts, and leaves out the two
events by which a process announces its start and its end; most of a floor's processes are visits.
"""

from __future__ import annotations

from collections.abc import Generator
from heapq import heappop
from typing import Any

import simpy

Steps = Generator[simpy.Event, None, Any]


class Walk:
    """Runs a generator of events, at once up to its first event.

    A walk is not handed an event's value; where there is one, it reads it off the event.
    """

    __slots__ = ("_next",)

    def __init__(self, steps: Steps) -> None:
        self._next = steps.__next__
        self._go_on()

    def _go_on(self, _event: simpy.Event | None = None) -> None:
        try:
            # An event that has happened already has no callbacks left: go straight on.
            while (callbacks := self._next().callbacks) is None:
                pass
        except StopIteration:
            return
        callbacks.append(self._go_on)


def run_out(env: simpy.Environment) -> None:
    """Let happen what is scheduled, until nothing is left.

    What `env.run()` does, in fewer calls an event. It knows of no end but an empty schedule, and of no event that fails:
    walks have none, and an error in one comes out here at once.
    """
    schedule = env._queue
    while schedule:
        env._now, _, _, event = heappop(schedule)
        callbacks = event.callbacks
        event.callbacks = None  # type: ignore[assignment]
        for callback in callbacks:
            callback(event)
