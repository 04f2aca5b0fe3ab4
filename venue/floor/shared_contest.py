"""A contest at a machine with several seats: visitors pay, a period runs, the board is read, each goes on or stops.

The outcome of a period is one draw from the chain's exact distribution. A seat that is given up is played by the
computer from there on, and may be bought into at a break; the contest ends early when no visitor is left.

When a machine fails is known, to itself, from the beginning of a contest, so that this costs a comparison a period.

At machines with one seat a contest is played ahead: see `venue.floor.solo_contest`.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Callable, Sequence

from venue.contest.table import Break
from venue.floor.context import Context
from venue.floor.floor_title import FloorTitle
from venue.floor.machine import IN_PLAY, Cabinet, MachineRow
from venue.floor.participation import Course, better_won, buy_first, end_part, finish, outcome, take_seats
from venue.floor.process import Steps
from venue.floor.seat import Seat
from venue.floor.sides import line_up

# Who buys into the seats that are open at a break, given how the contest stands and who is getting up.
OfferSeats = Callable[[Break, Sequence[Seat]], Sequence[Seat]]


class SharedContest:
    """One contest with the visitors in `seats`; those who give up are taken out of it, those who join are put in.

    Parameters
    ----------
    offer_seats
        Offers open seats at a break to those in line.
    """

    __slots__ = (
        "_cabinet", "_context", "_course", "_first_gap", "_goes_on", "_grid_gap", "_later", "_number", "_offer_seats",
        "_play", "_row", "_seats", "_table", "_title",
    )  # fmt: skip

    def __init__(
        self, context: Context, row: MachineRow, title: FloorTitle, cabinet: Cabinet, seats: list[Seat],
        offer_seats: OfferSeats,
    ) -> None:  # fmt: skip
        self._context = context
        self._row = row
        self._title = title
        self._cabinet = cabinet
        self._seats = seats
        self._offer_seats = offer_seats
        # One that has begun keeps its price.
        self._goes_on, self._later = row.goes_on, row.price_later
        self._number = context.ledger.begun
        self._course: Course | None = None

    def steps(self) -> Steps:
        """Play it: seconds to wait, one after the other."""
        context, title, cabinet, seats = self._context, self._title, self._cabinet, self._seats
        env, ledger, wear = context.env, context.ledger, cabinet.wear
        began = now = env.now
        cabinet.turn(IN_PLAY, now)
        ledger.begun += 1
        ledger.in_play += 1
        here = self._begin(now)
        fails_at = math.inf if wear is None else wear.begin(now, here.length)
        period, wait = 0, here.length
        while True:
            ends = now + wait  # as the clock of the environment adds it
            if ends > fails_at:
                paid_at = now
                yield max(0.0, fails_at - now)
                now = env.now
                self._break_off(here, period, paid_at)
                break
            yield wait
            now = ends
            by_a, by_b = here.noticeable
            # What `table.play` does, written out.
            place = bisect_right(here.cumulative, next(self._play))
            here = here.after[place] or self._table.reach(here, place)
            period += 1
            if period == title.periods:
                self._finish(here, by_a, by_b, now)
                break
            leaving = self._leaving(here, by_a, by_b, now)
            joined = self._offer_seats(here, leaving) if self._row.waiting else ()
            if leaving or joined:
                here = self._change_line_up(here, leaving, joined, now)
                if not seats:
                    ledger.ended_early += 1
                    break
            wait = title.pause + here.length
        ledger.in_play -= 1
        if wear is not None:
            wear.end(now)
        ledger.contest_time += now - began

    def _begin(self, now: float) -> Break:
        """All buy in, and the contest is drawn that they play."""
        context, row, title, seats = self._context, self._row, self._title, self._seats
        # Those who promised to play another contest were offered it after the last.
        newly = [seat for seat in seats if not seat.visit.has_promised] if context.keeps_offers else []
        for seat in seats:
            buy_first(context, row, title, seat, now)
        first = seats[0].visit
        self._play = first.play or first.tap("play")
        self._first_gap, self._table = line_up(row, title, seats, next(self._play))
        here = self._table.begin(next(self._play))
        self._grid_gap = self._table.match.gap
        take_seats(seats, seats, now, self._first_gap, here)
        for seat in newly:
            true = 1.0 - here.win if seat.side else here.win
            context.ledger.offers.keep(seat.visit, row.number, now, "start", seat.price, perceived=seat.belief,
                                       true=true)  # fmt: skip
        return here

    def _leaving(self, here: Break, by_a: float, by_b: float, now: float) -> Sequence[Seat]:
        """All are offered the next period; who does not buy in."""
        leaving = []
        goes_on = self._goes_on
        margin, win, period = here.margin, here.win, here.period
        for seat in self._seats:
            lead, chance, conceded = (-margin, 1.0 - win, by_a) if seat.side else (margin, win, by_b)
            if not goes_on(seat, lead, chance, conceded, period, now):
                leaving.append(seat)
        return leaving

    def _change_line_up(self, here: Break, leaving: Sequence[Seat], joined: Sequence[Seat], now: float) -> Break:
        """Some get up and some sit down at a break; how the contest stands for the sides as they are then."""
        context, row, title, seats = self._context, self._row, self._title, self._seats
        course = self._settled_course(here)
        for seat in leaving:
            seats.remove(seat)
        for seat in leaving:
            self._end_part(seat, here, here.period, now, course)
            seat.get_up()
        if not seats:
            return here
        for seat in joined:
            buy_first(context, row, title, seat, now)
        # Those who got up take their draws along to the next contest; this one goes on with those of who stayed.
        stayed = seats[0].visit
        self._play = stayed.play or stayed.tap("play")
        score, kept = self._table.score(here), self._table.kept(here)
        gap, self._table = line_up(row, title, seats, next(self._play))
        found = self._table.find(here.period, score, kept)
        take_seats(joined, seats, now, gap, found)
        return found

    def _break_off(self, here: Break, period: int, paid_at: float) -> None:
        """The machine fails in the period after `period`: all get up, and have it refunded."""
        now, later = self._context.env.now, self._later
        course = self._settled_course(here)
        for seat in self._seats:
            seat.visit.last_no = "machine failed"
            broken_off = later if period > seat.start[1] else seat.price
            self._end_part(seat, here, period + 1, now, course, broken_off, paid_at)
            seat.get_up()
        self._seats.clear()
        self._cabinet.has_failed = True
        self._context.ledger.ended_early += 1

    def _finish(self, here: Break, by_a: float, by_b: float, now: float) -> None:
        """It is over: results for those who are still seated."""
        title, margin = self._title, here.margin
        self._context.ledger.finished += 1
        won = outcome(title, self._table, margin, self._play)
        close = abs(margin) <= title.close
        course = self._course or (better_won(self._first_gap, won), float(close))
        for seat in self._seats:
            result, conceded, helped = (1.0 - won, by_a, by_b) if seat.side else (won, by_b, by_a)
            finish(self._context, title, seat, result, close, conceded, helped)
            self._end_part(seat, here, here.period, now, course)

    def _settled_course(self, here: Break) -> Course:
        """The line-up changes or the contest ends early: from the first time on, the chances of that moment count."""
        if self._course is None:
            self._course = better_won(self._first_gap, here.win), here.close
        return self._course

    def _end_part(
        self, seat: Seat, here: Break, period: int, now: float, course: Course, broken_off: int = 0,
        paid_at: float = 0.0,
    ) -> None:  # fmt: skip
        end_part(self._context, self._cabinet, seat, now, period, here.margin, self._number, self._grid_gap, course,
                 self._later, broken_off=broken_off, paid_at=paid_at)  # fmt: skip
