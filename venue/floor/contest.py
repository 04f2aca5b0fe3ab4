"""A contest on the floor: seats pay, a period runs, the board is read, each visitor goes on or stops.

The outcome of a period is one draw from the chain's exact distribution. A seat that is given up is played by the
computer from there on; the contest ends early when no visitor is left.
"""

from __future__ import annotations

import math
from collections.abc import Generator, Sequence
from typing import TYPE_CHECKING

import simpy

from venue.contest.results import better_side
from venue.contest.setting import Player
from venue.contest.table import ContestTable
from venue.floor.machine_row import IN_PLAY, Cabinet, Game, MachineRow
from venue.players.person import Record, Visit
from venue.units import HOUR

if TYPE_CHECKING:
    from venue.floor.run import Floor

NO_RESULT = math.nan


class Seat:
    """A visitor at a machine, for one contest.

    Attributes
    ----------
    side
        0 for side A, 1 for side B.
    done
        With two seats, fires when the visitor's part in the contest is over.
    """

    __slots__ = ("belief", "done", "record", "side", "visit")

    def __init__(self, visit: Visit, side: int, done: simpy.Event | None = None) -> None:
        self.visit = visit
        self.side = side
        self.done = done
        # What is known when the contest begins is set by it.
        self.record: Record
        self.belief: float


def line_up(row: MachineRow, game: Game, seats: Sequence[Seat], draw: float) -> tuple[float, ContestTable]:
    """Skill gap between the sides as they are seated now, and the solved table for it."""
    skill_a = skill_b = row.opponent
    player_a: Player = "computer"
    player_b: Player = "computer"
    for seat in seats:
        if seat.side == 0:
            skill_a, player_a = seat.record.skill, "visitor"
        else:
            skill_b, player_b = seat.record.skill, "visitor"
    if player_b == "computer":
        skill_b += game.ladder_step * seats[0].visit.rung
    gap = skill_a - skill_b
    return gap, game.tables.near(gap, draw, player_a, player_b)


def contest(
    floor: Floor, row: MachineRow, cabinet: Cabinet, seats: list[Seat]
) -> Generator[simpy.Event, None, tuple[str, int]]:
    """Play one contest with the given seats; returns why the last of them stopped ("" if it finished) and the margin.

    The margin is side A's lead when it ended.
    """
    env = floor.env
    game: Game = row.game  # type: ignore[assignment]
    accepts, notice = row.accepts_next, floor.notice
    board, price, periods = game.scoreboard, row.price_later, game.periods
    perceived, closeness, take = board.perceived, board.closeness, row.by_hour
    began = now = env.now
    cabinet.turn(IN_PLAY, now)
    floor.begun += 1
    floor.in_play += 1
    hour = int(now // HOUR)
    hour_ends = (hour + 1) * HOUR
    for seat in seats:
        visit = seat.visit
        record = visit.person.records.get(game.number)
        if record is None:
            record = floor.traits.meet(visit.person, game.number)
        seat.record = record
        seat.belief = record.belief
        visit.wallet -= row.price
        visit.credits += row.price
        visit.plays += 1
        take[hour] += row.price
        if visit.has_promised:  # an offer of another contest is taken when it is paid for
            visit.taken += 1
            visit.has_promised = False
    first = seats[0].visit
    play = first.play or first.tap("play")
    first_gap, table = line_up(row, game, seats, next(play))
    here = table.begin(next(play))
    against = len(seats) - 1
    start = began, against, first_gap, table.setting.gap, here.win
    fair: tuple[float, float] | None = None  # better side won, close: fixed once the line-up changes
    reason = ""
    period = 0
    wait = here.length
    while True:
        yield env.timeout(wait)
        now += wait  # as the clock of the environment adds it
        by_a, by_b = here.noticeable
        here = table.play(here, next(play))
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
            visit.chance_met += chance
            visit.closeness_met += near
            visit.suspicion = suspicion = visit.suspicion + notice * conceded
            if now >= floor.closing:
                visit.last_no = "closing time"
            elif visit.wallet < price:
                visit.last_no = "wallet empty"
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
                    continue
                visit.last_no = floor.excuses.why_not(seat.belief - chance, near, played, suspicion, tired)
            leaving = [*leaving, seat]
        if leaving:
            if fair is None:
                fair = better_side(first_gap, here.win), here.close
            for seat in leaving:
                seats.remove(seat)
                reason = seat.visit.last_no
                seat.visit.offers += 1
                _get_up(floor, row, seat, start, now, period, margin, NO_RESULT, fair)
            if not seats:
                floor.ended_early += 1
                floor.in_play -= 1
                floor.contest_time += now - began
                return reason, margin
            # Who got up takes their draws along to the next contest; this one goes on with those of who stayed.
            stayed = seats[0].visit
            play = stayed.play or stayed.tap("play")
            score, kept = table.score(here), table.kept(here)
            table = line_up(row, game, seats, next(play))[1]
            here = table.find(period, score, kept)
        wait = game.pause + here.length

    floor.finished += 1
    floor.in_play -= 1
    floor.contest_time += now - began
    if margin:
        won = 1.0 if margin > 0 else 0.0
    elif game.tables.title.tie == "draw":
        won = 0.5
    else:
        won = 1.0 if next(play) < table.tie_value else 0.0
    close = abs(margin) <= game.close
    if fair is None:
        fair = better_side(first_gap, won), float(close)
    for seat in seats:
        result = 1.0 - won if seat.side else won
        visit = seat.visit
        visit.suspicion += notice * (by_a if seat.side else by_b)
        visit.finished += 1
        visit.wins += result
        visit.rung = min(visit.rung + 1, game.rungs) if result == 1.0 and not against else 0
        floor.traits.learn(seat.record, result, close)
        _get_up(floor, row, seat, start, now, period, margin, result, fair)
    return "", margin


def _get_up(
    floor: Floor,
    row: MachineRow,
    seat: Seat,
    start: tuple[float, int, float, float, float],
    now: float,
    period: int,
    margin: int,
    result: float,
    fair: tuple[float, float],
) -> None:
    """A visitor's part in a contest is over: count the offers, keep the row, tell a visitor who waits for it.

    `start` is when it began, the number of opponents who are visitors, and for side A its gap, the gap of the chain
    and the chance to win.
    """
    visit = seat.visit
    began, against, gap, grid_gap, win = start
    if seat.side:
        gap, win, margin = -gap, 1.0 - win, -margin
    person = visit.person
    # All the periods but the first were offered at a break, and taken.
    visit.offers += period - 1
    visit.taken += period - 1
    floor.plays.append(
        (
            person.number, visit.number, row.number, began, now,
            row.price + (period - 1) * row.price_later, period, against,
            gap, grid_gap, seat.belief, win, margin, result, math.nan if gap == 0.0 else fair[0], fair[1],
        )
    )  # fmt: skip
    if seat.done is not None:
        seat.done.succeed(margin)
