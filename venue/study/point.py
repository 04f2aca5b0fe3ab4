"""One setting studied: its replications and what they say together."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from venue.floor.accounts import Account
from venue.study.intervals import Estimate, estimate
from venue.study.measures import MACHINE_MEASURES, MEASURES
from venue.study.replicate import Replication


@dataclass(frozen=True)
class Point:
    """All replications of one scenario at one catch-up strength, in the order of their numbers."""

    strength: float
    replications: tuple[Replication, ...]

    def values(self, name: str) -> list[float]:
        """A venue measure in each replication; NaN where it could not be told."""
        return [replication.measured.venue[name] for replication in self.replications]

    def measures(self) -> dict[str, Estimate]:
        """Venue measures with intervals, those that could be told."""
        found = {name: estimate(self.values(name)) for name in MEASURES}
        return {name: item for name, item in found.items() if item is not None}

    def machine_measures(self, key: str) -> dict[str, Estimate]:
        """Measures of one row of machines with intervals."""
        found = {}
        for name in MACHINE_MEASURES:
            values = [replication.measured.machines[key].get(name, float("nan")) for replication in self.replications]
            item = estimate(values)
            if item is not None:
                found[name] = item
        return found

    def left_because(self) -> dict[str, float]:
        """Share of visits by reason for leaving, the commonest first; mean over replications."""
        total: dict[str, float] = {}
        for replication in self.replications:
            for reason, share in replication.measured.left_because.items():
                total[reason] = total.get(reason, 0.0) + share / len(self.replications)
        return dict(sorted(total.items(), key=lambda item: -item[1]))

    def accounts(self) -> list[Account]:
        """Balances summed over replications."""
        groups = zip(*(replication.accounts for replication in self.replications), strict=True)
        return [
            Account(group[0].name, sum(item.left for item in group), sum(item.right for item in group))
            for group in groups
        ]

    def hourly(self) -> NDArray[np.float64]:
        """Mean credits per open hour by machine (rows) and hour of day (24 columns); NaN where never open."""
        mean: NDArray[np.float64] = np.mean([item.measured.hourly for item in self.replications], axis=0)
        return mean
