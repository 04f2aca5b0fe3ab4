"""The visitors seated at one machine with several seats, from the first to sit down to the last to get up.

They wait for the open seats to fill, play, and stay seated for another contest or get up. Those who wait in line are
called to an open seat between contests, and may buy into one at a period break.
"""

from __future__ import annotations

from collections.abc import Sequence

import simpy

from venue.contest.table import Break
from venue.floor.buy_in import joins, wants_another
from venue.floor.context import Context
from venue.floor.floor_title import FloorTitle
from venue.floor.machine import IDLE, IN_PLAY, Cabinet, MachineRow
from venue.floor.process import Process, Steps
from venue.floor.seat import Seat
from venue.floor.shared_contest import SharedContest
from venue.floor.sides import arrange, side_for
from venue.visitors.visit import Visit


class Seating:
    """Those who sit at one cabinet.

    Attributes
    ----------
    seats
        The visitors, in the order in which they sat down.
    """

    __slots__ = ("_cabinet", "_context", "_filled", "_row", "_title", "_wanted", "seats")

    def __init__(self, context: Context, row: MachineRow, title: FloorTitle, cabinet: Cabinet) -> None:
        self._context = context
        self._row = row
        self._title = title
        self._cabinet = cabinet
        self.seats: list[Seat] = []
        # While they wait for others: fires when so many sit here, or when the wait is over.
        self._filled: simpy.Event | None = None
        self._wanted = 0

    def sit(self, visit: Visit) -> Seat:
        """A visitor sits down; `given_up` of their seat fires when they get up again."""
        env = self._context.env
        seat = Seat(visit, self._row.price, env.event(), env.now)
        self.seats.append(seat)
        visit.at = self._row
        if self._filled is not None and len(self.seats) >= self._wanted:
            self.stop_waiting(self._filled)
        return seat

    def begin(self) -> None:
        """The first has sat down."""
        self._cabinet.seated = self
        Process(self._context.env, self._steps())

    def _steps(self) -> Steps:
        context, row, env = self._context, self._row, self._context.env
        only_wait = row.machine.alone == "wait"
        while self.seats:
            yield from self._gather(only_wait)
            now = env.now
            for seat in self.seats:
                seat.visit.waited += now - seat.waits_since
            if now >= context.closing:
                self._all_get_up("closing time")
            elif self._cabinet.has_failed:
                self._all_get_up("machine failed")
            elif only_wait and len(self.seats) == 1:
                self._all_get_up("waited too long")
            else:
                arrange(self.seats, row.sides)
                contest = SharedContest(context, row, self._title, self._cabinet, self.seats, self._offer_seats)
                yield from contest.steps()
                self._after_contest()
        self._cabinet.seated = None
        row.release(self._cabinet, env.now)

    def _gather(self, only_wait: bool) -> Steps:
        """Wait for the open seats to fill, first from the line; then for so long, or for as long as patience lasts."""
        row = self._row
        self._call_from_line()
        if only_wait and len(self.seats) == 1:
            yield from self._wait_for(2, self._context.habits.patience(self.seats[0].visit))
            if len(self.seats) == 1:
                return
        yield from self._wait_for(row.seats, row.machine.wait_for_opponent)

    def _wait_for(self, wanted: int, limit: float | None) -> Steps:
        """Wait until so many are seated, for at most `limit` seconds; None is for ever."""
        if len(self.seats) >= wanted or self._context.env.now >= self._context.closing:
            return
        env = self._context.env
        self._wanted = wanted
        self._filled = filled = env.event()
        self._row.gathering.append(self)
        if limit is not None:
            timeout = env.timeout(limit)
            if timeout.callbacks is not None:
                timeout.callbacks.append(lambda _: self.stop_waiting(filled))
        yield filled

    def stop_waiting(self, filled: simpy.Event | None = None) -> None:
        """The wait for others is over: the seats have filled, nobody came in time, or the venue closes."""
        filled = filled or self._filled
        if filled is not None and not filled.triggered:
            self._filled = None
            self._row.gathering.remove(self)
            filled.succeed()

    def _call_from_line(self) -> None:
        """Those in line take the open seats, first come first served."""
        while len(self.seats) < self._row.seats:
            ticket = self._row.next_in_line()
            if ticket is None:
                return
            ticket.called.succeed(self.sit(ticket.visit))

    def _offer_seats(self, here: Break, leaving: Sequence[Seat]) -> list[Seat]:
        """Offer the seats that are open at a break to those in line; who buys in, seated.

        `here` is how the contest stands, `leaving` those who are getting up.
        """
        context, row, env = self._context, self._row, self._context.env
        staying = [seat for seat in self.seats if seat not in leaving]
        joined: list[Seat] = []
        if not staying or not row.machine.join or env.now >= context.closing:
            return joined
        for ticket in row.in_line():
            if len(staying) + len(joined) >= row.seats:
                break
            visit = ticket.visit
            side = side_for(visit, [*staying, *joined], row.sides)
            if joins(context, row, self._title, visit, here, side):
                row.call(ticket)
                seat = self.sit(visit)
                seat.side, seat.price = side, row.join.price
                joined.append(seat)
                ticket.called.succeed(seat)
        return joined

    def _after_contest(self) -> None:
        """Who wants another contest stays seated; with people in line, losers may have to give up their seats."""
        context, row, now = self._context, self._row, self._context.env.now
        # After closing all get up, and the row shuts the machine down.
        if self._cabinet.state is IN_PLAY and now < context.closing:
            self._cabinet.turn(IDLE, now)
        for seat in self.seats[:]:
            loses_it = row.machine.winner_stays and seat.against and row.waiting and seat.result != 1.0
            if loses_it or not wants_another(context, row, self._title, seat, now):
                self._get_up(seat)
            else:
                seat.waits_since = now

    def _all_get_up(self, reason: str) -> None:
        for seat in self.seats[:]:
            seat.visit.last_no = reason
            self._get_up(seat)

    def _get_up(self, seat: Seat) -> None:
        self.seats.remove(seat)
        seat.get_up()
