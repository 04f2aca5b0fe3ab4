"""A visitor's part in a contest: from their first buy-in to the row that is kept of it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from venue.contest.table import Break, ContestTable
from venue.floor.context import Context
from venue.floor.floor_title import FloorTitle
from venue.floor.machine import Cabinet, MachineRow
from venue.floor.seat import Seat

# How a contest went: whether the better side won (NaN between equals) and whether the finish was close, 0 or 1 each;
# the chain's chances of both where the line-up changed or the contest ended early.
Course = tuple[float, float]


def buy_first(context: Context, row: MachineRow, title: FloorTitle, seat: Seat, now: float) -> None:
    """A visitor buys in for the first time in a contest; its price to go on holds for them to its end."""
    visit = seat.visit
    record = visit.person.records.get(title.number)
    if record is None:
        record = context.habits.traits.meet(visit.person, title.number)
    seat.record = record
    seat.belief = record.belief
    visit.plays += 1
    if visit.has_promised:  # an offer of another contest is taken when it is paid for
        visit.taken += 1
        visit.has_promised = False
    row.coin_box.put_in(visit, seat.price, now)


def take_seats(joined: Sequence[Seat], seats: Sequence[Seat], now: float, gap: float, here: Break) -> None:
    """Note how things stand where the part of those in `joined` begins."""
    start = now, here.period, gap, here.win
    others = len(seats) - 1
    on_b = sum([seat.side for seat in seats]) if others else 0
    for seat in joined:
        seat.start = start
        seat.result = math.nan
        seat.against = against = others + 1 - on_b if seat.side else on_b
        seat.alongside = others - against


def finish(
    context: Context, title: FloorTitle, seat: Seat, result: float, close: bool, conceded: float, helped: float
) -> None:
    """A contest is played to its end by a visitor: what they noticed, won and learned.

    Parameters
    ----------
    result
        1 won, 0 lost, 0.5 level, for this visitor.
    conceded, helped
        Noticeable assisted scores of the other side and of their own in the last period.
    """
    visit, habits = seat.visit, context.habits
    seat.result = result
    visit.suspicion += habits.notice * conceded
    if result == 1.0:  # a win that feels given
        visit.suspicion += habits.notice_given * helped
    visit.finished += 1
    visit.wins += result
    visit.rung = min(visit.rung + 1, title.rungs) if result == 1.0 and not seat.against else 0
    habits.traits.learn(seat.record, result, close)


def end_part(
    context: Context, cabinet: Cabinet, seat: Seat, now: float, period: int, margin: int, number: int, grid_gap: float,
    course: Course, later: int, *, broken_off: int = 0, paid_at: float = 0.0,
) -> None:  # fmt: skip
    """A visitor's part in a contest is over: refund what has to be, and keep the row.

    Parameters
    ----------
    period, margin
        Periods begun in the contest so far, and points that side A is ahead.
    number, grid_gap
        Of the contest: its number in the run, and the skill gap of the chain that was played.
    later
        What a period after the first cost.
    broken_off, paid_at
        What the period under way cost that a fault has broken off, and when it was paid.
    """
    visit, row = seat.visit, cabinet.row
    began, joined, gap, win = seat.start
    if seat.side:
        gap, win, margin = -gap, 1.0 - win, -margin
    seat.margin = margin
    bought = period - joined
    wear, refunded = cabinet.wear, 0
    if wear is not None:
        refunded = row.coin_box.refund(
            visit, wear, first=seat.price, later=later, bought=bought, broken_off=broken_off, paid_at=paid_at
        )
    context.ledger.plays.append(
        (
            visit.person.number, visit.number, row.number, number, began, now,
            seat.price + (bought - 1) * later - broken_off, refunded, bought, seat.against, seat.alongside,
            gap, grid_gap, seat.belief, win, margin, seat.result, *course,
        )
    )  # fmt: skip


def better_won(gap: float, win: float) -> float:
    """Chance that the better side has won; NaN between equals."""
    return win if gap > 0.0 else 1.0 - win if gap < 0.0 else math.nan


def outcome(title: FloorTitle, table: ContestTable, margin: int, play: Iterator[float]) -> float:
    """What a finished contest is to side A: 1 won, 0 lost, 0.5 drawn; a level one may go to the next score."""
    if margin:
        return 1.0 if margin > 0 else 0.0
    if title.tables.title.tie == "draw":
        return 0.5
    return 1.0 if next(play) < table.tie_value else 0.0
