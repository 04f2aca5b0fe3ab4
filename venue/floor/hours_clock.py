"""A clock that runs only at certain hours: while the venue is open, or while the technician is on duty."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Iterable
from itertools import accumulate

from venue.floor.timetable import AnyHours, Timetable
from venue.units import DAY

Span = tuple[float, float]


def spans_of(hours: Timetable[AnyHours], days: int) -> list[Span]:
    """The hours of so many days, in seconds from the start of the run; what touches is one span."""
    found: list[Span] = []
    for number in range(days):
        of_day = hours.on(number)
        if of_day is None:
            continue
        begin, end = number * DAY + of_day[0], number * DAY + of_day[1]
        if found and begin <= found[-1][1]:
            found[-1] = found[-1][0], max(found[-1][1], end)
        else:
            found.append((begin, end))
    return found


class HoursClock:
    """Time counted within spans only.

    Parameters
    ----------
    spans
        (begin, end) in seconds, in order and apart.
    """

    def __init__(self, spans: Iterable[Span]) -> None:
        self._spans = list(spans)
        self._begins = [begin for begin, _ in self._spans]
        # What the clock shows at the beginning of each span, and after the last.
        self._shown = [0.0, *accumulate(end - begin for begin, end in self._spans)]

    def shows(self, now: float) -> float:
        """Seconds within spans up to now."""
        place = bisect_right(self._begins, now) - 1
        if place < 0:
            return 0.0
        begin, end = self._spans[place]
        return self._shown[place] + min(now, end) - begin

    def after(self, now: float, seconds: float) -> float:
        """When it will show so many seconds more than now; infinite if the last span ends before."""
        goal = self.shows(now) + seconds
        place = bisect_right(self._shown, goal) - 1
        if place >= len(self._spans):
            return math.inf
        # By rounding it could fall a hair before now.
        return max(now, self._spans[place][0] + goal - self._shown[place])

    def next_running(self, now: float) -> float:
        """The first moment from now on at which it runs; infinite if there is none."""
        place = bisect_right(self._begins, now)
        if place and now < self._spans[place - 1][1]:
            return now
        return self._begins[place] if place < len(self._begins) else math.inf
