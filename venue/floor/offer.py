"""What a machine asks for and on what terms: one price, and the decision of a visitor who is asked."""

from __future__ import annotations

from typing import Literal

from venue.visitors.choices import Accepts

# For a contest or play from its start, at a period break, for another contest, for an open seat at a break.
Kind = Literal["start", "break", "again", "join"]


class Offer:
    """The terms of a buy-in at a row of machines.

    Attributes
    ----------
    kind
        What is offered.
    price
        Credits.
    accepts
        The decision of somebody who can pay and has time.
    is_another
        Whether it is another contest, which nobody begins who has been called home or has no time left.
    """

    __slots__ = ("accepts", "is_another", "kind", "price")

    def __init__(self, kind: Kind, price: int, accepts: Accepts) -> None:
        self.kind = kind
        self.price = price
        self.accepts = accepts
        self.is_another = kind == "again"
