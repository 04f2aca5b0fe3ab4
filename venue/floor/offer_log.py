"""The log of offers: what visitors were asked to pay for, what they believed their chance was, and what it was.

At every period break the floor adds to a line of the log, one for each title and margin; that costs next to nothing
and stays small. Each offer as a row of its own is kept only on request.
"""

from __future__ import annotations

import math
from typing import Literal

from venue.floor.records import KINDS, OFFER_COLUMNS, OFFER_REASONS, Records
from venue.visitors.visit import Visit

# For a contest or play from its start, at a period break, for another contest, for an open seat at a break.
Kind = Literal["start", "break", "again", "join"]

_KIND = {kind: number for number, kind in enumerate(KINDS)}
_REASON = {"": -1} | {reason: number for number, reason in enumerate(OFFER_REASONS)}
UNKNOWN = math.nan


class Line:
    """Offers at breaks that stood at one margin: how many, how many refused, sums of perceived and true chances."""

    __slots__ = ("offered", "perceived", "refused", "true")

    def __init__(self) -> None:
        self.offered = self.refused = 0
        self.perceived = self.true = 0.0

    def add(self, other: Line) -> None:
        """Put the offers of another line to these."""
        self.offered += other.offered
        self.refused += other.refused
        self.perceived += other.perceived
        self.true += other.true


class Margins(dict[int, Line]):
    """Lines of one title by margin; one is begun when it is first asked for."""

    def __missing__(self, margin: int) -> Line:
        found = self[margin] = Line()
        return found


class OfferLog:
    """All offers of a run.

    Parameters
    ----------
    titles
        How many titles there are.
    keep
        Whether to keep each offer as a row.

    Attributes
    ----------
    by_margin
        Offers at breaks since the last `forget`, by the title's place in the scenario.
    records
        A row for each offer, those of the warm-up too; None if they are not kept.
    """

    def __init__(self, titles: int, *, keep: bool) -> None:
        self.by_margin = [Margins() for _ in range(titles)]
        self.records = Records(OFFER_COLUMNS) if keep else None

    def forget(self) -> None:
        """Begin anew: what was offered so far was warm-up."""
        for margins in self.by_margin:
            margins.clear()

    def keep(
        self, visit: Visit, machines: int, now: float, kind: Kind, price: int, *, margin: int = 0,
        perceived: float = UNKNOWN, true: float = UNKNOWN, because: str = "",
    ) -> None:  # fmt: skip
        """Keep an offer as a row, if rows are kept. `because` says why it was not taken; empty if it was."""
        if self.records is not None:
            self.records.append(
                (visit.person.number, visit.number, machines, now, _KIND[kind], price, margin, perceived, true,
                 not because, _REASON[because])
            )  # fmt: skip
