"""The book of offers: what visitors were asked to pay for, what they believed their chance was, and what it was.

At every period break the floor adds to a line of the book, one for each title and margin; that costs next to nothing
and stays small. Each offer as a row of its own is kept only on request.
"""

from __future__ import annotations

from venue.floor.rows_kept import OFFER_COLUMNS, Rows

# Places in a line of the book.
OFFERED, REFUSED, PERCEIVED, TRUE = range(4)


class Margins(dict[int, list[float]]):
    """Offers at breaks of one title by margin: [offered, refused, sum of perceived, sum of true chances]."""

    def __missing__(self, margin: int) -> list[float]:
        found = self[margin] = [0, 0, 0.0, 0.0]
        return found


class Offers:
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
    rows
        One for each offer, those of the warm-up too; None if they are not kept.
    """

    def __init__(self, titles: int, *, keep: bool) -> None:
        self.by_margin = [Margins() for _ in range(titles)]
        self.rows = Rows(OFFER_COLUMNS) if keep else None

    def forget(self) -> None:
        """Begin anew: what was offered so far was warm-up."""
        for margins in self.by_margin:
            margins.clear()
