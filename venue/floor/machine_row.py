"""A row of machines on the floor: its free cabinets, its one waiting line, its coin box and its clock of use."""

from __future__ import annotations

from collections import deque
from math import log
from typing import Any

import simpy

from venue.contest.table import TitleTables
from venue.players.choices import Accepts, buy_in_choice
from venue.players.perception import Scoreboard
from venue.players.person import Visit
from venue.scenario.machine import Machine
from venue.scenario.people import BuyIn

IN_PLAY, IDLE, CLOSED = "in play", "idle", "closed"


class Cabinet:
    """One machine: what it is doing, since when, and at one with several seats who sits at it."""

    __slots__ = ("_time", "group", "row", "since", "state")

    def __init__(self, row: MachineRow) -> None:
        self.row = row
        self._time = row.time
        self.state = CLOSED
        self.since = 0.0
        self.group: Any = None

    def turn(self, state: str, now: float) -> None:
        """Change what the machine is doing, and book the time it did the old thing."""
        self._time[self.state] += now - self.since
        self.state = state
        self.since = now


class Ticket:
    """A place in a waiting line."""

    __slots__ = ("called", "visit", "waiting")

    def __init__(self, visit: Visit, env: simpy.Environment) -> None:
        self.visit = visit
        self.called: simpy.Event = env.event()
        self.waiting = True


class Game:
    """A title as the floor uses it: its solved tables at one strength and the reading of its scoreboard."""

    def __init__(self, number: int, tables: TitleTables) -> None:
        title = tables.title
        self.number = number
        self.tables = tables
        self.periods = title.periods
        self.pause = title.break_length
        self.close = title.close
        # How the computer side steps up with each win in a row against it.
        self.ladder_step, self.rungs = (title.ladder.step, title.ladder.rungs) if title.ladder else (0.0, 0)
        self.scoreboard = Scoreboard(title.periods, tables.spread)


class MachineRow:
    """Cabinets alike, one price, one line, first come first served.

    Attributes
    ----------
    attraction
        What the row offers before belief, waiting and suspicion: a utility, for as many options as it has cabinets.
    accepts_next, accepts_join
        The decisions to buy into the next period, and into an open seat at a break.
    price_to_join
        Credits for that seat, for the first period played in it.
    sides
        Seats on side A and on side B. At a machine with one seat the computer has the other side.
    free
        Cabinets that nobody plays or waits at.
    lone
        Cabinets at which visitors wait for open seats to fill, longest first.
    waiting
        People in the line.
    time
        Machine time by what the machines were doing, in seconds; `in_play_before` is the part in play in the warm-up.
    by_hour
        Credits taken in each hour of the run.
    """

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
        attraction: float,
    ) -> None:
        self.number = number
        self.key = key
        self.machine = machine
        self.game = game
        # What is asked for often is held here: a look into the scenario takes longer.
        self.count, self.seats, self._line_limit = machine.count, machine.seats, machine.line_limit
        self.price = machine.price
        self.price_later = machine.price_later
        # Where going on costs nothing, because all was paid at the start, a later comer pays that.
        self.price_to_join = machine.price_later or machine.price
        self._buy_in, self._weighting = buy_in, weighting
        self.accepts_next = buy_in_choice(buy_in, buy_in.go_on, machine.price_later, weighting=weighting)
        self.accepts_join = buy_in_choice(buy_in, buy_in.go_on, self.price_to_join, weighting=weighting)
        self._again: dict[int, Accepts] = {}
        self.sides = (machine.seats + 1) // 2, max(1, machine.seats // 2)
        self.attraction = attraction
        # Skill of the computer side at the machine's difficulty.
        self.opponent = game.tables.title.opponent_at(machine.difficulty) if game is not None else 0.0
        self._play_time = machine.play_time or 0.0
        self._varies = machine.play_time_varies == "exponential"
        self.env = env
        self.time = {IN_PLAY: 0.0, IDLE: 0.0, CLOSED: 0.0}
        self.in_play_before = 0.0
        self.cabinets = [Cabinet(self) for _ in range(machine.count)]
        self.free = self.cabinets[::-1]
        self.waiting = 0
        self.by_hour = [0] * hours
        self._line: deque[Ticket] = deque()
        self._is_open = False
        self.lone: deque[Cabinet] = deque()

    @property
    def take(self) -> int:
        """Credits taken in the whole run."""
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
        """Whether the line has no room for one more."""
        limit = self._line_limit
        return limit is not None and self.waiting >= limit

    def price_again(self, won: bool) -> int:
        """Credits for the first period of another contest played at once."""
        if won and self.machine.winner_free:
            return 0
        return self.price - self.machine.discount_again

    def accepts_again(self, price: int) -> Accepts:
        """The decision to buy into another contest at a price."""
        found = self._again.get(price)
        if found is None:
            tastes = self._buy_in
            found = self._again[price] = buy_in_choice(tastes, tastes.again, price, weighting=self._weighting)
        return found

    def join_line(self, visit: Visit, patience: float | None) -> Ticket:
        """Stand in line. The ticket's event brings a cabinet or a seat, None after `patience` seconds or at closing."""
        ticket = Ticket(visit, self.env)
        self._line.append(ticket)
        self.waiting += 1
        if patience is not None:
            timeout = self.env.timeout(patience)
            callbacks = timeout.callbacks
            if callbacks is not None:
                callbacks.append(lambda _: self._send_away(ticket))
        return ticket

    def _send_away(self, ticket: Ticket) -> None:
        if ticket.waiting:
            self.call(ticket)
            ticket.called.succeed(None)

    def call(self, ticket: Ticket) -> None:
        """Take somebody out of the line."""
        ticket.waiting = False
        self.waiting -= 1

    def in_line(self) -> list[Ticket]:
        """Who waits, in order."""
        return [ticket for ticket in self._line if ticket.waiting]

    def next_in_line(self) -> Ticket | None:
        """Take the first out of the line; None if nobody waits."""
        line = self._line
        while line:
            ticket = line.popleft()
            if ticket.waiting:
                self.call(ticket)
                return ticket
        return None

    def release(self, cabinet: Cabinet, now: float) -> None:
        """Give up a cabinet: to the first in line, or back to the free ones."""
        if cabinet.state is IN_PLAY:
            cabinet.turn(IDLE if self._is_open else CLOSED, now)
        ticket = self.next_in_line() if self.waiting else None
        if ticket is None:
            self.free.append(cabinet)
        else:
            ticket.called.succeed(cabinet)

    def open(self, now: float) -> None:
        """The venue opens."""
        self._is_open = True
        for cabinet in self.cabinets:
            if cabinet.state is CLOSED:
                cabinet.turn(IDLE, now)

    def close(self, now: float) -> None:
        """The venue closes: lines break up; contests under way play out the period that is paid for."""
        self._is_open = False
        while self._line:
            self._send_away(self._line.popleft())
        for cabinet in self.cabinets:
            if cabinet.state is IDLE:
                cabinet.turn(CLOSED, now)
            if cabinet.group is not None:
                cabinet.group.stop_waiting()

    def mark_warm(self, now: float) -> None:
        """The warm-up is over: note how long the machines have been in play by now."""
        self.settle(now)
        self.in_play_before = self.time[IN_PLAY]

    def settle(self, now: float) -> None:
        """Book the time up to now."""
        for cabinet in self.cabinets:
            cabinet.turn(cabinet.state, now)
