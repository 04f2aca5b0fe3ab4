"""A row of machines on the floor: its free cabinets, its one waiting line, its coin box and its clock of use."""

from __future__ import annotations

from collections import deque
from math import log
from typing import Any

import simpy

from venue.contest.table import TitleTables
from venue.players.choices import buy_in_choice
from venue.players.perception import Scoreboard
from venue.players.person import Visit
from venue.scenario.machine import Machine
from venue.scenario.people import BuyIn

IN_PLAY, IDLE, CLOSED = "in play", "idle", "closed"


class Cabinet:
    """One machine: what it is doing, since when, and who waits alone at it for an opponent."""

    __slots__ = ("_time", "lone", "row", "since", "state")

    def __init__(self, row: MachineRow) -> None:
        self.row = row
        self._time = row.time
        self.state = CLOSED
        self.since = 0.0
        self.lone: Any = None

    def turn(self, state: str, now: float) -> None:
        """Change what the machine is doing, and book the time it did the old thing."""
        self._time[self.state] += now - self.since
        self.state = state
        self.since = now


class Ticket:
    """A place in a waiting line."""

    __slots__ = ("called", "waiting")

    def __init__(self, env: simpy.Environment) -> None:
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
    accepts_next, accepts_again
        The decisions to buy into the next period, and into another contest.
    free
        Cabinets that nobody plays or waits at.
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
        self.accepts_next = buy_in_choice(buy_in, buy_in.go_on, machine.price_later)
        self.accepts_again = buy_in_choice(buy_in, buy_in.again, machine.price)
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
        # Cabinets at which one visitor waits for another, longest first.
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

    def join_line(self, patience: float | None) -> Ticket:
        """Stand in line. The ticket's event brings a cabinet, or None after `patience` seconds or at closing."""
        ticket = Ticket(self.env)
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
            ticket.waiting = False
            self.waiting -= 1
            ticket.called.succeed(None)

    def release(self, cabinet: Cabinet, now: float) -> None:
        """Give up a cabinet: to the first in line, or back to the free ones."""
        if cabinet.state is IN_PLAY:
            cabinet.turn(IDLE if self._is_open else CLOSED, now)
        line = self._line
        while line:
            ticket = line.popleft()
            if ticket.waiting:
                ticket.waiting = False
                self.waiting -= 1
                ticket.called.succeed(cabinet)
                return
        self.free.append(cabinet)

    def seat_alone(self, cabinet: Cabinet, lone: Any) -> None:
        """Somebody sits down alone at a two-seat machine; the first in line, if any, is called to the other seat."""
        cabinet.lone = lone
        while self._line:
            ticket = self._line.popleft()
            if ticket.waiting:
                ticket.waiting = False
                self.waiting -= 1
                lone.settled = True
                ticket.called.succeed(cabinet)
                return
        self.lone.append(cabinet)

    def no_longer_alone(self, cabinet: Cabinet) -> None:
        """The wait for an opponent at a two-seat machine is over."""
        cabinet.lone = None
        if cabinet in self.lone:
            self.lone.remove(cabinet)

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
            if cabinet.lone is not None:
                cabinet.lone.called_off()

    def mark_warm(self, now: float) -> None:
        """The warm-up is over: note how long the machines have been in play by now."""
        self.settle(now)
        self.in_play_before = self.time[IN_PLAY]

    def settle(self, now: float) -> None:
        """Book the time up to now."""
        for cabinet in self.cabinets:
            cabinet.turn(cabinet.state, now)
