"""A visitor's part in a contest: from their first buy-in to the row that is kept of it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from venue.contest.table import Break, ContestTable
from venue.floor.cabinet import Cabinet
from venue.floor.game import Game
from venue.floor.refund import refund
from venue.floor.seat import Seat

if TYPE_CHECKING:
    from venue.floor.run import Floor

# How a contest went, by what is fixed once its line-up changes: whether the better side won, and whether it was close.
Fair = tuple[float, float]


def pay_first(floor: Floor, game: Game, seat: Seat) -> int:
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


def take_part(joined: Sequence[Seat], seats: Sequence[Seat], now: float, period: int, gap: float, here: Break) -> None:
    """Note how things stand where the part of those in `joined` begins."""
    part = now, period, gap, here.win
    others = len(seats) - 1
    on_b = sum([seat.side for seat in seats]) if others else 0
    for seat in joined:
        seat.part = part
        seat.result = math.nan
        seat.against = against = others + 1 - on_b if seat.side else on_b
        seat.beside = others - against


def end_part(
    floor: Floor, cabinet: Cabinet, seat: Seat, now: float, period: int, margin: int, number: int, grid_gap: float,
    fair: Fair, price_later: int, back: int = 0,
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


def better_won(gap: float, win: float) -> float:
    """Chance that the better side has won; NaN between equals."""
    return win if gap > 0.0 else 1.0 - win if gap < 0.0 else math.nan


def outcome(game: Game, table: ContestTable, margin: int, play: Iterator[float]) -> float:
    """What a finished contest is to side A: 1 won, 0 lost, 0.5 drawn; a level one may go to the next score."""
    if margin:
        return 1.0 if margin > 0 else 0.0
    if game.tables.title.tie == "draw":
        return 0.5
    return 1.0 if next(play) < table.tie_value else 0.0
