"""One run of the floor: days of opening, people from outside and people who come again, until the last has left."""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from functools import partial
from itertools import accumulate
from operator import attrgetter, itemgetter

import simpy

from venue.contest.table import TitleTables
from venue.floor.accounts import Account, balance
from venue.floor.allowance import Allowance
from venue.floor.calendar import Day, Profile, open_days, sessions
from venue.floor.choosing import Choosing
from venue.floor.game import Game
from venue.floor.machine_row import MachineRow
from venue.floor.offer_book import OfferBook
from venue.floor.offers import passed_over
from venue.floor.open_clock import OpenClock, spans_of
from venue.floor.price_list import changes_of_day
from venue.floor.process import Steps, Walk, run_out
from venue.floor.rows_kept import PLAY_COLUMNS, REASONS, VISIT_COLUMNS, Rows
from venue.floor.till import Till
from venue.floor.visit import visit_steps
from venue.floor.wear import Wear
from venue.floor.workshop import Workshop
from venue.scenario.scenario import Scenario
from venue.streams import Streams
from venue.threads import no_collection
from venue.units import DAY
from venue.visitors.choices import RefusalReason
from venue.visitors.coming_back import ComingBack
from venue.visitors.perception import weighed
from venue.visitors.person import Person
from venue.visitors.traits import Traits
from venue.visitors.visit import Leave, Visit

# Contests that began before closing play out the period they paid for, so a run outlasts its last closing a little.
_HOURS_AFTER = 48

# People who come together: how many newcomers, or those who have been here before.
Party = int | Sequence[Person]


