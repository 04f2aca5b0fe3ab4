"""One run of the floor: days of opening, people from outside and people who come again, until the last has left."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from typing import Any

import simpy

from venue.contest.table import TitleTables
from venue.errors import RunError
from venue.floor.accounts import Account, balance
from venue.floor.buy_in import PassedOver
from venue.floor.calendar import Day, open_days, sessions
from venue.floor.context import Context, Habits
from venue.floor.door import Door
from venue.floor.floor_title import FloorTitle
from venue.floor.hours_clock import HoursClock, spans_of
from venue.floor.ledger import Ledger
from venue.floor.machine import Cabinet, MachineRow
from venue.floor.machine_choice import MachineChoice
from venue.floor.price_list import changes_of_day
from venue.floor.process import Process, Steps, next_event, run_out, step
from venue.floor.snapshot import Snapshot, laid_out
from venue.floor.timetable import Timetable
from venue.floor.visit import visit_steps
from venue.floor.wear import Wear
from venue.floor.workshop import Workshop, WorkshopState
from venue.scenario.in_force import days_of_change, in_force
from venue.scenario.machine import Machine
from venue.scenario.scenario import Scenario
from venue.scenario.title import Title
from venue.streams import Streams
from venue.threads import no_collection
from venue.units import DAY
from venue.visitors.perception import weighed
from venue.visitors.person import Person

# Contests that began before closing play out the period they paid for, so a run outlasts its last closing a little.
_HOURS_AFTER = 48

# Tables of a title by its key, the title, a strength and the switches that are off.
Solve = Callable[[str, Title, float, frozenset[str]], TitleTables]


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
        Day at which the run ends, day 0, a Monday, being that of the opening.
    keep_offers
        Whether to keep a row for each offer.
    start
        The venue as it stood when the run begins; None where it begins with the opening.
    ahead
        Days after the end for which people already plan, where the venue is to go on from there.
    solve
        Where to find the tables of machines with a setting of their own; solved by the floor itself if left out.

    Attributes
    ----------
    context
        Clock, ledger and habits of the run.
    ledger
        Rows of plays, visits and offers, and counts.
    rows
        The machines, in the order of the scenario.
    first_day, counted_from
        The day on which the run begins, and the first that measures do not leave out.
    open_days
        The days of the run on which the venue opens.
    door, choice
        Who comes in, and where to they turn.
    workshop
        The technicians, where any machine ever fails.
    """

    __slots__ = (
        "_changes", "_clock", "_counts", "_days_end", "_is_warm", "_solve", "_streams", "_tables", "_titles",
        "choice", "context", "counted_from", "door", "first_day", "ledger", "open_days", "rows", "scenario",
        "workshop",
    )  # fmt: skip

    def __init__(
        self, scenario: Scenario, tables: dict[str, TitleTables], streams: Streams, days: int, *,
        keep_offers: bool = False, start: Snapshot | None = None, ahead: int = 0, solve: Solve | None = None,
    ) -> None:  # fmt: skip
        self.first_day = first = start.day if start else 0
        self._changes = [(first + day, in_force(scenario, day)) for day in days_of_change(scenario) if day]
        self.scenario = scenario = in_force(scenario, 0)
        people, site = scenario.people, scenario.venue
        self.counted_from = first + scenario.study.warm_up
        self._days_end = days
        self.ledger = Ledger(len(scenario.titles), keep_offers=keep_offers, begun=start.begun if start else 0)
        habits = Habits(people, streams)
        self.context = context = Context(habits, self.ledger, start.now if start else 0.0)
        before = [(0, start.hours)] if start else []
        later = [(day, changed.venue.hours) for day, changed in self._changes]
        hours = Timetable([*before, (first, site.hours), *later])
        calendar = open_days(hours, days + ahead, first)
        self.open_days = [day for day in calendar if day.number < days]
        self.door = Door(
            scenario, calendar, streams, known=start.known if start else 0, kept=start.kept() if start else None
        )
        self._is_warm = False
        own = site.technician.hours
        staffed: Timetable[Any] = Timetable([(0, own)]) if own else hours
        self.workshop = _workshop(scenario, context.env, HoursClock(spans_of(staffed, days + ahead)), streams)
        self._tables, self._solve = tables, solve or _solved_now
        self._titles: dict[tuple[str, float, frozenset[str], str | None], FloorTitle] = {}
        self._counts = [
            [(first, machine.count), *((day, changed.machines[key].count) for day, changed in self._changes)]
            for key, machine in scenario.machines.items()
        ]
        self.rows = [
            MachineRow(
                number,
                key,
                machine,
                self._title(machine, scenario),
                context,
                hours=days * 24 + _HOURS_AFTER,
                buy_in=people.buy_in,
                weighting=people.belief.weighting,
                price_taste=people.choice.price,
                copies=people.choice.copies,
                workshop=self.workshop,
            )
            for number, (key, machine) in enumerate(scenario.machines.items())
        ]
        self._streams, self._clock = streams, HoursClock(spans_of(hours, days + ahead))
        for row in self.rows:
            self._wear_out(row.cabinets)
        if start:
            self._resume(start)
        for row in self.rows:
            for cabinet in row.cabinets:
                if not cabinet.has_failed:
                    row.watch_clock(cabinet)
        self.choice = MachineChoice(
            people.choice,
            self.rows,
            prior_weight=weighed(habits.prior_belief, people.belief.weighting),
            together=people.party.together,
        )
        if keep_offers:
            self.choice.passed_over = PassedOver(context)

    def _title(self, machine: Machine, scenario: Scenario) -> FloorTitle | None:
        """The title of a machine as it is set there."""
        key, study = machine.title, scenario.study
        if key is None:
            return None
        strength = study.strength if machine.strength is None else machine.strength
        off = frozenset(study.switches_off if machine.switches_off is None else machine.switches_off)
        # Difficulties at which the title is the same share what is solved.
        at = machine.difficulty if scenario.titles[key].at(machine.difficulty) is not scenario.titles[key] else None
        found = self._titles.get((key, strength, off, at))
        if found is None:
            tables = self._tables[key]
            if (tables.strength, tables.switches_off) != (strength, off):
                tables = self._solve(key, scenario.titles[key], strength, off)
            number = list(scenario.titles).index(key)
            found = FloorTitle(number, tables.at_difficulty(at), self.ledger.offers.by_margin[number])
            self._titles[key, strength, off, at] = found
        return found

    def _wear_out(self, cabinets: Iterable[Cabinet]) -> None:
        """Machines that fail or jam begin to wear."""
        for cabinet in cabinets:
            faults = cabinet.row.machine.faults
            if faults.fails or faults.jam:
                cabinet.wear = Wear(faults, self._streams, cabinet.number, self._clock, self.context.env.now)

    def _change(self, now: float) -> None:
        """From this opening on another setting holds."""
        _, self.scenario = self._changes.pop(0)
        for row, machine in zip(self.rows, self.scenario.machines.values(), strict=True):
            new = row.change(machine, self._title(machine, self.scenario), now)
            self._wear_out(new)
            for cabinet in new:
                row.watch_clock(cabinet)
        self.door.set_limits(self.scenario.limits)
        self.choice.follow_prices()

    def counted(self, row: MachineRow, days: Sequence[Day]) -> Machine:
        """A row as it stood over some days of opening: with so many machines as there were in the mean."""
        counts = self._counts[row.number]
        if not days or len({count for _, count in counts}) == 1:
            return row.machine
        hours = math.fsum(day.closes - day.opens for day in days)
        stood = math.fsum(
            (day.closes - day.opens) * next(count for since, count in reversed(counts) if since <= day.number)
            for day in days
        )
        return row.machine.model_copy(update={"count": stood / hours})

    def _resume(self, start: Snapshot) -> None:
        """Go on from where a venue stood."""
        for party in start.bring_back(self.context.habits.traits, tuple(self.scenario.titles)):
            self.door.note(party)
        for row in self.rows:
            if row.key in start.rows:
                row.resume(start.rows[row.key])
        if self.workshop is not None:
            self.workshop.resume(start.workshop, start.machines({row.key: row.cabinets for row in self.rows}))

    def run(self) -> list[Account]:
        """Run until the last visitor has left; returns the accounts, which balance."""
        env = self.context.env
        with no_collection():
            Process(env, self._days())
            run_out(env)
        return self._settled()

    def run_to_its_end(self) -> Snapshot:
        """Run until the last day is over and nobody is inside; the venue as it stands then.

        Raises
        ------
        RunError
            If the venue does not close on that eve, or the accounts do not balance.
        """
        env, ledger = self.context.env, self.ledger
        midnight, closes = self._days_end * DAY, self.ends()
        with no_collection():
            Process(env, self._days())
            while (due := next_event(env)) < midnight or due <= closes or (ledger.inside and due < math.inf):
                step(env)
        now = max(midnight, env.now)
        opens = self.door.opens_after(self._days_end)
        if opens is not None and now >= opens:
            raise RunError(
                f"the venue is not empty before day {self._days_end}: it must close for a while on the eve; "
                "shorten venue.hours, or leave study.before out"
            )
        env._now = now
        self._settled()
        outings, people, seen = laid_out(self.door.to_come(), self.door.till.kept if self.door.till else {})
        return Snapshot(
            self._days_end, now, self.door.known, ledger.begun, self.scenario.venue.hours,
            tuple(self.scenario.titles), {row.key: row.state() for row in self.rows},
            WorkshopState() if self.workshop is None else self.workshop.state(), outings, people, seen,
        )  # fmt: skip

    def _settled(self) -> list[Account]:
        now = self.context.env.now
        for row in self.rows:
            row.settle(now)
        return balance(self.ledger, self.rows, self.door.till, now)

    def begins(self) -> float:
        """When the part that measures are taken from begins, in seconds; the warm-up is over then."""
        if not self.first_day:
            return self.counted_from * DAY
        return next((day.opens for day in self.open_days if day.number >= self.counted_from), math.inf)

    def ends(self) -> float:
        """When the last session closed, in seconds; what lies beyond was not seen."""
        return self.open_days[-1].closes if self.open_days else 0.0

    def _forget(self, _event: simpy.Event) -> None:
        self.ledger.forget()

    def _days(self) -> Steps:
        context, env = self.context, self.context.env
        env.timeout(max(0.0, self.counted_from * DAY - env.now)).callbacks.append(self._forget)
        for session in sessions(self.open_days):
            self._check_closed(session)
            yield max(0.0, session[0].opens - env.now)
            context.closing = session[-1].closes
            while self._changes and self._changes[0][0] <= session[0].number:
                self._change(env.now)
            for row in self.rows:
                row.open(env.now)
            for day in session:
                if env.now < day.opens:
                    yield day.opens - env.now
                if not self._is_warm and day.number >= self.counted_from:
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

    def _check_closed(self, session: Sequence[Day]) -> None:
        """A change needs a closing to be made in."""
        for day, _ in self._changes:
            if session[0].number < day <= session[-1].number:
                raise RunError(
                    f"changes: the venue is open through the eve of day {day - self.first_day}, so that nothing can be "
                    "changed then; name a day before which it closes"
                )

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


def _solved_now(_key: str, title: Title, strength: float, off: frozenset[str]) -> TitleTables:
    return TitleTables(title, strength, off)


def _workshop(
    scenario: Scenario, env: simpy.Environment, on_duty: HoursClock, streams: Streams
) -> Workshop | None:  # fmt: skip
    """The technicians, where any machine ever fails."""
    if not any(machine.faults.fails for machine in scenario.machines.values()):
        return None
    return Workshop(env, scenario.venue.technician, on_duty, streams)
