"""The take week by week within a run: whether it has settled by the time that weeks are counted."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from venue.report.page.reading import Shown, estimate_of
from venue.study.intervals import Estimate

# Invented: a change of the take that nobody would call a change.
_STEADY = 0.05


@dataclass(frozen=True)
class Weeks:
    """Credits per open hour by week of the run, and the weeks left out as warm-up."""

    take: Sequence[tuple[float, Estimate]]
    warm_up: Sequence[float]

    @property
    def counted(self) -> Sequence[Estimate]:
        """The weeks that measures are taken over."""
        return [item for _, item in self.take[len(self.warm_up) :] or self.take]

    @property
    def moving(self) -> bool:
        """Whether the first week counted and the last surely differ: their own intervals do not meet."""
        first, last = self.counted[0], self.counted[-1]
        return first.high < last.low or last.high < first.low

    @property
    def steady(self) -> bool:
        """Whether the last week counted is within a few percent of the first, and they do not surely differ."""
        first, last = self.counted[0].mean, self.counted[-1].mean
        return not self.moving and abs(last - first) <= _STEADY * abs(first)

    @property
    def told(self) -> bool:
        """Whether there are intervals to tell it by."""
        return not any(math.isnan(item.low) for item in (self.counted[0], self.counted[-1]))


def weeks_of(item: Shown) -> Weeks | None:
    """The weeks of a setting; None where results tell fewer than two."""
    rows = item.plain.get("weeks") or ()
    take = [(float(row["week"]), found) for row in rows if (found := estimate_of(row.get("credits_per_hour")))]
    return Weeks(take, [float(row["week"]) for row in rows if row.get("warm_up")]) if len(take) > 1 else None
