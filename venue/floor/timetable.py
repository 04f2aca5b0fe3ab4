"""The timetable of a venue: the hours of a week, and from which day on they hold."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from typing import Generic, TypeVar

from venue.scenario.hours import Opening, WeekHours

AnyHours = TypeVar("AnyHours", bound=WeekHours)


class Timetable(Generic[AnyHours]):
    """Hours by day of the run.

    Parameters
    ----------
    stretches
        (day, hours): from that day on those hours of a week hold, until the next. The first begins at day 0.
    """

    def __init__(self, stretches: Sequence[tuple[int, AnyHours]]) -> None:
        self._from = [day for day, _ in stretches]
        self._hours = [hours for _, hours in stretches]

    def hours_on(self, day: int) -> AnyHours:
        """The hours of a week that hold on a day."""
        return self._hours[bisect_right(self._from, day) - 1]

    def on(self, day: int) -> Opening | None:
        """Opening and closing in seconds after midnight on a day of the run, or None when closed."""
        return self.hours_on(day).on(day % 7)
