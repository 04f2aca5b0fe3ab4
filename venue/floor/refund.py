"""Credits given back: the period that a fault broke off, and every coin that got stuck in the slot.

A jammed coin slot loses only its own buy-in: the attendant hands the credits back and the visitor puts them in again,
so that nothing but the count of refunds tells of it. It takes no time.
"""

from __future__ import annotations

from venue.floor.cabinet import Cabinet
from venue.visitors.visit import Visit


def refund(cabinet: Cabinet, visit: Visit, first: int, later: int, bought: int, back: int = 0) -> int:
    """Settle with a visitor whose part at a machine that wears is over; the credits given back.

    Parameters
    ----------
    first, later
        Credits for the first buy-in and for each later one.
    bought
        Buy-ins.
    back
        What the last of them cost, if the machine failed in it.
    """
    jams = () if cabinet.wear is None else cabinet.wear.jams(bought)
    if not back and not jams:
        return 0
    visit.wallet += back
    visit.credits -= back
    total = back + sum(later if place else first for place in jams)
    visit.refunded += total
    cabinet.row.refunded += total
    return total
