"""The technicians: a fault is noticed, waits for whoever is free and on duty, and is put right.

With one technician, repairs that vary exponentially and machines that fail by the clock this is the machine-repair
model: a queue whose customers are the machines, so that fewer can fail the more are waiting.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import partial
from typing import Protocol

import simpy

from venue.floor.hours_clock import HoursClock
from venue.floor.process import Appointment
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


_NOTICE, _REPAIR, _WAKE = "notice", "repair", "wake"


@dataclass(frozen=True)
class WorkshopState:
    """Where a workshop stands, as plain data.

    Attributes
    ----------
    due
        What is to come, in the order in which it was arranged: when, what, and the number of the machine.
    waiting
        Numbers of the machines that wait for somebody, first to last.
    drawn
        Repair times drawn so far, by number of the machine.
    """

    due: list[tuple[float, str, int | None]] = field(default_factory=list)
    waiting: list[int] = field(default_factory=list)
    drawn: dict[int, int] = field(default_factory=dict)


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
        self._drawn: dict[int, int] = {}
        self._wakes_at = -math.inf
        # What is to come, in the order in which it was arranged: when, what, and which machine.
        self._due: dict[int, tuple[float, str, Broken | None]] = {}
        self._arranged = 0

    def report(self, machine: Broken) -> None:
        """A machine has failed."""
        self._arrange(self._env.now + self._response, _NOTICE, machine)

    def state(self) -> WorkshopState:
        """Who waits and what is to come."""
        return WorkshopState(
            [(at, what, None if machine is None else machine.number) for at, what, machine in self._due.values()],
            [machine.number for machine in self._waiting],
            dict(self._drawn),
        )

    def resume(self, state: WorkshopState, machines: Mapping[int, Broken]) -> None:
        """Go on from where another stood; machines that are no longer there are left out.

        Parameters
        ----------
        machines
            By the number that they had there.
        """
        self._waiting.extend(machines[number] for number in state.waiting if number in machines)
        for number, drawn in state.drawn.items():
            if number in machines:
                for _ in range(drawn):
                    next(self._repairs_of(machines[number].number))
        for at, what, broken in state.due:
            if broken is None:
                self._wakes_at = at
                self._arrange(at, what)
            elif broken in machines:
                self._free -= what == _REPAIR
                self._arrange(at, what, machines[broken])

    def _notice(self, machine: Broken) -> None:
        self._waiting.append(machine)
        self._set_to_work()

    def _set_to_work(self) -> None:
        now = self._env.now
        while self._waiting and self._free > 0:
            starts = self._on_duty.next_running(now)
            if starts > now:
                if now >= self._wakes_at and starts < math.inf:
                    self._wakes_at = starts
                    self._arrange(starts, _WAKE)
                return
            self._free -= 1
            machine = self._waiting.popleft()
            self._arrange(now + self._length(machine), _REPAIR, machine)

    def _finish(self, machine: Broken) -> None:
        self._free += 1
        machine.repaired(self._env.now)
        self._set_to_work()

    def _length(self, machine: Broken) -> float:
        mean = self._repair_time if machine.repair_time is None else machine.repair_time
        if not self._varies:
            return mean
        return -mean * math.log(1.0 - next(self._repairs_of(machine.number)))

    def _repairs_of(self, number: int) -> Iterator[float]:
        self._drawn[number] = self._drawn.get(number, 0) + 1
        if number not in self._draws:
            self._draws[number] = self._streams.uniforms("repair", number)
        return self._draws[number]

    def _arrange(self, at: float, what: str, machine: Broken | None = None) -> None:
        key = self._arranged
        self._arranged += 1
        self._due[key] = (at, what, machine)
        Appointment(self._env, at, partial(self._do, key))

    def _do(self, key: int) -> None:
        _, what, machine = self._due.pop(key)
        if machine is None:
            self._set_to_work()
        elif what == _NOTICE:
            self._notice(machine)
        else:
            self._finish(machine)
