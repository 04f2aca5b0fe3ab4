"""One setting studied: its replications and what they say together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from venue.floor.accounts import Account
from venue.study import by_margin, retention, weeks
from venue.study.control import steadied
from venue.study.intervals import LEVEL, Estimate, estimate, paired
from venue.study.registry import FLOWS, MACHINE_MEASURES, MEASURES
from venue.study.replicate import Replication

Value = float | str
Place = tuple[tuple[str, Value], ...]


def value_of(value: Value) -> str:
    """A value as people read it."""
    return value if isinstance(value, str) else f"{value:g}"


@dataclass(frozen=True)
class Point:
    """All replications of one variant of a scenario, in the order of their numbers.

    Attributes
    ----------
    strength
        Its catch-up strength.
    replications
        What was run.
    at
        Where it stands: the keys that differ between the variants of its study, with its values. Empty where only the
        strength does.
    is_controlled
        Whether chance in who comes is taken out of what goes with it; see `venue.study.control`.
    """

    strength: float
    replications: tuple[Replication, ...]
    at: Place = ()
    is_controlled: bool = False

    @property
    def where(self) -> Place:
        """Keys and values that differ between the settings of its study; the strength if none were named."""
        return self.at or (("strength", self.strength),)

    @property
    def label(self) -> str:
        """Its values, as `0.5` or `3, 0.5`."""
        return ", ".join(value_of(value) for _, value in self.where)

    @property
    def name(self) -> str:
        """Its keys and values, as `strength 0.5`."""
        return ", ".join(f"{key} {value_of(value)}" for key, value in self.where)

    def values(self, name: str) -> list[float]:
        """A venue measure in each replication, controlled where the study is; NaN where it is unknown."""
        return self._controlled(self.as_run(name), name)

    def as_run(self, name: str) -> list[float]:
        """A venue measure in each replication as it was run."""
        return [replication.measured.venue[name] for replication in self.replications]

    @property
    def controls(self) -> list[float]:
        """What chance brought each replication; see `venue.study.demand`."""
        return [replication.measured.control for replication in self.replications]

    def _controlled(self, values: list[float], name: str) -> list[float]:
        return steadied(values, self.controls) if self.is_controlled and name in FLOWS else values

    def measures(self) -> dict[str, Estimate]:
        """Venue measures with intervals, those that are known."""
        found = {name: estimate(self.values(name)) for name in MEASURES}
        return {name: item for name, item in found.items() if item is not None}

    def machine_measures(self, key: str) -> dict[str, Estimate]:
        """Measures of one row of machines with intervals."""
        found = {}
        for name in MACHINE_MEASURES:
            values = [replication.measured.machines[key].get(name, float("nan")) for replication in self.replications]
            item = estimate(self._controlled(values, name))
            if item is not None:
                found[name] = item
        return found

    def left_because(self) -> dict[str, float]:
        """Share of visits by reason for leaving, the commonest first; mean over replications."""
        return _mean_shares([replication.measured.left_because for replication in self.replications])

    def moved_because(self) -> dict[str, float]:
        """Share of changes to other machines by what made a visitor stop, the commonest first; mean likewise."""
        known = [item.measured.moved_because for item in self.replications if item.measured.moved_because]
        return _mean_shares(known)

    def by_margin(self) -> list[dict[str, Any]]:
        """Offers at period breaks by title and margin, as plain data; see `venue.study.by_margin.gathered`."""
        return by_margin.gathered([item.measured.by_margin for item in self.replications])

    def return_curve(self) -> list[dict[str, Any]]:
        """Return by day after a visit, as plain data; see `venue.study.retention.gathered`."""
        return retention.gathered(item.measured.returns for item in self.replications)

    def cohorts(self) -> list[dict[str, Any]]:
        """The same for each week's first-time visitors, as plain data."""
        return retention.gathered_cohorts([item.measured.cohorts for item in self.replications])

    def weeks(self) -> list[dict[str, Any]]:
        """The approach to the steady state, as plain data; see `venue.study.weeks.gathered`."""
        return weeks.gathered([item.measured.weeks for item in self.replications])

    def people(self) -> dict[str, Any]:
        """All of these, under the names they have in JSON."""
        return {
            "moved_because": self.moved_because(),
            "by_margin": self.by_margin(),
            "return_curve": self.return_curve(),
            "cohorts": self.cohorts(),
            "weeks": self.weeks(),
        }

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


def _mean_shares(found: Sequence[dict[str, float]]) -> dict[str, float]:
    total: dict[str, float] = {}
    for shares in found:
        for reason, share in shares.items():
            total[reason] = total.get(reason, 0.0) + share / len(found)
    return dict(sorted(total.items(), key=lambda item: -item[1]))


def difference(first: Point, second: Point, name: str, level: float = LEVEL) -> Estimate | None:
    """A measure at the first point less the same at the second, in pairs over the replications that both have."""
    common = min(len(first.replications), len(second.replications))
    return paired(first.values(name)[:common], second.values(name)[:common], level)
