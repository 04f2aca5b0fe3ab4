"""A visitor in a seat, and how their part in a contest began and ended."""

from __future__ import annotations

import math

import simpy

from venue.visitors.person import Record
from venue.visitors.visit import Visit

NO_RESULT = math.nan


# How a visitor's part in a contest began: when (in seconds from the start of the run), after how many periods, and with
# what skill gap and chance to win for side A. Plain tuples cost a fifth of named ones, and each contest makes one.
Start = tuple[float, int, float, float]


class Seat:
    """A visitor at a machine.

    Attributes
    ----------
    price
        Credits that the visitor pays first: for the contest that begins, or for the period they join in.
    waits_since
        Where a machine has several seats: since when the visitor has waited in it for others.
    side
        0 for side A, 1 for side B.
    given_up
        Where a machine has several seats: fires when the visitor gets up.
    record, belief, start
        What the visitor has seen of the title, the chance they believed in, and how things stood when their part began.
    against, alongside
        Visitors on the other side then, and others on their own.
    result
        1 won, 0 lost, 0.5 level; NaN if the visitor did not play to the end.
    margin
        Points ahead, for this visitor, when their part ended.
    """

    __slots__ = (
        "against", "alongside", "belief", "given_up", "margin", "price", "record", "result", "side", "start", "visit",
        "waits_since",
    )  # fmt: skip

    def __init__(self, visit: Visit, price: int, given_up: simpy.Event | None = None, waits_since: float = 0.0) -> None:
        self.visit = visit
        self.price = price
        self.given_up = given_up
        self.waits_since = waits_since
        self.side = self.against = self.alongside = 0
        # What is known when their part begins is set by it.
        self.record: Record
        self.belief: float
        self.start: Start
        self.result: float
        self.margin: int

    def get_up(self) -> None:
        """The visitor leaves the seat."""
        if self.given_up is not None:
            self.given_up.succeed()
