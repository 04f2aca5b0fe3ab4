"""A contest on the floor: seats pay, a period runs, the board is read, each visitor goes on or stops.

The outcome of a period is one draw from the chain's exact distribution. A seat that is given up is played by the
computer from there on, and may be bought into at a break; the contest ends early when no visitor is left.

When a machine fails is known, to itself, from the beginning of a contest, so that this costs a comparison a period.

At machines with one seat a contest is played ahead: see `venue.floor.alone`.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Sequence
from typing import TYPE_CHECKING

from venue.floor.allowance import falls_short
from venue.floor.cabinet import IN_PLAY, Cabinet
from venue.floor.game import Game
from venue.floor.machine_row import MachineRow
from venue.floor.part import Fair, better_won, end_part, outcome, pay_first, take_part
from venue.floor.process import Steps
from venue.floor.seat import Seat, line_up
from venue.units import HOUR

if TYPE_CHECKING:
    from venue.floor.group import Group
    from venue.floor.run import Floor


def contest(floor: Floor, row: MachineRow, cabinet: Cabinet, seats: list[Seat], group: Group) -> Steps:
    """Play one contest with the visitors of `group` in `seats`; who gives up is taken out, who joins is put in."""
    env = floor.env
    game: Game = row.game  # type: ignore[assignment]
    accepts, notice = row.accepts_next, floor.notice
    by_margin, keeps = floor.offers.by_margin[game.number], floor.offers.rows is not None
    board, price, periods = game.scoreboard, row.price_later, game.periods
    perceived, closeness, take = board.perceived, board.closeness, row.by_hour
    began = now = env.now
    cabinet.turn(IN_PLAY, now)
    closing, number = floor.closing, floor.begun
    floor.begun += 1
    floor.in_play += 1
    hour = int(now // HOUR)
    hour_ends = (hour + 1) * HOUR
    # Whoever promised to play another contest was offered it after the last.
    newly = [seat for seat in seats if not seat.visit.has_promised] if keeps else []
    for seat in seats:
        take[hour] += pay_first(floor, game, seat)
    first = seats[0].visit
    play = first.play or first.tap("play")
    first_gap, table = line_up(row, game, seats, next(play))
    grid_gap = table.match.gap
    here = table.begin(next(play))
    wear = cabinet.wear
    fails_at = math.inf if wear is None else wear.begin(now, here.length)
    take_part(seats, seats, now, 0, first_gap, here)
    for seat in newly:
        true = 1.0 - here.win if seat.side else here.win
        floor.offers.keep(seat.visit, row.number, now, "start", price=seat.price, perceived=seat.belief, true=true)
    fair: Fair | None = None
    period = 0
    wait = here.length
    while True:
        ends = now + wait  # as the clock of the environment adds it
        if ends > fails_at:
            yield max(0.0, fails_at - now)
            hour, now = int(now // HOUR), env.now
            if fair is None:
                fair = better_won(first_gap, here.win), here.close
            for seat in seats:
                back = price if period > seat.part[1] else seat.price
                take[hour] -= back
                seat.visit.last_no = "machine failed"
                end_part(floor, cabinet, seat, now, period + 1, here.margin, number, grid_gap, fair, price, back)
                seat.get_up()
            seats.clear()
            cabinet.has_failed = True
            floor.ended_early += 1
            break
        yield wait
        now = ends
        by_a, by_b = here.noticeable
        # What `table.play` does, written out here, where the floor spends most of its time.
        place = bisect_right(here.cumulative, next(play))
        here = here.after[place] or table.reach(here, place)
        period += 1
        margin = here.margin
        if period == periods:
            break
        near = closeness[margin]
        leaving: Sequence[Seat] = ()
        for seat in seats:
            if seat.side:
                lead, win, conceded = -margin, 1.0 - here.win, by_a
            else:
                lead, win, conceded = margin, here.win, by_b
            visit, record = seat.visit, seat.record
            chance = perceived(lead, period, record.score, win, record.experience)
            line = by_margin[lead]  # how many were offered, and refused; what was perceived, and true
            line[0] += 1
            line[2] += chance
            line[3] += win
            visit.chance_met += chance
            visit.closeness_met += near
            visit.suspicion = suspicion = visit.suspicion + notice * conceded
            if now >= closing:
                visit.last_no = "closing time"
            elif visit.wallet < price and falls_short(visit, price, now):
                pass
            else:
                played, tired = visit.plays, (now - visit.arrived) / visit.stay
                draw = next(visit.buy_in or visit.tap("buy_in"))
                if accepts(chance, near, played, suspicion, tired, draw):
                    # Paid now, so that the coin box tells the time of the decision.
                    visit.wallet -= price
                    visit.credits += price
                    if now >= hour_ends:
                        hour = int(now // HOUR)
                        hour_ends = (hour + 1) * HOUR
                    take[hour] += price
                    if keeps:
                        floor.offers.keep(visit, row.number, now, "break", price=price, margin=lead, perceived=chance,
                                          true=win)  # fmt: skip
                    continue
                visit.last_no = floor.excuses.why_not(seat.belief - chance, near, played, suspicion, tired)
            line[1] += 1
            if keeps:
                floor.offers.keep(visit, row.number, now, "break", price=price, margin=lead, perceived=chance,
                                  true=win, because=visit.last_no)  # fmt: skip
            leaving = [*leaving, seat]
        joined = group.offer_seats(here, leaving) if row.waiting else ()
        if leaving or joined:
            if fair is None:
                fair = better_won(first_gap, here.win), here.close
            for seat in leaving:
                seats.remove(seat)
                seat.visit.offers += 1
            for seat in leaving:
                end_part(floor, cabinet, seat, now, period, margin, number, grid_gap, fair, price)
                seat.get_up()
            if not seats:
                floor.ended_early += 1
                break
            for seat in joined:
                take[int(now // HOUR)] += pay_first(floor, game, seat)
            # Who got up takes their draws along to the next contest; this one goes on with those of who stayed.
            stayed = seats[0].visit
            play = stayed.play or stayed.tap("play")
            score, kept = table.score(here), table.kept(here)
            gap, table = line_up(row, game, seats, next(play))
            here = table.find(period, score, kept)
            take_part(joined, seats, now, period, gap, here)
        wait = game.pause + here.length

    floor.in_play -= 1
    if seats:
        floor.finished += 1
        won = outcome(game, table, margin, play)
        close = abs(margin) <= game.close
        if fair is None:
            fair = better_won(first_gap, won), float(close)
        for seat in seats:
            visit = seat.visit
            seat.result = result = 1.0 - won if seat.side else won
            visit.suspicion += notice * (by_a if seat.side else by_b)
            if result == 1.0:  # a win that feels given
                visit.suspicion += floor.notice_given * (by_b if seat.side else by_a)
            visit.finished += 1
            visit.wins += result
            visit.rung = min(visit.rung + 1, game.rungs) if result == 1.0 and not seat.against else 0
            floor.traits.learn(seat.record, result, close)
            end_part(floor, cabinet, seat, now, period, margin, number, grid_gap, fair, price)
    if wear is not None:
        wear.end(now)
    floor.contest_time += now - began
