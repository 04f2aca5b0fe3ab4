"""Whether a visit is followed by another, and after how long."""

from __future__ import annotations

import math
from collections.abc import Sequence

from venue.scenario.people import Return
from venue.visitors.choices import takes
from venue.visitors.traits import normal
from venue.visitors.visit import Leave, Visit


class ComingBack:
    """Decides at the door: a logit in what the visit was like, then a lognormal delay."""

    def __init__(self, tastes: Return) -> None:
        self._tastes = tastes

    def utility(self, visit: Visit, empty: bool) -> float:
        """Utility of coming back, from the visit's record."""
        tastes = self._tastes
        offers, finished = max(visit.offers, 1), max(visit.finished, 1)
        return (
            tastes.constant
            + tastes.chance * visit.chance_met / offers
            + tastes.closeness * visit.closeness_met / offers
            + tastes.wins * visit.wins / finished
            - tastes.waiting * visit.waited / 60.0
            - tastes.suspicion * visit.suspicion
            - tastes.empty_wallet * empty
        )

    def decide(self, party: Sequence[Leave]) -> tuple[float, float] | None:
        """Delay in seconds and a uniform for the hour of the next visit, or None if there is none.

        People who came together decide together: by the mean of their utilities, with the draws of one of them.
        """
        first, utility = party[0].visit, 0.0
        for one in party:
            utility += self.utility(one.visit, one.empty) / len(party)
            if one.visit.key < first.key:
                first = one.visit
        whether, when, hour = first.draws("home")
        if not takes(utility, whether):
            return None
        return self._tastes.delay_median * math.exp(self._tastes.delay_spread * normal(when)), hour
