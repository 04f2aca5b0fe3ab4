"""Machines on the floor: one cabinet, and a row of cabinets alike with one waiting line and one coin box."""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, log
from typing import Protocol

from venue.floor.coin_box import CoinBox
from venue.floor.context import Context
from venue.floor.floor_title import FloorTitle
from venue.floor.line import WaitingLine
from venue.floor.offer import Offer, at_breaks
from venue.floor.price_list import Price, steps_of_day
from venue.floor.process import Appointment
from venue.floor.seat import Seat
from venue.floor.wear import Wear
from venue.floor.workshop import Workshop
from venue.scenario.faults import Faults
from venue.scenario.machine import Machine
from venue.scenario.people import BuyIn
from venue.visitors.choices import buy_in_decision
from venue.visitors.visit import Visit

IN_PLAY, IDLE, FAULT, CLOSED = "in play", "idle", "in fault", "closed"
# A contest that had begun by closing time is played on behind closed doors.
PLAYED_OUT = "in play after closing"
STATES = (IN_PLAY, PLAYED_OUT, IDLE, FAULT, CLOSED)
# The most in a row; a machine's number is its row's place times this, plus its own place.
MOST_CABINETS = 10_000


class SeatedTogether(Protocol):
    """The visitors at a machine with several seats, as far as the machine knows them."""

    @property
    def seats(self) -> Sequence[Seat]:
        """The visitors, in the order in which they sat down."""

    def sit(self, visit: Visit) -> Seat:
        """One more sits down."""

    def stop_waiting(self) -> None:
        """Nobody is waited for any longer."""


@dataclass(frozen=True)
class RowState:
    """Where a row of machines stands when nobody plays, as plain data; machines go by their places in the row.

    Attributes
    ----------
    free, failed
        Machines in order, the one to be taken next last; and those that are not.
    wear
        How far those have worn that wear.
    faults
        How often they fail, that being what they wore under.
    """

    free: list[int]
    failed: list[int]
    wear: dict[int, list[float]]
    faults: Faults


class Cabinet:
    """One machine: what it is doing, since when, and at one with several seats who sits at it.

    Attributes
    ----------
    row
        The row it stands in.
    number
        Its number among all machines of the venue.
    wear
        When it fails or jams; None where it never does.
    has_failed
        Whether it waits for the technician, or will when those who sit at it have got up.
    is_gone
        Whether it has been taken away.
    seated
        Those who sit at it, where it has several seats.
    """

    __slots__ = ("_time", "has_failed", "is_gone", "number", "row", "seated", "since", "state", "wear")

    def __init__(self, row: MachineRow, place: int, now: float = 0.0) -> None:
        self.row = row
        self.number = row.number * MOST_CABINETS + place
        self.wear: Wear | None = None
        self.has_failed = self.is_gone = False
        self._time = row.time
        self.state = CLOSED
        self.since = now
        self.seated: SeatedTogether | None = None

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


