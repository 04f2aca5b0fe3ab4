"""When the doors are open: days of opening joined into sessions, and when in a day people come."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from venue.floor.timetable import Timetable
from venue.scenario.hours import Hours
from venue.scenario.people import Party
from venue.scenario.site import Arrivals
from venue.streams import Streams
from venue.units import DAY, HOUR

Times = NDArray[np.float64]


@dataclass(frozen=True)
class Day:
    """One day of opening, in seconds from the start of the run. The door admits nobody from `last_entry` on."""

    number: int
    opens: float
    closes: float
    last_entry: float


def open_days(hours: Timetable[Hours], days: int, first: int = 0) -> list[Day]:
    """The days from `first` to before `days` on which the venue opens.

    A day that closes as the next opens has no last entry of its own.
    """
    spans = []
    for number in range(first, days):
        opening = hours.on(number)
        if opening is not None:
            spans.append((number, number * DAY + opening[0], number * DAY + opening[1]))
    found = []
    for index, (number, opens, closes) in enumerate(spans):
        goes_on = index + 1 < len(spans) and spans[index + 1][1] <= closes
        last = 0.0 if goes_on else hours.hours_on(number).last_entry
        found.append(Day(number, opens, closes, closes - last))
    return found


def sessions(days: list[Day]) -> list[list[Day]]:
    """Days grouped into unbroken openings."""
    groups: list[list[Day]] = []
    for day in days:
        if groups and groups[-1][-1].closes >= day.opens:
            groups[-1].append(day)
        else:
            groups.append([day])
    return groups


def thinned(
    rate: Callable[[Times], Times], bound: float, start: float, end: float, generator: np.random.Generator
) -> Times:
    """Arrival times of a Poisson process whose rate varies, sorted.

    Thinning: arrivals at the constant rate `bound` are kept with chance rate / bound (Lewis & Shedler 1979,
    "Simulation of nonhomogeneous Poisson processes by thinning", Naval Research Logistics Quarterly 26).

    Parameters
    ----------
    rate
        Rate per second at an array of times; must not exceed `bound`.
    bound
        Greatest rate, per second.
    start, end
        Interval in seconds.
    """
    count = generator.poisson(bound * max(0.0, end - start))
    times = np.sort(generator.uniform(start, end, count))
    kept: Times = times[generator.random(count) * bound < rate(times)]
    return kept


class Profile:
    """How arrivals spread over a day: a rate that steps at the times of day that the scenario names."""

    def __init__(self, arrivals: Arrivals) -> None:
        self._starts = np.array(list(arrivals.per_hour))
        self._rates = np.array([0.0, *arrivals.per_hour.values()]) / HOUR
        self._weekday = [arrivals.weekday.on(day) for day in range(7)]
        self._catchment = arrivals.catchment
        # Shares of a day's visitors and the times they come by, for each kind of day.
        self._spread: dict[tuple[int, float], tuple[list[float], list[float]]] = {}

    def rate(self, day: Day) -> Callable[[Times], Times]:
        """Visitors per second over the run's time, by the clock of the day of opening."""
        factor = self._weekday[day.number % 7]

        def at(times: Times) -> Times:
            steps = np.searchsorted(self._starts, times - day.number * DAY, side="right")
            rates: Times = factor * self._rates[steps]
            return rates

        return at

    def expected(self, day: Day) -> float:
        """How many people are to be expected for the first time on a day, before a catchment thins them out."""
        edges = self._edges(day)
        return float(np.diff(edges) @ self.rate(day)(edges[:-1]))

    def _edges(self, day: Day) -> Times:
        """The times between which the rate of a day does not change, in seconds of the run."""
        starts = self._starts + day.number * DAY
        found: Times = np.unique(np.clip([*starts, day.opens, day.last_entry], day.opens, day.last_entry))
        return found

    def first_timers(
        self, day: Day, streams: Streams, party: Party, *, known: int = 0
    ) -> tuple[list[float], list[int]]:
        """When parties of people who never came before arrive on a day, and how many people each is.

        The rates of the scenario count people, so parties come at that rate over their mean size. Of a catchment of N
        people, of whom `known` have been here before that day, a party still comes with chance 1 - known / N.
        """
        each = self.rate(day)
        bound = float(self._weekday[day.number % 7] * self._rates.max()) / party.mean_size
        generator = streams.generator("arrivals", day.number)
        times: list[float] = thinned(
            lambda times: each(times) / party.mean_size, bound, day.opens, day.last_entry, generator
        ).tolist()
        sizes = list(party.sizes)
        if len(sizes) == 1:
            found = sizes * len(times)
        else:
            edges = np.cumsum(list(party.sizes.values()))[:-1]
            draws = streams.generator("party sizes", day.number).random(len(times))
            found = [sizes[place] for place in np.searchsorted(edges, draws, side="right")]
        if self._catchment is None:
            return times, found
        draws = streams.generator("catchment", day.number).random(len(times))
        return _from_catchment(self._catchment, known, times, found, draws.tolist())

    def hour_of(self, day: Day, uniform: float) -> float:
        """Arrival time on a day of somebody who comes when everybody does; evenly if nobody is expected that day."""
        key = (day.number % 7, day.last_entry - day.opens)
        if key not in self._spread:
            edges = self._edges(day)
            weight = np.diff(edges) * self.rate(day)(edges[:-1])
            if weight.sum() <= 0.0:
                weight = np.diff(edges)
            cumulative = np.concatenate(([0.0], np.cumsum(weight) / weight.sum()))
            self._spread[key] = cumulative.tolist(), (edges - day.opens).tolist()
        shares, times = self._spread[key]
        step = min(max(bisect_right(shares, uniform), 1), len(times) - 1)
        part = (uniform - shares[step - 1]) / (shares[step] - shares[step - 1] or 1.0)
        return day.opens + times[step - 1] + part * (times[step] - times[step - 1])


def _from_catchment(
    catchment: int, known: int, times: list[float], sizes: list[int], draws: list[float]
) -> tuple[list[float], list[int]]:
    """Those parties that are still to be had from a catchment, each as large as there are people left for."""
    kept_times, kept_sizes = [], []
    for time, size, draw in zip(times, sizes, draws, strict=True):
        left = catchment - known
        if draw * catchment < left:
            kept_times.append(time)
            kept_sizes.append(min(size, left))
            known += kept_sizes[-1]
    return kept_times, kept_sizes
