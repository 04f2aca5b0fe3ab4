"""What a scenario implies before anything is studied: visitors, credits, take, time, from the file and a short run.

First-time visitors a week follow from the file alone: arrivals by the hour times the day's factor, over the hours of
opening. All else depends on who returns, on queues and on contests, so it is known from a run only. The run here is one
replication of four weeks whose first two are left out: it says about how large things are. Venues go on growing for
weeks while people return, which no run this short shows.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from venue.scenario.checks import first_timers_a_week
from venue.scenario.load import Loaded
from venue.study.replicate import Bench
from venue.units import DAY, MINUTE

DAYS, WARM_UP = 28, 14


@dataclass(frozen=True)
class Implied:
    """About how large things are.

    Attributes
    ----------
    first_timers
        First-time visitors a week, as the file has them.
    visits
        Visits a week, those of people who return among them.
    credits
        Credits a visit.
    take
        Take a week, in money.
    minutes
        Minutes from door to door in a visit; NaN where nobody came, as are credits.
    """

    first_timers: float
    visits: float
    credits: float
    take: float
    minutes: float


def implied(loaded: Loaded) -> Implied:
    """The figures of a scenario, from one short run at its strength and seed.

    Raises
    ------
    RunError
        If the run fails.
    """
    scenario = loaded.change(days=DAYS, warm_up=WARM_UP, replications=1).scenario
    scenario = scenario.model_copy(update={"study": scenario.study.model_copy(update={"before": None})})
    found = Bench(keep_rows=True).run(scenario, 0)
    rows: NDArray[np.void] = np.empty(0, np.void) if found.visits is None else found.visits
    visits = rows[rows["arrived"] >= WARM_UP * DAY]
    weeks, venue = (DAYS - WARM_UP) / 7, found.measured.venue
    stayed = (visits["left"] - visits["arrived"]).mean() / MINUTE if len(visits) else float("nan")
    return Implied(
        first_timers_a_week(scenario),
        len(visits) / weeks,
        venue["credits_per_visit"],
        venue["take_per_week"],
        float(stayed),
    )
