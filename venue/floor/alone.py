"""One visitor against the computer, at a machine with one seat: a contest played ahead.

Nobody but its visitor sees a break of such a contest, and what happens at one hangs on nothing but the visitor, the
score and the clock. So the whole contest is worked out when it begins, at the times its breaks will have, and the
visitor waits once, for its end. It is what `venue.floor.contest` does for several seats, without the others.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from typing import TYPE_CHECKING

from venue.floor.allowance import falls_short
from venue.floor.cabinet import IN_PLAY, Cabinet
from venue.floor.game import Game
from venue.floor.machine_row import MachineRow
from venue.floor.part import better_won, outcome, pay_first
from venue.floor.refund import refund
from venue.floor.seat import NO_RESULT, Seat, line_up_alone
from venue.units import HOUR

if TYPE_CHECKING:
    from venue.floor.run import Floor


def play_alone(floor: Floor, row: MachineRow, cabinet: Cabinet, seat: Seat, began: float) -> float:
    """Play one contest; how long it takes, in seconds.

    The seat's `result` then says how it ended; NaN if the visitor gave up or the machine failed.
    """
    game: Game = row.game  # type: ignore[assignment]
    visit, keeps = seat.visit, floor.offers.rows is not None
    number = floor.begun
    floor.begun = number + 1
    cabinet.turn(IN_PLAY, began)
    hour = int(began // HOUR)
    hour_ends = (hour + 1) * HOUR
    take, price, promised = row.by_hour, row.price_later, visit.has_promised
    take[hour] += pay_first(floor, game, seat)
    record, belief = seat.record, seat.belief
    play = visit.play or visit.tap("play")
    gap, table = line_up_alone(row, game, visit, record.skill, next(play))
    here = table.begin(next(play))
    start_win, wait = here.win, here.length
    wear = cabinet.wear
    fails_at = math.inf if wear is None else wear.begin(began, wait)
    if keeps and not promised:  # who promised to play another contest was offered it after the last
        floor.offers.keep(visit, row.number, began, "start", price=seat.price, perceived=belief, true=start_win)

    # The floor spends most of its time from here to the end of the loop: what changes is held in names of its own.
    accepts, notice, closing = row.accepts_next, floor.notice, floor.closing
    board, by_margin, periods, pause = game.scoreboard, floor.offers.by_margin[game.number], game.periods, game.pause
    perceived, closeness = board.perceived, board.closeness
    score, experience = record.score, record.experience
    played, arrived, stay = visit.plays, visit.arrived, visit.stay
    chance_met, closeness_met, suspicion = visit.chance_met, visit.closeness_met, visit.suspicion
    buy_in = visit.buy_in
    period = back = 0
    is_finished = False
    now = began
    while True:
        ends = now + wait  # as the clock of the environment adds it
        if ends > fails_at:
            now = began + max(0.0, fails_at - began)
            period += 1
            back = price if period > 1 else seat.price
            take[hour] -= back
            visit.last_no = "machine failed"
            cabinet.has_failed = True
            break
        now = ends
        by_a, by_b = here.noticeable
        # What `table.play` does, written out.
        place = bisect_right(here.cumulative, next(play))
        here = here.after[place] or table.reach(here, place)
        period += 1
        if period == periods:
            is_finished = True
            break
        margin, win = here.margin, here.win
        near = closeness[margin]
        chance = perceived(margin, period, score, win, experience)
        line = by_margin[margin]  # how many were offered, and refused; what was perceived, and true
        line[0] += 1
        line[2] += chance
        line[3] += win
        chance_met += chance
        closeness_met += near
        suspicion += notice * by_b
        if now >= closing:
            visit.last_no = "closing time"
        elif visit.wallet < price and falls_short(visit, price, now):
            pass
        else:
            tired = (now - arrived) / stay
            if buy_in is None:
                buy_in = visit.tap("buy_in")
            if accepts(chance, near, played, suspicion, tired, next(buy_in)):
                # Paid now, so that the coin box tells the time of the decision.
                visit.wallet -= price
                if now >= hour_ends:
                    hour = int(now // HOUR)
                    hour_ends = (hour + 1) * HOUR
                take[hour] += price
                if keeps:
                    floor.offers.keep(visit, row.number, now, "break", price=price, margin=margin, perceived=chance,
                                      true=win)  # fmt: skip
                wait = pause + here.length
                continue
            visit.last_no = floor.excuses.why_not(belief - chance, near, played, suspicion, tired)
        line[1] += 1
        visit.offers += 1
        if keeps:
            floor.offers.keep(visit, row.number, now, "break", price=price, margin=margin, perceived=chance,
                              true=win, because=visit.last_no)  # fmt: skip
        break

    visit.chance_met, visit.closeness_met = chance_met, closeness_met
    margin = here.margin
    if is_finished:
        floor.finished += 1
        result = outcome(game, table, margin, play)
        close = abs(margin) <= game.close
        better, closely = better_won(gap, result), float(close)
        suspicion += notice * by_b
        if result == 1.0:  # a win that feels given
            suspicion += floor.notice_given * by_a
            visit.rung = min(visit.rung + 1, game.rungs)
        else:
            visit.rung = 0
        visit.finished += 1
        visit.wins += result
        floor.traits.learn(record, result, close)
    else:
        floor.ended_early += 1
        result, better, closely = NO_RESULT, better_won(gap, here.win), here.close
    visit.suspicion = suspicion
    seat.result, seat.margin = result, margin
    # All the periods but the first were offered at a break, and taken.
    later = period - 1
    visit.offers += later
    visit.taken += later
    paid = later * price
    visit.credits += paid
    length = now - began
    now = began + length  # as the clock of the environment adds it
    refunded = 0
    if wear is not None:
        refunded = refund(cabinet, visit, seat.price, price, period, back)
        wear.end(now)
    floor.plays.append(
        (
            visit.person.number, visit.number, row.number, number, began, now, seat.price + paid - back, refunded,
            period, 0, 0, gap, table.match.gap, belief, start_win, margin, result, better, closely,
        )
    )  # fmt: skip
    floor.contest_time += now - began
    return length
