"""What a machine asks for: one price, and the decision of a visitor who is asked; and what is offered at each break."""

from __future__ import annotations

from collections.abc import Callable

from venue.floor.coin_box import CoinBox
from venue.floor.context import Context
from venue.floor.floor_title import FloorTitle
from venue.floor.seat import Seat
from venue.visitors.choices import Refusal

# Whether a visitor goes on at a break; given the seat, the points they are ahead, their chance to win by the chain, the
# noticeable assisted scores of the other side in the period before, the periods played, and the time (s from the start
# of the run).
GoesOn = Callable[[Seat, int, float, float, int, float], bool]


class Offer:
    """The terms of a buy-in at a row of machines.

    Attributes
    ----------
    price
        Credits.
    refusal
        Why a visitor does not take it, empty if they do; see `venue.visitors.choices.buy_in_decision`.
    """

    __slots__ = ("price", "refusal")

    def __init__(self, price: int, refusal: Refusal) -> None:
        self.price = price
        self.refusal = refusal


def at_breaks(
    context: Context, title: FloorTitle, machines: int, coin_box: CoinBox, offer: Offer
) -> GoesOn:  # fmt: skip
    """The offer of the next period, ready for contests that begin now; who takes it pays at once.

    It is made more often than anything else happens, so what it needs is bound to it.

    Parameters
    ----------
    machines
        Number of the row.
    """
    price, refusal, put_in = offer.price, offer.refusal, coin_box.put_in
    perceived, closeness, offered = title.perceived, title.closeness, title.offered
    notice, keeps, log = context.habits.notice, context.keeps_offers, context.ledger.offers

    def goes_on(seat: Seat, lead: int, win: float, conceded: float, period: int, now: float) -> bool:
        visit, record = seat.visit, seat.record
        visit.suspicion += notice * conceded
        chance = perceived(lead, period, record.score, win, record.experience)
        line = offered[lead]
        line.offered += 1
        line.perceived += chance
        line.true += win
        because = refusal(visit, now, context.closing, chance, closeness[lead], seat.belief)
        if keeps:
            log.keep(visit, machines, now, "break", price, margin=lead, perceived=chance, true=win, because=because)
        if because:
            line.refused += 1
            visit.last_no = because
            return False
        visit.taken += 1
        put_in(visit, price, now)
        return True

    return goes_on
