"""The door: who comes on a day, what they may spend, and when those who leave come again."""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import accumulate
from operator import attrgetter, itemgetter

from venue.floor.calendar import Day, Profile
from venue.floor.till import Till
from venue.scenario.limits import Limits
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
    known
        How many people have been here before.
    kept
        Credits that people have kept from before, by number.

    Attributes
    ----------
    known
        How many people have been here.
    till
        Where money becomes credits; None where credits are only sold one by one.
    counts_wallets
        Whether a wallet has to be counted at the door, for the till or for limits.
    nobody_returns
        Whether there is nothing to decide about coming again.
    """

    __slots__ = (
        "_coming_back", "_day_numbers", "_diary", "_is_limited", "_limits", "_open_days", "_openings",
        "_party", "_profile", "_streams", "counts_wallets", "known", "nobody_returns", "till",
    )  # fmt: skip

    def __init__(
        self, scenario: Scenario, open_days: Sequence[Day], streams: Streams, *, known: int = 0,
        kept: Mapping[int, int] | None = None,
    ) -> None:  # fmt: skip
        site, people = scenario.venue, scenario.people
        self.till = None if site.till.plain else Till(site.till, streams, kept)
        self.set_limits(scenario.limits)
        self._open_days = open_days
        self._day_numbers = [day.number for day in open_days]
        self._openings = [day.opens for day in open_days]
        self._profile = Profile(site.arrivals)
        self._party, self._streams = people.party, streams
        self._coming_back = ComingBack(people.come_back)
        self.nobody_returns = people.come_back.constant == -math.inf
        self._diary: dict[int, list[tuple[float, int, list[Person]]]] = {}
        self.known = known

    def set_limits(self, limits: Limits) -> None:
        """From now on these limits hold for those who come."""
        self._limits = limits
        self._is_limited = limits.spend_per_visit is not None or limits.spend_per_hour is not None
        self.counts_wallets = self.till is not None or self._is_limited

    def expected(self, day: Day) -> Iterable[tuple[float, int, Party]]:
        """Who comes on a day, in order: time, number of the first, and how many newcomers or who was here before."""
        times, sizes = self._profile.first_timers(day, self._streams, self._party, known=self.known)
        *first, self.known = accumulate(sizes, initial=self.known)
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
        people = [one.visit.person for one in gone]
        if len(people) > 1:
            people.sort(key=attrgetter("number"))
        people[0].outing = max(int((now + delay) // DAY), today + 1), uniform
        return self.note(people)

    def note(self, party: list[Person]) -> float:
        """Put the next outing of a party into the diary; when they come, infinite if that is after the end."""
        earliest, uniform = party[0].outing or (0, 0.0)
        index = bisect_left(self._day_numbers, earliest)
        if index == len(self._day_numbers):
            return math.inf
        day = self._open_days[index]
        arrives = self._profile.hour_of(day, uniform)
        self._diary.setdefault(day.number, []).append((arrives, party[0].number, party))
        return arrives

    def opens_after(self, day: int) -> float | None:
        """When it opens for the first time on a day or later, in seconds; None if it does not."""
        index = bisect_left(self._day_numbers, day)
        return self._openings[index] if index < len(self._openings) else None

    def to_come(self) -> Iterator[list[Person]]:
        """The parties in the diary."""
        for entries in self._diary.values():
            for _, _, party in entries:
                yield party
