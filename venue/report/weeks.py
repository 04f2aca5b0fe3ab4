"""The take week by week within a run: whether it has settled by the time that weeks are counted."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from venue.study.intervals import Estimate, estimate_of

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


def weeks_in(rows: Sequence[Mapping[str, Any]], days: int) -> Weeks | None:
    """The whole weeks of a setting from results as plain data; None where they tell fewer than two.

    What is left of a week at the end of the run is left out: days of the week differ, so that it would tell of them.
    """
    whole = [row for row in rows if 7 * row["week"] <= days]
    take = [(float(row["week"]), found) for row in whole if (found := estimate_of(row.get("credits_per_hour")))]
    return Weeks(take, [float(row["week"]) for row in whole if row.get("warm_up")]) if len(take) > 1 else None


def longer(days: int, warm_up: int, own_days: int) -> list[str]:
    """Options for a run of twice the days, with twice as many of them left out where the scenario's own days allow."""
    more = 2 * max(warm_up, 7)
    # Changes to a scenario are checked before --days is.
    return ["--days", str(2 * days), *(["--set", f"study.warm_up={more}"] if more < own_days else [])]
