"""The visitors seated at one machine with several seats, from the first to sit down to the last to get up.

They wait for the open seats to fill, play, and stay seated for another contest or get up. Who waits in line is called
to an open seat between contests, and may buy into one at a period break.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import simpy

from venue.contest.table import Break
from venue.floor.cabinet import IDLE, IN_PLAY, Cabinet
from venue.floor.contest import contest
from venue.floor.machine_row import MachineRow
from venue.floor.offers import joins, wants_another
from venue.floor.process import Steps, Walk
from venue.floor.seat import Seat, arrange, side_for
from venue.visitors.visit import Visit

if TYPE_CHECKING:
    from venue.floor.run import Floor


class Group:
    """Who sits at one cabinet.

    Attributes
    ----------
    seats
        The visitors, in the order in which they sat down.
    """

    __slots__ = ("_filled", "_wanted", "cabinet", "floor", "row", "seats")

    def __init__(self, floor: Floor, row: MachineRow, cabinet: Cabinet) -> None:
        self.floor = floor
        self.row = row
        self.cabinet = cabinet
        self.seats: list[Seat] = []
        # While they wait for others: fires when so many sit here, or when the wait is over.
        self._filled: simpy.Event | None = None
        self._wanted = 0

    def sit(self, visit: Visit) -> Seat:
        """A visitor sits down; their seat's event fires when they get up again."""
        env = self.floor.env
        seat = Seat(visit, self.row.price, env.event(), env.now)
        self.seats.append(seat)
        visit.at = self.row
        if self._filled is not None and len(self.seats) >= self._wanted:
            self.stop_waiting(self._filled)
        return seat

    def begin(self) -> None:
        """The first has sat down."""
        self.cabinet.group = self
        Walk(self.floor.env, self._steps())

    def _steps(self) -> Steps:
        floor, row, env = self.floor, self.row, self.floor.env
        only_wait = row.machine.alone == "wait"
        while self.seats:
            yield from self._gather(only_wait)
            now = env.now
            for seat in self.seats:
                seat.visit.waited += now - seat.since
            if now >= floor.closing:
                self._all_get_up("closing time")
            elif self.cabinet.has_failed:
                self._all_get_up("machine failed")
            elif only_wait and len(self.seats) == 1:
                self._all_get_up("waited too long")
            else:
                arrange(self.seats, row.sides)
                yield from contest(floor, row, self.cabinet, self.seats, self)
                self._after_contest()
        self.cabinet.group = None
        row.release(self.cabinet, env.now)

    def _gather(self, only_wait: bool) -> Steps:
        """Wait for the open seats to fill, first from the line; then for so long, or for as long as patience lasts."""
        row = self.row
        self._call_from_line()
        if only_wait and len(self.seats) == 1:
            yield from self._wait_for(2, self.floor.patience(self.seats[0].visit))
            if len(self.seats) == 1:
                return
        yield from self._wait_for(row.seats, row.machine.wait_for_opponent)

    def _wait_for(self, wanted: int, limit: float | None) -> Steps:
        """Wait until so many are seated, for at most `limit` seconds; None is for ever."""
        if len(self.seats) >= wanted or self.floor.env.now >= self.floor.closing:
            return
        env = self.floor.env
        self._wanted = wanted
        self._filled = filled = env.event()
        self.row.lone.append(self.cabinet)
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
            self.row.lone.remove(self.cabinet)
            filled.succeed()

    def _call_from_line(self) -> None:
        """Those in line take the open seats, first come first served."""
        while len(self.seats) < self.row.seats:
            ticket = self.row.next_in_line()
            if ticket is None:
                return
            ticket.called.succeed(self.sit(ticket.visit))

    def offer_seats(self, here: Break, leaving: Sequence[Seat]) -> list[Seat]:
        """Offer the seats that are open at a break to those in line; who buys in, seated.

        `here` is how the contest stands, `leaving` those who are getting up.
        """
        floor, row, env = self.floor, self.row, self.floor.env
        staying = [seat for seat in self.seats if seat not in leaving]
        joined: list[Seat] = []
        if not staying or not row.machine.join or env.now >= floor.closing:
            return joined
        for ticket in row.in_line():
            if len(staying) + len(joined) >= row.seats:
                break
            visit = ticket.visit
            side = side_for(visit, [*staying, *joined], row.sides)
            if joins(floor, row, visit, here, side):
                row.call(ticket)
                seat = self.sit(visit)
                seat.side, seat.price = side, row.price_to_join
                joined.append(seat)
                ticket.called.succeed(seat)
        return joined

    def _after_contest(self) -> None:
        """Who wants another contest stays seated; with people in line, losers may have to give up their seats."""
        floor, row, now = self.floor, self.row, self.floor.env.now
        if self.cabinet.state is IN_PLAY and now < floor.closing:  # after closing all get up, and the row shuts it down
            self.cabinet.turn(IDLE, now)
        for seat in self.seats[:]:
            loses_it = row.machine.winner_stays and seat.against and row.waiting and seat.result != 1.0
            if loses_it or not wants_another(floor, row, seat, now):
                self._get_up(seat)
            else:
                seat.since = now

    def _all_get_up(self, reason: str) -> None:
        for seat in self.seats[:]:
            seat.visit.last_no = reason
            self._get_up(seat)

    def _get_up(self, seat: Seat) -> None:
        self.seats.remove(seat)
        seat.get_up()
