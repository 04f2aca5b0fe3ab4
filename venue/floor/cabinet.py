"""One machine on the floor: what it is doing, and what keeps it from doing so."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from venue.floor.wear import Wear

if TYPE_CHECKING:
    from venue.floor.machine_row import MachineRow

IN_PLAY, IDLE, FAULT, CLOSED = "in play", "idle", "in fault", "closed"
_MOST_CABINETS = 10_000


class Cabinet:
    """One machine: what it is doing, since when, and at one with several seats who sits at it.

    Attributes
    ----------
    number
        Its number among all machines of the venue.
    wear
        When it fails or jams; None where it never does.
    has_failed
        Whether it waits for the technician, or will when who sits at it has got up.
    """

    __slots__ = ("_time", "group", "has_failed", "number", "row", "since", "state", "wear")

    def __init__(self, row: MachineRow, place: int) -> None:
        self.row = row
        self.number = row.number * _MOST_CABINETS + place
        self.wear: Wear | None = None
        self.has_failed = False
        self._time = row.time
        self.state = CLOSED
        self.since = 0.0
        self.group: Any = None

    def turn(self, state: str, now: float) -> None:
        """Change what the machine is doing, and book the time it did the old thing."""
        self._time[self.state] += now - self.since
        self.state = state
        self.since = now

    @property
    def repair_time(self) -> float | None:
        """Mean time of a repair, in seconds; None if the technician's holds."""
        return self.row.machine.faults.repair_time

    def repaired(self, now: float) -> None:
        """The technician has put it right."""
        self.row.back_in_order(self, now)
