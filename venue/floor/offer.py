"""What a machine asks for: one price, and the decision of a visitor who is asked."""

from __future__ import annotations

from typing import Literal

from venue.visitors.choices import Refusal

# For a contest or play from its start, at a period break, for another contest, for an open seat at a break.
Kind = Literal["start", "break", "again", "join"]


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
