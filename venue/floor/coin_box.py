"""The coin box of a row of machines: the one place where credits leave a wallet, and where they come back.

What comes back is the period that a fault broke off, and every coin that got stuck in the slot. A jammed coin slot
loses only its own buy-in: the attendant hands the credits back and the visitor puts them in again, so that only the
count of refunds shows it. It takes no time.
"""

from __future__ import annotations

from venue.floor.wear import Wear
from venue.units import HOUR
from venue.visitors.visit import Visit


class CoinBox:
    """Credits of one row of machines.

    Parameters
    ----------
    hours
        Hours of the run, with what its last plays may need after the last closing.

    Attributes
    ----------
    by_hour
        Credits taken in each hour of the run, less those refunded.
    refunded
        Credits given back in the whole run.
    """

    __slots__ = ("by_hour", "refunded")

    def __init__(self, hours: int) -> None:
        self.by_hour = [0] * hours
        self.refunded = 0

    @property
    def take(self) -> int:
        """Credits taken in the whole run, less those refunded."""
        return sum(self.by_hour)

    def put_in(self, visit: Visit, credits: int, now: float) -> None:
        """A visitor pays at a time in seconds from the start of the run."""
        visit.wallet -= credits
        visit.credits += credits
        self.by_hour[int(now // HOUR)] += credits

    def refund(
        self, visit: Visit, wear: Wear, *, first: int, later: int, bought: int, broken_off: int, paid_at: float
    ) -> int:  # fmt: skip
        """Settle with a visitor whose part at a machine that wears is over; the credits given back.

        Parameters
        ----------
        first, later
            Credits for the first buy-in and for each later one.
        bought
            Buy-ins.
        broken_off
            What the last of them cost, if the machine failed in it, else 0.
        paid_at
            When that was paid, in seconds from the start of the run.
        """
        jams = wear.jams(bought)
        if not broken_off and not jams:
            return 0
        visit.wallet += broken_off
        visit.credits -= broken_off
        self.by_hour[int(paid_at // HOUR)] -= broken_off
        total = broken_off + sum(later if place else first for place in jams)
        visit.refunded += total
        self.refunded += total
        return total
