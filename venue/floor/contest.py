"""A contest on the floor: seats pay, a period runs, the board is read, each visitor goes on or stops.

The outcome of a period is one draw from the chain's exact distribution. A seat that is given up is played by the
computer from there on, and may be bought into at a break; the contest ends early when no visitor is left.

At a machine with one seat nobody but its visitor sees a break. There the contest is played ahead: its breaks are
worked out when it begins, at the times they will have, and the visitor waits once, for its end.

When a machine fails is known, to itself, from the beginning of a contest, so that this costs a comparison a period.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Generator, Sequence
from typing import TYPE_CHECKING

import simpy

from venue.contest.results import better_side
from venue.floor.allowance import falls_short
from venue.floor.cabinet import IN_PLAY, Cabinet
from venue.floor.game import Game
from venue.floor.machine_row import MachineRow
from venue.floor.refund import refund
from venue.floor.seat import Seat, line_up
from venue.units import HOUR

if TYPE_CHECKING:
    from venue.contest.table import Break
    from venue.floor.group import Group
    from venue.floor.run import Floor


def contest(
    floor: Floor, row: MachineRow, cabinet: Cabinet, seats: list[Seat], group: Group | None = None
) -> Generator[simpy.Event, None, None]:
    """Play one contest with the visitors in `seats`; who gives up is taken out of it, who joins is put in.

    `group` are the seated visitors of a machine with several seats, None at a machine with one.
    """
    env = floor.env
    game: Game = row.game  # type: ignore[assignment]
    accepts, notice = row.accepts_next, floor.notice
    by_margin, keeps = floor.offers.by_margin[game.number], floor.offers.rows is not None
    board, price, periods = game.scoreboard, row.price_later, game.periods
    perceived, closeness, take = board.perceived, board.closeness, row.by_hour
    ahead = group is None
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
        take[hour] += _pay_first(floor, game, seat)
    first = seats[0].visit
    play = first.play or first.tap("play")
    first_gap, table = line_up(row, game, seats, next(play))
    grid_gap = table.setting.gap
    here = table.begin(next(play))
    wear = cabinet.wear
    fails_at = math.inf if wear is None else wear.begin(now, here.length)
    _take_part(seats, seats, now, 0, first_gap, here)
    for seat in newly:
        true = 1.0 - here.win if seat.side else here.win
        floor.offers.keep(seat.visit, row.number, now, "start", price=seat.price, perceived=seat.belief, true=true)
    fair: tuple[float, float] | None = None  # better side won, close: fixed once the line-up changes
    period = 0
    wait = here.length
    while True:
        ends = now + wait  # as the clock of the environment adds it
        if ends > fails_at:
            yield env.timeout(max(0.0, fails_at - env.now))
            hour, now = int(now // HOUR), env.now
            if fair is None:
                fair = better_won(first_gap, here.win), here.close
            for seat in seats:
                back = price if period > seat.part[1] else seat.price
                take[hour] -= back
                seat.visit.last_no = "machine failed"
                _end_part(floor, cabinet, seat, now, period + 1, here.margin, number, grid_gap, fair, price, back)
                if seat.up is not None:
                    seat.up.succeed()
            seats.clear()
            cabinet.has_failed = True
            floor.ended_early += 1
            break
        if not ahead:
            yield env.timeout(wait)
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
        joined = group.offer_seats(here, leaving) if group is not None and row.waiting else ()
        if leaving or joined:
            if fair is None:
                fair = better_won(first_gap, here.win), here.close
            for seat in leaving:
                seats.remove(seat)
                seat.visit.offers += 1
            if not seats:
                if ahead:
                    yield env.timeout(now - began)
                    now = env.now
                floor.ended_early += 1
            for seat in leaving:
                _end_part(floor, cabinet, seat, now, period, margin, number, grid_gap, fair, price)
                if seat.up is not None:
                    seat.up.succeed()
            if not seats:
                break
            for seat in joined:
                take[int(now // HOUR)] += _pay_first(floor, game, seat)
            # Who got up takes their draws along to the next contest; this one goes on with those of who stayed.
            stayed = seats[0].visit
            play = stayed.play or stayed.tap("play")
            score, kept = table.score(here), table.kept(here)
            gap, table = line_up(row, game, seats, next(play))
            here = table.find(period, score, kept)
            _take_part(joined, seats, now, period, gap, here)
        wait = game.pause + here.length

    floor.in_play -= 1
    if seats:
        if ahead:
            yield env.timeout(now - began)
            now = env.now
        floor.finished += 1
        if margin:
            won = 1.0 if margin > 0 else 0.0
        elif game.tables.title.tie == "draw":
            won = 0.5
        else:
            won = 1.0 if next(play) < table.tie_value else 0.0
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
            _end_part(floor, cabinet, seat, now, period, margin, number, grid_gap, fair, price)
    if wear is not None:
        wear.end(now)
    floor.contest_time += now - began


def better_won(gap: float, win: float) -> float:
    """Chance that the better side has won; NaN between equals."""
    return better_side(gap, win) if gap else math.nan


def _pay_first(floor: Floor, game: Game, seat: Seat) -> int:
    """A visitor buys in for the first time in a contest; the credits paid."""
    visit, price = seat.visit, seat.price
    record = visit.person.records.get(game.number)
    if record is None:
        record = floor.traits.meet(visit.person, game.number)
    seat.record = record
    seat.belief = record.belief
    visit.wallet -= price
    visit.credits += price
    visit.plays += 1
    if visit.has_promised:  # an offer of another contest is taken when it is paid for
        visit.taken += 1
        visit.has_promised = False
    return price


def _take_part(joined: Sequence[Seat], seats: Sequence[Seat], now: float, period: int, gap: float, here: Break) -> None:
    """Note how things stand where the part of those in `joined` begins."""
    part = now, period, gap, here.win
    others = len(seats) - 1
    on_b = sum([seat.side for seat in seats]) if others else 0
    for seat in joined:
        seat.part = part
        seat.result = math.nan
        seat.against = against = others + 1 - on_b if seat.side else on_b
        seat.beside = others - against


def _end_part(
    floor: Floor, cabinet: Cabinet, seat: Seat, now: float, period: int, margin: int, number: int, grid_gap: float,
    fair: tuple[float, float], price_later: int, back: int = 0,
) -> None:  # fmt: skip
    """A visitor's part in a contest is over: count the offers, refund what has to be, and keep the row.

    `back` is what the period under way cost that a fault has broken off.
    """
    visit = seat.visit
    began, joined, gap, win = seat.part
    if seat.side:
        gap, win, margin = -gap, 1.0 - win, -margin
    seat.margin = margin
    bought = period - joined
    # All the periods but the first were offered at a break, and taken.
    visit.offers += bought - 1
    visit.taken += bought - 1
    refunded = 0 if cabinet.wear is None else refund(cabinet, visit, seat.price, price_later, bought, back)
    floor.plays.append(
        (
            visit.person.number, visit.number, cabinet.row.number, number, began, now,
            seat.price + (bought - 1) * price_later - back, refunded, bought, seat.against, seat.beside,
            gap, grid_gap, seat.belief, win, margin, seat.result, *fair,
        )
    )  # fmt: skip