class MachineRow(WaitingLine):
    """Cabinets alike, one price at a time, one line, first come first served.

    Attributes
    ----------
    working
        Cabinets that have not failed.
    attraction
        What the row offers before belief, waiting and suspicion: a utility, for as many options as cabinets work.
    price
        Credits for the first period, or for one play.
    price_later, goes_on
        Credits for each later period, and the offer of it at a break.
    join
        The offer of the first period played in an open seat, at a break.
    again_won, again_lost
        Offers of the first period of another contest played at once, after a win and otherwise.
    sides
        Seats on side A and on side B. At a machine with one seat the computer has the other side.
    opponent
        Skill of the computer side at the machine's difficulty, in log-odds.
    free
        Cabinets that nobody plays or waits at.
    gathering
        Visitors who wait for open seats at their cabinets to fill, longest first.
    settings
        The titles played on it so far, each as it was set, and since when.
    coin_box
        The credits taken.
    time
        Machine time by what the machines were doing, in seconds, since the warm-up; `before` is that in the warm-up.
    """

    # So many attributes are found sooner in slots than in a dictionary.
    __slots__ = (
        "_buy_in", "_context", "_copies", "_is_open", "_line_limit", "_play_time", "_price_taste", "_stands_from",
        "_stood", "_varies", "_weighting", "_workshop", "again_lost", "again_won", "attraction", "before", "cabinets",
        "coin_box", "free", "gathering", "goes_on", "join", "key", "machine", "number", "opponent", "price",
        "price_later", "seats", "settings", "sides", "time", "title", "working",
    )  # fmt: skip

    def __init__(
        self,
        number: int,
        key: str,
        machine: Machine,
        title: FloorTitle | None,
        context: Context,
        *,
        hours: int,
        buy_in: BuyIn,
        weighting: float,
        price_taste: float,
        copies: float = 1.0,
        workshop: Workshop | None = None,
    ) -> None:
        super().__init__(context.env)
        self._context = context
        self.number = number
        self.key = key
        self.machine = machine
        self.title = title
        self.settings = [] if title is None else [(context.env.now, title)]
        # What is asked for often is held here: a look into the scenario takes longer.
        self.working, self._line_limit = machine.count, machine.line_limit
        self.seats: int = machine.seats
        self._buy_in, self._weighting = buy_in, weighting
        self._price_taste, self._copies, self._workshop = price_taste, copies, workshop
        self.sides = (machine.seats + 1) // 2, max(1, machine.seats // 2)
        self.opponent = title.tables.title.opponent_at(machine.difficulty) if title is not None else 0.0
        self._play_time = machine.play_time or 0.0
        self._varies = machine.play_time_varies == "exponential"
        self.time = dict.fromkeys(STATES, 0.0)
        self.before = dict(self.time)
        now = context.env.now
        self._stands_from, self._stood = now, 0.0
        self.cabinets = [Cabinet(self, place, now) for place in range(machine.count)]
        self.free = self.cabinets[::-1]
        self.coin_box = CoinBox(hours)
        self._is_open = False
        self.gathering: deque[SeatedTogether] = deque()
        self.set_price(next(iter(steps_of_day(machine).values())), now)

    def change(self, machine: Machine, title: FloorTitle | None, now: float) -> list[Cabinet]:
        """Another setting holds from now on; nobody may be at the row. Returns the cabinets that are new."""
        new = self._recount(machine.count, now) if machine.count != len(self.cabinets) else []
        self.machine = machine
        if title is not None and title is not self.title:
            self.title = title
            self.settings.append((now, title))
        self.set_price(next(iter(steps_of_day(machine).values())), now)
        return new

    def _recount(self, count: int, now: float) -> list[Cabinet]:
        """There are more cabinets now, or fewer: those that came last go first."""
        self.settle(now)
        self._stood, self._stands_from = self.stood(now), now
        gone, self.cabinets = self.cabinets[count:], self.cabinets[:count]
        new = [Cabinet(self, place, now) for place in range(len(self.cabinets), count)]
        self.cabinets += new
        for cabinet in gone:
            cabinet.is_gone = True
        self.free = [*new[::-1], *(cabinet for cabinet in self.free if not cabinet.is_gone)]
        self.working = sum(not cabinet.has_failed for cabinet in self.cabinets)
        return new

    def set_price(self, price: Price, now: float) -> None:
        """From now on a contest costs this; one that has begun keeps its price. Who cannot pay it leaves the line."""
        machine, tastes = self.machine, self._buy_in
        self.price = first = price.first
        # Where going on costs nothing, because all was paid at the start, a later comer pays that.
        to_join = price.later or first
        self.price_later = price.later
        if self.title is not None:
            go_on = self._offer(tastes.go_on, price.later)
            self.goes_on = at_breaks(self._context, self.title, self.number, self.coin_box, go_on)
        self.join = self._offer(tastes.go_on, to_join)
        another = max(0, first - machine.discount_again)
        self.again_won = self.again_lost = self._offer(tastes.again, another, is_another=True)
        if machine.winner_free:
            self.again_won = self._offer(tastes.again, 0, is_another=True)
        self._weigh()
        for ticket in self.in_line():
            visit = ticket.visit
            if visit.wallet < first and visit.falls_short(first, now):
                self.send_away(ticket, visit.last_no)

    def _offer(self, constant: float, price: int, *, is_another: bool = False) -> Offer:
        return Offer(
            price, buy_in_decision(self._buy_in, constant, price, weighting=self._weighting, is_another=is_another)
        )

    def _weigh(self) -> None:
        if self.working:
            self.attraction = self.machine.appeal - self._price_taste * self.price + self._copies * log(self.working)

    def play_time(self, visit: Visit) -> float:
        """Length of one play at a machine without a contest, in seconds."""
        if self._varies:
            return -self._play_time * log(1.0 - next(visit.play or visit.tap("play")))
        return self._play_time

    def has_room(self) -> bool:
        """Whether somebody who comes now finds a seat or room in the line."""
        return bool(self.free or self.gathering) or not self.line_is_full()

    def line_is_full(self) -> bool:
        """Whether the line has no room for one more; nobody waits for machines of which none works."""
        limit = self._line_limit
        return (limit is not None and self.waiting >= limit) or not self.working

    def release(self, cabinet: Cabinet, now: float) -> None:
        """Give up a cabinet: to the first in line, or back to the free ones."""
        if cabinet.has_failed:
            self._out_of_order(cabinet, now)
            return
        if cabinet.state is IN_PLAY or cabinet.state is PLAYED_OUT:
            cabinet.turn(IDLE if self._is_open else CLOSED, now)
        self._hand_on(cabinet)

    def _hand_on(self, cabinet: Cabinet) -> None:
        ticket = self.next_in_line() if self.waiting else None
        if ticket is None:
            self.free.append(cabinet)
        else:
            ticket.called.succeed(cabinet)

    def watch_clock(self, cabinet: Cabinet) -> None:
        """See to it that the machine fails for having been on so long, even if nobody plays it then."""
        wear = cabinet.wear
        if wear is None or wear.fails_by_clock == inf:
            return
        due = wear.fails_by_clock

        def strike() -> None:
            # A play under way fails by itself; and the machine may have failed for another cause before, or be gone.
            if cabinet.is_gone or cabinet.state is not IDLE or wear.fails_by_clock != due:
                return
            cabinet.has_failed = True
            if cabinet in self.free:
                self.free.remove(cabinet)
                self._out_of_order(cabinet, self.env.now)
            elif cabinet.seated is not None:
                cabinet.seated.stop_waiting()

        Appointment(self.env, max(due, self.env.now), strike)

    def _out_of_order(self, cabinet: Cabinet, now: float) -> None:
        cabinet.turn(FAULT if self._is_open else CLOSED, now)
        self.working -= 1
        self._weigh()
        if not self.working:
            self.break_up("machine failed")
        if self._workshop is not None:
            self._workshop.report(cabinet)

    def back_in_order(self, cabinet: Cabinet, now: float) -> None:
        """A machine works again: to the first in line, or to the free ones."""
        if cabinet.is_gone:
            return
        cabinet.has_failed = False
        if cabinet.wear is not None:
            cabinet.wear.renew(now)
            self.watch_clock(cabinet)
        self.working += 1
        self._weigh()
        cabinet.turn(IDLE if self._is_open else CLOSED, now)
        self._hand_on(cabinet)

    def open(self, now: float) -> None:
        """The venue opens."""
        self._is_open = True
        for cabinet in self.cabinets:
            if cabinet.state is CLOSED:
                cabinet.turn(FAULT if cabinet.has_failed else IDLE, now)
            elif cabinet.state is PLAYED_OUT:
                cabinet.turn(IN_PLAY, now)

    def close(self, now: float) -> None:
        """The venue closes: lines break up; contests under way play out the period that is paid for."""
        self._is_open = False
        self.break_up("closing time")
        for cabinet in self.cabinets:
            if cabinet.state is IDLE or cabinet.state is FAULT:
                cabinet.turn(CLOSED, now)
            elif cabinet.state is IN_PLAY:
                cabinet.turn(PLAYED_OUT, now)
            if cabinet.seated is not None:
                cabinet.seated.stop_waiting()

    def mark_warm(self, now: float) -> None:
        """The warm-up is over: what the machines have done by now is set aside."""
        self.settle(now)
        for state, seconds in self.time.items():
            self.before[state] += seconds
            self.time[state] = 0.0

    def booked(self, state: str) -> float:
        """Machine time in a state, the warm-up's too, in seconds."""
        return self.before[state] + self.time[state]

    def stood(self, now: float) -> float:
        """How long machines have stood here, all of them together, in seconds."""
        return self._stood + len(self.cabinets) * (now - self._stands_from)

    def settle(self, now: float) -> None:
        """Book the time up to now."""
        for cabinet in self.cabinets:
            cabinet.turn(cabinet.state, now)

    def state(self) -> RowState:
        """Where the row stands; nobody may be at it."""
        place_of = {cabinet: place for place, cabinet in enumerate(self.cabinets)}
        return RowState(
            [place_of[cabinet] for cabinet in self.free],
            [place for cabinet, place in place_of.items() if cabinet.has_failed],
            {place: cabinet.wear.state() for cabinet, place in place_of.items() if cabinet.wear is not None},
            self.machine.faults,
        )

    def resume(self, state: RowState) -> None:
        """Go on from where a row stood that had as many machines, or more, or fewer."""
        count = len(self.cabinets)
        failed = [place for place in state.failed if place < count]
        for place in failed:
            self.cabinets[place].has_failed = True
        known = [place for place in state.free if place < count]
        fresh = [place for place in range(count)[::-1] if place not in known and place not in failed]
        self.free = [self.cabinets[place] for place in (*fresh, *known)]
        self.working = count - len(failed)
        self._weigh()
        for place, worn in state.wear.items():
            wear = self.cabinets[place].wear if place < count else None
            if wear is not None and state.faults == self.machine.faults:
                wear.resume(worn)
