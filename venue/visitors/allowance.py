"""What a visitor may spend now, of what they would: the part of a wallet that limits hold back.

The floor compares prices with `visit.wallet` alone. Only when that does not cover a price is the allowance asked
whether an hour has released more (`Visit.falls_short`), so limits cost nothing where they do not bind.
"""

from __future__ import annotations

import math

from venue.scenario.limits import Limits
from venue.units import HOUR


class Allowance:
    """One visit's wallet under the limits of the house.

    Parameters
    ----------
    limits
        Most credits in a visit and, released bit by bit, in an hour.
    purse
        Credits that the visit could play without limits; may be infinite.

    Attributes
    ----------
    at_once
        Credits that may be played from the beginning.
    was_reached
        Whether a limit has kept the visitor from a purchase.
    """

    __slots__ = ("_beyond", "_each_hour", "_held", "_released", "at_once", "was_reached")

    def __init__(self, limits: Limits, purse: float) -> None:
        in_visit = purse if limits.spend_per_visit is None else min(purse, limits.spend_per_visit)
        self._each_hour = math.inf if limits.spend_per_hour is None else limits.spend_per_hour
        self.at_once = min(in_visit, self._each_hour)
        self._released = self._each_hour
        self._held = in_visit - self.at_once if self.at_once < in_visit else 0.0
        self._beyond = purse - in_visit if in_visit < purse else 0.0
        self.was_reached = False

    def release(self, stayed: float) -> float:
        """Credits that become free after so many seconds of a visit: an hour's worth for each hour that has begun."""
        if not self._held:
            return 0.0
        due = self._each_hour * (math.floor(stayed / HOUR) + 1)
        more = min(self._held, due - self._released)
        self._released = due
        self._held -= more
        return more

    def with_held(self, wallet: float) -> float:
        """What is left of a wallet with all that limits hold back."""
        return wallet + self._held + self._beyond

    def holds_back(self, wallet: float, price: int) -> bool:
        """Whether a limit, not an empty wallet, is why a price cannot be paid; it is noted that it was reached."""
        reached = self.with_held(wallet) >= price
        self.was_reached |= reached
        return reached

    def may_yet_cover(self, wallet: float, price: int) -> bool:
        """Whether later hours release enough for a price."""
        return self._each_hour > 0 and wallet + self._held >= price
