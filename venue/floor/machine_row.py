"""A row of machines on the floor: its free cabinets, its one waiting line, its coin box and its clock of use."""

from __future__ import annotations

from collections import deque
from math import inf, log
from typing import TYPE_CHECKING

import simpy

from venue.floor.allowance import falls_short
from venue.floor.cabinet import CLOSED, FAULT, IDLE, IN_PLAY, Cabinet
from venue.floor.game import Game
from venue.floor.line import WaitingLine
from venue.floor.price_list import Price, steps_of_day
from venue.scenario.machine import Machine
from venue.scenario.people import BuyIn
from venue.visitors.choices import buy_in_choice
from venue.visitors.visit import Visit

if TYPE_CHECKING:
    from venue.floor.workshop import Workshop


class MachineRow(WaitingLine):
    """Cabinets alike, one price at a time, one line, first come first served.

    Attributes
    ----------
    working
        Cabinets that have not failed.
    attraction
        What the row offers before belief, waiting and suspicion: a utility, for as many options as cabinets work.
    accepts_next, accepts_join
        The decisions to buy into the next period, and into an open seat at a break.
    again_won, again_lost
        Credits for the first period of another contest played at once, after a win and otherwise, and the decision.
    price_to_join
        Credits for that seat, for the first period played in it.
    sides
        Seats on side A and on side B. At a machine with one seat the computer has the other side.
    free
        Cabinets that nobody plays or waits at.
    lone
        Cabinets at which visitors wait for open seats to fill, longest first.
    time
        Machine time by what the machines were doing, in seconds; `before` is the part in the warm-up.
    by_hour
        Credits taken in each hour of the run, less those refunded.
    refunded
        Credits given back in the whole run.
    """

    # So many attributes are found sooner in slots than in a dictionary.
    __slots__ = (
        "_buy_in", "_is_open", "_line_limit", "_play_time", "_price_taste", "_varies", "_weighting", "_workshop",
        "accepts_join", "accepts_next", "again_lost", "again_won", "attraction", "before", "by_hour", "cabinets",
        "free", "game", "key", "lone", "machine", "number", "opponent", "price", "price_later", "price_to_join",
        "refunded", "seats", "sides", "time", "working",
    )  # fmt: skip

    def __init__(
        self,
        number: int,
        key: str,
        machine: Machine,
        game: Game | None,
        env: simpy.Environment,
        *,
        hours: int,
        buy_in: BuyIn,
        weighting: float,
        price_taste: float,
        workshop: Workshop | None = None,
    ) -> None:
        super().__init__(env)
        self.number = number
        self.key = key
        self.machine = machine
        self.game = game
        # What is asked for often is held here: a look into the scenario takes longer.
        self.working, self.seats, self._line_limit = machine.count, machine.seats, machine.line_limit
        self._buy_in, self._weighting = buy_in, weighting
        self._price_taste, self._workshop = price_taste, workshop
        self.sides = (machine.seats + 1) // 2, max(1, machine.seats // 2)
        # Skill of the computer side at the machine's difficulty.
        self.opponent = game.tables.title.opponent_at(machine.difficulty) if game is not None else 0.0
        self._play_time = machine.play_time or 0.0
        self._varies = machine.play_time_varies == "exponential"
        self.time = {IN_PLAY: 0.0, IDLE: 0.0, FAULT: 0.0, CLOSED: 0.0}
        self.before = dict(self.time)
        self.refunded = 0
        self.cabinets = [Cabinet(self, place) for place in range(machine.count)]
        self.free = self.cabinets[::-1]
        self.by_hour = [0] * hours
        self._is_open = False
        self.lone: deque[Cabinet] = deque()
        self.set_price(next(iter(steps_of_day(machine).values())), 0.0)

    def set_price(self, price: Price, now: float) -> None:
        """From now on a contest costs this; one that has begun keeps its price. Who cannot pay it leaves the line."""
        self.price, self.price_later = price.first, price.later
        # Where going on costs nothing, because all was paid at the start, a later comer pays that.
        self.price_to_join = price.later or price.first
        tastes, weighting = self._buy_in, self._weighting
        self.accepts_next = buy_in_choice(tastes, tastes.go_on, price.later, weighting=weighting)
        self.accepts_join = buy_in_choice(tastes, tastes.go_on, self.price_to_join, weighting=weighting)
        another = max(0, price.first - self.machine.discount_again)
        self.again_lost = another, buy_in_choice(tastes, tastes.again, another, weighting=weighting)
        self.again_won = self.again_lost
        if self.machine.winner_free:
            self.again_won = 0, buy_in_choice(tastes, tastes.again, 0, weighting=weighting)
        self._weigh()
        for ticket in self.in_line():
            if ticket.visit.wallet < price.first and falls_short(ticket.visit, price.first, now):
                self.send_away(ticket, ticket.visit.last_no)

    def _weigh(self) -> None:
        if self.working:
            self.attraction = self.machine.appeal - self._price_taste * self.price + log(self.working)

    @property
    def take(self) -> int:
        """Credits taken in the whole run, less those refunded."""
        return sum(self.by_hour)

    def play_time(self, visit: Visit) -> float:
        """Length of one play at a machine without a contest, in seconds."""
        if self._varies:
            return -self._play_time * log(1.0 - next(visit.play or visit.tap("play")))
        return self._play_time

    def has_room(self) -> bool:
        """Whether somebody who comes now finds a seat or room in the line."""
        return bool(self.free or self.lone) or not self.line_is_full()

    def line_is_full(self) -> bool:
        """Whether the line has no room for one more; nobody waits for machines of which none works."""
        limit = self._line_limit
        return (limit is not None and self.waiting >= limit) or not self.working

    def release(self, cabinet: Cabinet, now: float) -> None:
        """Give up a cabinet: to the first in line, or back to the free ones."""
        if cabinet.has_failed:
            self._out_of_order(cabinet, now)
            return
        if cabinet.state is IN_PLAY:
            cabinet.turn(IDLE if self._is_open else CLOSED, now)
        self._offer(cabinet)

    def _offer(self, cabinet: Cabinet) -> None:
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

        def strike(_event: simpy.Event) -> None:
            # A play under way fails by itself; and the machine may have failed for another cause before.
            if cabinet.state is not IDLE or wear.fails_by_clock != due:
                return
            cabinet.has_failed = True
            if cabinet in self.free:
                self.free.remove(cabinet)
                self._out_of_order(cabinet, self.env.now)
            elif cabinet.group is not None:
                cabinet.group.stop_waiting()

        timeout = self.env.timeout(max(0.0, due - self.env.now))
        if timeout.callbacks is not None:
            timeout.callbacks.append(strike)

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
        cabinet.has_failed = False
        if cabinet.wear is not None:
            cabinet.wear.renew(now)
            self.watch_clock(cabinet)
        self.working += 1
        self._weigh()
        cabinet.turn(IDLE if self._is_open else CLOSED, now)
        self._offer(cabinet)

    def open(self, now: float) -> None:
        """The venue opens."""
        self._is_open = True
        for cabinet in self.cabinets:
            if cabinet.state is CLOSED:
                cabinet.turn(FAULT if cabinet.has_failed else IDLE, now)

    def close(self, now: float) -> None:
        """The venue closes: lines break up; contests under way play out the period that is paid for."""
        self._is_open = False
        self.break_up("closing time")
        for cabinet in self.cabinets:
            if cabinet.state is IDLE or cabinet.state is FAULT:
                cabinet.turn(CLOSED, now)
            if cabinet.group is not None:
                cabinet.group.stop_waiting()

    def mark_warm(self, now: float) -> None:
        """The warm-up is over: note how long the machines have done what by now."""
        self.settle(now)
        self.before = dict(self.time)

    def since_warm(self, state: str) -> float:
        """Machine time in a state since the warm-up, in seconds."""
        return self.time[state] - self.before[state]

    def settle(self, now: float) -> None:
        """Book the time up to now."""
        for cabinet in self.cabinets:
            cabinet.turn(cabinet.state, now)
