"""One visitor against the computer, at a machine with one seat: a contest played ahead.

Nobody but its visitor sees a break of such a contest, and what happens at one follows from the visitor, the score and
the clock alone. So the whole contest is worked out when it begins, at the times its breaks will have, and the visitor
waits once, for its end. It is what `venue.floor.shared_contest` does for several seats, without the others.
"""

from __future__ import annotations

import math
from bisect import bisect_right

from venue.floor.context import Context
from venue.floor.floor_title import FloorTitle
from venue.floor.machine import IN_PLAY, Cabinet, MachineRow
from venue.floor.participation import better_won, buy_first, end_part, finish, outcome
from venue.floor.seat import NO_RESULT, Seat
from venue.floor.sides import line_up_alone


def play_alone(
    context: Context, row: MachineRow, title: FloorTitle, cabinet: Cabinet, seat: Seat, began: float
) -> float:
    """Play one contest; how long it takes, in seconds.

    The seat's `result` then says how it ended; NaN if the visitor gave up or the machine failed.
    """
    visit, ledger, goes_on, later = seat.visit, context.ledger, row.goes_on, row.price_later
    number = ledger.begun
    ledger.begun = number + 1
    cabinet.turn(IN_PLAY, began)
    promised = visit.has_promised
    buy_first(context, row, title, seat, began)
    play = visit.play or visit.tap("play")
    gap, table = line_up_alone(row, title, visit, seat.record.skill, next(play))
    here = table.begin(next(play))
    seat.start = began, 0, gap, here.win
    wait, wear = here.length, cabinet.wear
    fails_at = math.inf if wear is None else wear.begin(began, wait)
    if context.keeps_offers and not promised:  # who promised to play another contest was offered it after the last
        ledger.offers.keep(visit, row.number, began, "start", seat.price, perceived=seat.belief, true=here.win)
    periods, pause = title.periods, title.pause
    period = broken_off = 0
    is_finished = False
    now = paid_at = began
    while True:
        ends = now + wait  # as the clock of the environment adds it
        if ends > fails_at:
            paid_at, now = now, began + max(0.0, fails_at - began)
            period += 1
            broken_off = later if period > 1 else seat.price
            visit.last_no = "machine failed"
            cabinet.has_failed = True
            break
        now = ends
        by_a, by_b = here.noticeable
        # What `table.play` does, written out here, where the floor spends most of its time.
        place = bisect_right(here.cumulative, next(play))
        here = here.after[place] or table.reach(here, place)
        period += 1
        if period == periods:
            is_finished = True
            break
        if not goes_on(seat, here.margin, here.win, by_b, period, now):
            break
        wait = pause + here.length
    margin = here.margin
    if is_finished:
        ledger.finished += 1
        result, close = outcome(title, table, margin, play), abs(margin) <= title.close
        finish(context, title, seat, result, close, by_b, by_a)
        course = better_won(gap, result), float(close)
    else:
        ledger.ended_early += 1
        seat.result = NO_RESULT
        course = better_won(gap, here.win), here.close
    length = now - began
    now = began + length  # as the clock of the environment adds it
    end_part(context, cabinet, seat, now, period, margin, number, table.match.gap, course, later,
             broken_off=broken_off, paid_at=paid_at)  # fmt: skip
    if wear is not None:
        wear.end(now)
    ledger.contest_time += now - began
    return length
