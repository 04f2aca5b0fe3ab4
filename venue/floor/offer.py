"""What a machine asks for: one price, and the one decision of a visitor who is asked."""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal

from venue.visitors.choices import Accepts, RefusalReason
from venue.visitors.visit import Visit

# For a contest or play from its start, at a period break, for another contest, for an open seat at a break.
Kind = Literal["start", "break", "again", "join"]

Refusal = Callable[[Visit, float, float, float, float, float], str]


class Offer:
    """The terms of a buy-in at a row of machines.

    Attributes
    ----------
    price
        Credits.
    refusal
        Why a visitor does not take the offer; empty if they do. See `decision`.
    """

    __slots__ = ("price", "refusal")

    def __init__(self, kind: Kind, price: int, accepts: Accepts, reason: RefusalReason) -> None:
        self.price = price
        self.refusal = decision(price, accepts, reason, is_another=kind == "again")


def decision(price: int, accepts: Accepts, reason: RefusalReason, *, is_another: bool) -> Refusal:
    """The decision on one kind of offer, as a function ready for the floor.

    It takes the visit, the time and the venue's next closing (s from the start of the run), the perceived chance to
    win, how close the score feels, and the chance that the visitor set out with: a perceived chance below it is a
    reason to stop. It notes that the offer was met, and says why it is not taken; empty if it is.

    Parameters
    ----------
    price
        Credits.
    accepts
        The choice of somebody who can pay and has time.
    reason
        What weighs most against an offer that is not taken.
    is_another
        Whether it is another contest: one who has been called home or has no time left begins none.
    """
    why_not = reason.why_not

    def refusal(visit: Visit, now: float, closing: float, chance: float, closeness: float, hoped: float) -> str:
        visit.offers += 1
        visit.chance_met += chance
        visit.closeness_met += closeness
        if now >= closing:
            return "closing time"
        if is_another and visit.called_home:
            return "party left"
        if visit.wallet < price and visit.falls_short(price, now):
            return visit.last_no
        stay = visit.stay
        tired = (now - visit.arrived) / stay
        if is_another and now - visit.arrived >= stay:
            return "time up"
        played, suspicion = visit.plays, visit.suspicion
        if accepts(chance, closeness, played, suspicion, tired, next(visit.buy_in or visit.tap("buy_in"))):
            return ""
        return why_not(hoped - chance, closeness, played, suspicion, tired)

    return refusal