class Floor:
    """A venue in motion, in one replication.

    Parameters
    ----------
    scenario
        What is.
    tables
        Solved tables by title key, at the strength of this run; they may be shared between replications.
    streams
        Random streams of this replication.
    days
        Days to simulate, the first a Monday.
    keep_offers
        Whether to keep a row for each offer.

    Attributes
    ----------
    plays, visits
        Rows kept; see `venue.floor.rows_kept`.
    offers
        What was offered.
    moved
        Changes to other machines since the warm-up, by what made a visitor stop at the last.
    open_days
        The days on which the venue opened.
    """

    # So many attributes are found sooner in slots than in a dictionary.
    __slots__ = (
        "_day_numbers", "_diary", "_is_warm", "_known", "_openings", "_profile", "begun", "choosing", "closing",
        "coming_back", "contest_time", "ended_early", "entered", "env", "excuses", "finished", "in_play", "inside",
        "left", "moved", "nobody_returns", "notice", "notice_given", "offers", "open_days", "people", "plays",
        "prior_belief", "reason_number", "rest_length", "rows", "scenario", "streams", "talk", "till", "traits",
        "visits",
    )  # fmt: skip

    def __init__(
        self, scenario: Scenario, tables: dict[str, TitleTables], streams: Streams, days: int, *,
        keep_offers: bool = False,
    ) -> None:  # fmt: skip
        self.scenario = scenario
        self.people = people = scenario.people
        self.env = simpy.Environment()
        self.streams = streams
        self.traits = Traits(people, streams)
        self.excuses = RefusalReason(people.buy_in)
        self.coming_back = ComingBack(people.come_back)
        self.notice = people.suspicion.notice
        self.notice_given = people.suspicion.notice * people.suspicion.given_win
        self.talk = people.suspicion.shared
        self.rest_length = people.choice.rest_length
        self.prior_belief = people.belief.wins / (people.belief.wins + people.belief.losses)
        self.reason_number = {reason: number for number, reason in enumerate(REASONS)}

        self.open_days = open_days(scenario.venue, days)
        self._day_numbers = [day.number for day in self.open_days]
        self._openings = [day.opens for day in self.open_days]
        self._profile = Profile(scenario.venue.arrivals)
        self._diary: dict[int, list[tuple[float, int, Party]]] = {}
        self._known = 0
        self.closing = 0.0
        self._is_warm = False

        site = scenario.venue
        self.till = None if site.till.plain else Till(site.till, streams)
        workshop = self._workshop(days)
        games = {key: Game(number, tables[key]) for number, key in enumerate(scenario.titles)}
        hours = days * 24 + _HOURS_AFTER
        self.rows = [
            MachineRow(
                number,
                key,
                machine,
                games[machine.title] if machine.title else None,
                self.env,
                hours=hours,
                buy_in=people.buy_in,
                weighting=people.belief.weighting,
                price_taste=people.choice.price,
                workshop=workshop,
            )
            for number, (key, machine) in enumerate(scenario.machines.items())
        ]
        self._wear_out(OpenClock(spans_of(site.hours, days)))
        self.choosing = Choosing(
            people.choice,
            self.rows,
            prior_weight=weighed(self.prior_belief, people.belief.weighting),
            together=people.party.together,
        )
        if keep_offers:
            self.choosing.passed_over = partial(passed_over, self)
        self.nobody_returns = people.come_back.constant == -math.inf
        self.plays, self.visits = Rows(PLAY_COLUMNS), Rows(VISIT_COLUMNS)
        self.offers = OfferBook(len(scenario.titles), keep=keep_offers)
        self.moved: dict[str, int] = {}
        self.entered = self.inside = self.left = 0
        self.begun = self.finished = self.ended_early = self.in_play = 0
        self.contest_time = 0.0

    def run(self) -> list[Account]:
        """Run until the last visitor has left; returns the accounts, which balance."""
        with no_collection():
            Walk(self.env, self._days())
            run_out(self.env)
        for row in self.rows:
            row.settle(self.env.now)
        return balance(self)

    def _forget(self, _event: simpy.Event) -> None:
        """The warm-up is over: what is only counted, and not kept as rows, is counted anew."""
        self.offers.forget()
        self.moved.clear()

    def _days(self) -> Steps:
        env = self.env
        limits = self.scenario.limits
        counts = self.till is not None or limits.spend_per_visit is not None or limits.spend_per_hour is not None
        env.timeout(self.scenario.study.warm_up * DAY).callbacks.append(self._forget)
        for session in sessions(self.open_days):
            yield session[0].opens - env.now
            self.closing = session[-1].closes
            for row in self.rows:
                row.open(env.now)
            for day in session:
                if env.now < day.opens:
                    yield day.opens - env.now
                if not self._is_warm and day.number >= self.scenario.study.warm_up:
                    self._is_warm = True
                    for row in self.rows:
                        row.mark_warm(env.now)
                for row in self.rows:
                    if row.machine.prices or row.machine.prices_to_go_on:
                        Walk(env, self._prices(row, day))
                now = env.now
                for arrives, number, people in self._expected(day):
                    if arrives > now:
                        yield arrives - now
                        now = env.now
                    if people == 1:
                        party: Sequence[Person] = (Person(number),)
                    elif isinstance(people, int):
                        party = [Person(number + place) for place in range(people)]
                    else:
                        party = people
                    self.entered += len(party)
                    self.inside += len(party)
                    for visit in self.traits.set_out(party, now):
                        if counts:
                            self._count_wallet(visit)
                        Walk(env, visit_steps(self, visit))
            yield self.closing - env.now
            for row in self.rows:
                row.close(env.now)

    def _prices(self, row: MachineRow, day: Day) -> Steps:
        """What a row of machines costs through a day."""
        for time, price in changes_of_day(row.machine, day):
            if time > self.env.now:
                yield time - self.env.now
            row.set_price(price, self.env.now)
            self.choosing.least_price = min(row.price for row in self.rows)

    def _count_wallet(self, visit: Visit) -> None:
        """At the door: how many credits the wallet is good for, and how many of them limits let go."""
        if self.till is not None:
            visit.brought = visit.wallet
            visit.wallet = self.till.purse(visit.person.number, visit.wallet)
        limits = self.scenario.limits
        if limits.spend_per_visit is not None or limits.spend_per_hour is not None:
            visit.allowance = allowance = Allowance(limits, visit.wallet)
            visit.wallet = allowance.at_once

    def _wear_out(self, clock: OpenClock) -> None:
        """Machines that fail or jam begin to wear."""
        for row in self.rows:
            faults = row.machine.faults
            if faults.fails or faults.jam:
                for cabinet in row.cabinets:
                    cabinet.wear = Wear(faults, self.streams, cabinet.number, clock)
                    row.watch_clock(cabinet)

    def _workshop(self, days: int) -> Workshop | None:
        """The technicians, where any machine ever fails."""
        if not any(machine.faults.fails for machine in self.scenario.machines.values()):
            return None
        technician, hours = self.scenario.venue.technician, self.scenario.venue.hours
        on_duty = OpenClock(spans_of(technician.hours or hours, days))
        return Workshop(self.env, technician, on_duty, self.streams)

    def _expected(self, day: Day) -> Iterable[tuple[float, int, Party]]:
        """Who comes on a day, in order: time, number of the first, and how many newcomers or who was here before."""
        times, sizes = self._profile.first_timers(day, self.streams, self.people.party, known=self._known)
        *first, self._known = accumulate(sizes, initial=self._known)
        newcomers = list(zip(times, first, sizes, strict=True))
        again = self._diary.pop(day.number, None)
        return newcomers if again is None else sorted([*newcomers, *again], key=itemgetter(0, 1))

    def expect_again(self, gone: Sequence[Leave], now: float) -> float:
        """Decide about coming back and put the next visit into the diary; its time, or infinity."""
        answer = self.coming_back.decide(gone)
        if answer is None:
            return math.inf
        delay, uniform = answer
        # The small hours belong to the evening before: what counts is the day of opening.
        today = self.open_days[bisect_right(self._openings, now) - 1].number
        earliest = max(int((now + delay) // DAY), today + 1)
        index = bisect_left(self._day_numbers, earliest)
        if index == len(self._day_numbers):
            return math.inf  # after the end of the run
        day = self.open_days[index]
        arrives = self._profile.hour_of(day, uniform)
        people = [one.visit.person for one in gone]
        if len(people) > 1:
            people.sort(key=attrgetter("number"))
        self._diary.setdefault(day.number, []).append((arrives, people[0].number, people))
        return arrives

    def patience(self, visit: Visit) -> float | None:
        """How long a visitor will wait this time, in seconds; None for ever."""
        patience = self.people.patience
        if patience.off:
            return None
        if patience.varies == "fixed":
            return patience.mean
        return -patience.mean * math.log(1.0 - next(visit.patience or visit.tap("patience")))

    def ends(self) -> float:
        """When the last session closed, in seconds; what lies beyond was not seen."""
        return self.open_days[-1].closes if self.open_days else 0.0
