"""The door: who comes on a day, what they may spend, and when those who leave come again."""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from itertools import accumulate
from operator import attrgetter, itemgetter

from venue.floor.calendar import Day, Profile
from venue.floor.till import Till
from venue.scenario.scenario import Scenario
from venue.streams import Streams
from venue.units import DAY
from venue.visitors.allowance import Allowance
from venue.visitors.coming_back import ComingBack
from venue.visitors.person import Person
from venue.visitors.visit import Leave, Visit

# People who come together: how many newcomers, or those who have been here before.
Party = int | Sequence[Person]


class Door:
    """Lets people in, and keeps the diary of those who will come again.

    Parameters
    ----------
    scenario
        What is.
    open_days
        The days on which the venue opens.
    streams
        Random streams of this replication.

    Attributes
    ----------
    till
        Where money becomes credits; None where credits are only sold one by one.
    counts_wallets
        Whether a wallet has to be counted at the door, for the till or for limits.
    nobody_returns
        Whether there is nothing to decide about coming again.
    """

    __slots__ = (
        "_coming_back", "_day_numbers", "_diary", "_is_limited", "_known", "_limits", "_open_days", "_openings",
        "_party", "_profile", "_streams", "counts_wallets", "nobody_returns", "till",
    )  # fmt: skip

    def __init__(self, scenario: Scenario, open_days: Sequence[Day], streams: Streams) -> None:
        site, people = scenario.venue, scenario.people
        self.till = None if site.till.plain else Till(site.till, streams)
        self._limits = scenario.limits
        self._is_limited = scenario.limits.spend_per_visit is not None or scenario.limits.spend_per_hour is not None
        self.counts_wallets = self.till is not None or self._is_limited
        self._open_days = open_days
        self._day_numbers = [day.number for day in open_days]
        self._openings = [day.opens for day in open_days]
        self._profile = Profile(site.arrivals)
        self._party, self._streams = people.party, streams
        self._coming_back = ComingBack(people.come_back)
        self.nobody_returns = people.come_back.constant == -math.inf
        self._diary: dict[int, list[tuple[float, int, Party]]] = {}
        self._known = 0

    def expected(self, day: Day) -> Iterable[tuple[float, int, Party]]:
        """Who comes on a day, in order: time, number of the first, and how many newcomers or who was here before."""
        times, sizes = self._profile.first_timers(day, self._streams, self._party, known=self._known)
        *first, self._known = accumulate(sizes, initial=self._known)
        newcomers = list(zip(times, first, sizes, strict=True))
        again = self._diary.pop(day.number, None)
        return newcomers if again is None else sorted([*newcomers, *again], key=itemgetter(0, 1))

    def count_wallet(self, visit: Visit) -> None:
        """How many credits the wallet of somebody who comes is good for, and how many of them limits let go."""
        if self.till is not None:
            visit.brought = visit.wallet
            visit.wallet = self.till.purse(visit.person.number, visit.wallet)
        if self._is_limited:
            visit.allowance = allowance = Allowance(self._limits, visit.wallet)
            visit.wallet = allowance.at_once

    def expect_again(self, gone: Sequence[Leave], now: float) -> float:
        """Decide about coming back and put the next visit into the diary; its time, or infinity."""
        answer = self._coming_back.decide(gone)
        if answer is None:
            return math.inf
        delay, uniform = answer
        # The small hours belong to the evening before: what counts is the day of opening.
        today = self._open_days[bisect_right(self._openings, now) - 1].number
        earliest = max(int((now + delay) // DAY), today + 1)
        index = bisect_left(self._day_numbers, earliest)
        if index == len(self._day_numbers):
            return math.inf  # after the end of the run
        day = self._open_days[index]
        arrives = self._profile.hour_of(day, uniform)
        people = [one.visit.person for one in gone]
        if len(people) > 1:
            people.sort(key=attrgetter("number"))
        self._diary.setdefault(day.number, []).append((arrives, people[0].number, people))
        return arrives
