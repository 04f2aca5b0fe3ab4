"""One run of the floor: days of opening, people from outside and people who come again, until the last has left."""

from __future__ import annotations

from collections.abc import Sequence

import simpy

from venue.contest.table import TitleTables
from venue.floor.accounts import Account, balance
from venue.floor.buy_in import PassedOver
from venue.floor.calendar import Day, open_days, sessions
from venue.floor.context import Context, Habits
from venue.floor.door import Door
from venue.floor.floor_title import FloorTitle
from venue.floor.hours_clock import HoursClock, spans_of
from venue.floor.ledger import Ledger
from venue.floor.machine import MachineRow
from venue.floor.machine_choice import MachineChoice
from venue.floor.price_list import changes_of_day
from venue.floor.process import Process, Steps, run_out
from venue.floor.visit import visit_steps
from venue.floor.wear import Wear
from venue.floor.workshop import Workshop
from venue.scenario.scenario import Scenario
from venue.streams import Streams
from venue.threads import no_collection
from venue.units import DAY
from venue.visitors.perception import weighed
from venue.visitors.person import Person

# Contests that began before closing play out the period they paid for, so a run outlasts its last closing a little.
_HOURS_AFTER = 48


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
    context
        Clock, ledger and habits of the run.
    ledger
        Rows of plays, visits and offers, and counts.
    rows
        The machines, in the order of the scenario.
    open_days
        The days on which the venue opens.
    door, choice
        Who comes in, and where to they turn.
    """

    __slots__ = ("_is_warm", "choice", "context", "door", "ledger", "open_days", "rows", "scenario")

    def __init__(
        self, scenario: Scenario, tables: dict[str, TitleTables], streams: Streams, days: int, *,
        keep_offers: bool = False,
    ) -> None:  # fmt: skip
        self.scenario = scenario
        people, site = scenario.people, scenario.venue
        self.ledger = Ledger(len(scenario.titles), keep_offers=keep_offers)
        habits = Habits(people, streams)
        self.context = context = Context(habits, self.ledger)
        self.open_days = open_days(site, days)
        self.door = Door(scenario, self.open_days, streams)
        self._is_warm = False
        workshop = _workshop(scenario, context.env, days, streams)
        titles = {
            key: FloorTitle(number, tables[key], self.ledger.offers.by_margin[number])
            for number, key in enumerate(scenario.titles)
        }
        self.rows = [
            MachineRow(
                number,
                key,
                machine,
                titles[machine.title] if machine.title else None,
                context,
                hours=days * 24 + _HOURS_AFTER,
                buy_in=people.buy_in,
                weighting=people.belief.weighting,
                price_taste=people.choice.price,
                workshop=workshop,
            )
            for number, (key, machine) in enumerate(scenario.machines.items())
        ]
        _wear_out(self.rows, streams, HoursClock(spans_of(site.hours, days)))
        self.choice = MachineChoice(
            people.choice,
            self.rows,
            prior_weight=weighed(habits.prior_belief, people.belief.weighting),
            together=people.party.together,
        )
        if keep_offers:
            self.choice.passed_over = PassedOver(context)

    def run(self) -> list[Account]:
        """Run until the last visitor has left; returns the accounts, which balance."""
        env = self.context.env
        with no_collection():
            Process(env, self._days())
            run_out(env)
        for row in self.rows:
            row.settle(env.now)
        return balance(self.ledger, self.rows, self.door.till, env.now)

    def ends(self) -> float:
        """When the last session closed, in seconds; what lies beyond was not seen."""
        return self.open_days[-1].closes if self.open_days else 0.0

    def _forget(self, _event: simpy.Event) -> None:
        self.ledger.forget()

    def _days(self) -> Steps:
        context, env = self.context, self.context.env
        warm_up = self.scenario.study.warm_up
        env.timeout(warm_up * DAY).callbacks.append(self._forget)
        for session in sessions(self.open_days):
            yield session[0].opens - env.now
            context.closing = session[-1].closes
            for row in self.rows:
                row.open(env.now)
            for day in session:
                if env.now < day.opens:
                    yield day.opens - env.now
                if not self._is_warm and day.number >= warm_up:
                    self._is_warm = True
                    for row in self.rows:
                        row.mark_warm(env.now)
                for row in self.rows:
                    if row.machine.prices or row.machine.prices_to_go_on:
                        Process(env, self._prices(row, day))
                yield from self._admit(day)
            yield context.closing - env.now
            for row in self.rows:
                row.close(env.now)

    def _admit(self, day: Day) -> Steps:
        """Let in all who come on a day, as they come."""
        context, door, choice, env = self.context, self.door, self.choice, self.context.env
        ledger, traits = self.ledger, context.habits.traits
        now = env.now
        for arrives, number, people in door.expected(day):
            if arrives > now:
                yield arrives - now
                now = env.now
            if people == 1:
                party: Sequence[Person] = (Person(number),)
            elif isinstance(people, int):
                party = [Person(number + place) for place in range(people)]
            else:
                party = people
            ledger.entered += len(party)
            ledger.inside += len(party)
            for visit in traits.set_out(party, now):
                if door.counts_wallets:
                    door.count_wallet(visit)
                Process(env, visit_steps(context, door, choice, visit))

    def _prices(self, row: MachineRow, day: Day) -> Steps:
        """What a row of machines costs through a day."""
        env = self.context.env
        for time, price in changes_of_day(row.machine, day):
            if time > env.now:
                yield time - env.now
            row.set_price(price, env.now)
            self.choice.follow_prices()


def _wear_out(rows: Sequence[MachineRow], streams: Streams, clock: HoursClock) -> None:
    """Machines that fail or jam begin to wear."""
    for row in rows:
        faults = row.machine.faults
        if faults.fails or faults.jam:
            for cabinet in row.cabinets:
                cabinet.wear = Wear(faults, streams, cabinet.number, clock)
                row.watch_clock(cabinet)


def _workshop(scenario: Scenario, env: simpy.Environment, days: int, streams: Streams) -> Workshop | None:
    """The technicians, where any machine ever fails."""
    if not any(machine.faults.fails for machine in scenario.machines.values()):
        return None
    technician, hours = scenario.venue.technician, scenario.venue.hours
    return Workshop(env, technician, HoursClock(spans_of(technician.hours or hours, days)), streams)
