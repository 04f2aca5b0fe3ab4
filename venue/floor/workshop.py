"""The technicians: a fault is noticed, waits for whoever is free and on duty, and is put right.

With one technician, repairs that vary exponentially and machines that fail by the clock this is the machine-repair
model: a queue whose customers are the machines, so that fewer can fail the more are waiting.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Callable, Iterator
from functools import partial
from typing import Protocol

import simpy

from venue.floor.hours_clock import HoursClock
from venue.scenario.faults import Technician
from venue.streams import Streams


class Broken(Protocol):
    """What technicians repair: a machine with a number, and its own mean repair time if it has one."""

    @property
    def number(self) -> int:
        """Its number among all machines."""

    @property
    def repair_time(self) -> float | None:
        """Mean repair in seconds; None if the technician's holds."""

    def repaired(self, now: float) -> None:
        """It works again."""


class Workshop:
    """All technicians of a venue, alike. First noticed, first repaired; a repair begun is finished, duty or not.

    Parameters
    ----------
    technician
        How many, how quick.
    on_duty
        When a repair may begin.
    """

    def __init__(self, env: simpy.Environment, technician: Technician, on_duty: HoursClock, streams: Streams) -> None:
        self._env = env
        self._on_duty = on_duty
        self._response = technician.response
        self._repair_time, self._varies = technician.repair_time, technician.repair_varies == "exponential"
        self._streams = streams
        self._free = technician.count
        self._waiting: deque[Broken] = deque()
        self._draws: dict[int, Iterator[float]] = {}
        self._wakes_at = -math.inf

    def report(self, machine: Broken) -> None:
        """A machine has failed."""
        self._later(self._response, partial(self._notice, machine))

    def _notice(self, machine: Broken) -> None:
        self._waiting.append(machine)
        self._set_to_work()

    def _set_to_work(self) -> None:
        now = self._env.now
        while self._waiting and self._free:
            starts = self._on_duty.next_running(now)
            if starts > now:
                if now >= self._wakes_at and starts < math.inf:
                    self._wakes_at = starts
                    self._later(starts - now, self._set_to_work)
                return
            self._free -= 1
            machine = self._waiting.popleft()
            self._later(self._length(machine), partial(self._finish, machine))

    def _finish(self, machine: Broken) -> None:
        self._free += 1
        machine.repaired(self._env.now)
        self._set_to_work()

    def _length(self, machine: Broken) -> float:
        mean = self._repair_time if machine.repair_time is None else machine.repair_time
        if not self._varies:
            return mean
        if machine.number not in self._draws:
            self._draws[machine.number] = self._streams.uniforms("repair", machine.number)
        return -mean * math.log(1.0 - next(self._draws[machine.number]))

    def _later(self, delay: float, do: Callable[[], None]) -> None:
        timeout = self._env.timeout(delay)
        if timeout.callbacks is not None:
            timeout.callbacks.append(lambda _: do())
