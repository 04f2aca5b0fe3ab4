"""How long a venue must run before its settings are compared: until what it takes has settled.

A pilot finds out, at today's strength and prices: the first replications run, four weeks at a time, until the take of
the later half of their weeks no longer moves. How many there are does not depend on the study, so that every study of a
venue has the same time behind it; what the pilot has run is not run again.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from venue.errors import FailedReplications
from venue.scenario.load import Loaded
from venue.study.past import Past, as_before
from venue.study.replicate import STEP
from venue.study.series import Execution, Series, Variant
from venue.study.trend import Trend, later_half, trend

# Invented: replications of the pilot, the fewest and the most days, and the share of the take that counts as no change.
PILOT = 8
_FEWEST, _MOST = 2 * STEP, 13 * STEP
_STEADY = 0.05


@dataclass(frozen=True)
class Pilot:
    """What a pilot found: so many days, and how the take went over the later half of them."""

    days: int
    trend: Trend

    @property
    def settled(self) -> bool:
        """Whether the take had settled; if not, the pilot was given up at the most days."""
        return self.trend.state == "settled"


def with_time_before(loaded: Loaded, execution: Execution) -> tuple[Loaded, Pilot | None]:
    """The scenario with the time before in days, found by a pilot where it asks for one.

    Raises
    ------
    FailedReplications
        If a replication of the pilot failed.
    """
    if loaded.scenario.study.days_before is not None:
        return loaded, None
    found = pilot(loaded, execution)
    before = loaded.scenario.study.before
    strength = {} if before is None or before.strength is None else {"strength": before.strength}
    return loaded.change(before={"days": found.days, **strength}), found


def pilot(loaded: Loaded, execution: Execution) -> Pilot:
    """Run a venue from its opening until its take has settled."""
    today = as_before(loaded.scenario)
    pasts: dict[int, Past] = {}
    with Series([Variant(loaded)], execution, kind="pilot") as series:
        for day in range(STEP, _MOST + 1, STEP):
            pasts, failed = series.run_up_to(today, range(PILOT), day, past=pasts)
            if failed:
                raise FailedReplications([f"replication {item.work.number} of the time before: {item.failure}"
                                          for item in failed])  # fmt: skip
            if day >= _FEWEST:
                takes = np.array([pasts[number].takes for number in range(PILOT)])
                weeks, first = later_half(takes)
                found = trend(weeks, _STEADY * float(weeks.mean()), first=first)
                if found.state == "settled":
                    break
    return Pilot(day, found)
