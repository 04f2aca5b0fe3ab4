"""One play at a machine without a contest: paid when it begins, and over after its play time."""

from __future__ import annotations

from venue.floor.context import Context
from venue.floor.machine import IN_PLAY, Cabinet, MachineRow
from venue.floor.seat import NO_RESULT
from venue.visitors.visit import Visit


def begin_pastime(
    context: Context, row: MachineRow, cabinet: Cabinet, visit: Visit, price: int, now: float
) -> tuple[float, int]:  # fmt: skip
    """A visitor pays and plays; how long, in seconds, and what a fault in it breaks off, in credits."""
    length, wear, broken_off = row.play_time(visit), cabinet.wear, 0
    if wear is not None:
        fails_at = max(now, wear.begin(now, length))
        if now + length > fails_at:
            length, broken_off = fails_at - now, price
            cabinet.has_failed = True
            visit.last_no = "machine failed"
    cabinet.turn(IN_PLAY, now)
    visit.plays += 1
    row.coin_box.put_in(visit, price, now)
    if context.keeps_offers:
        context.ledger.offers.keep(visit, row.number, now, "start", price)
    return length, broken_off


def end_pastime(
    context: Context, row: MachineRow, cabinet: Cabinet, visit: Visit, price: int, broken_off: int, began: float
) -> None:  # fmt: skip
    """The play is over: refund what has to be, keep the row, and give up the machine."""
    now, wear, refunded = context.env.now, cabinet.wear, 0
    if wear is not None:
        wear.end(now)
        refunded = row.coin_box.refund(
            visit, wear, first=price, later=price, bought=1, broken_off=broken_off, paid_at=began
        )
    context.ledger.plays.append(
        (visit.person.number, visit.number, row.number, -1, began, now, price - broken_off, refunded, 1, -1, 0,
         NO_RESULT, NO_RESULT, NO_RESULT, NO_RESULT, 0, NO_RESULT, NO_RESULT, NO_RESULT)
    )  # fmt: skip
    row.release(cabinet, now)
