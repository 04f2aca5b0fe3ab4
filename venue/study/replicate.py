"""One replication: the scenario at one strength, run once, measured. The unit of work that workers share."""

from __future__ import annotations

import time
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from venue.contest.table import TitleTables
from venue.errors import RunError, VenueError
from venue.floor.accounts import Account
from venue.floor.run import Floor
from venue.scenario.scenario import Scenario
from venue.streams import Streams
from venue.study.match_ups import Unaided
from venue.study.measures import Measured, measure
from venue.threads import one_thread


@dataclass(frozen=True)
class Task:
    """One replication to run: its catch-up strength and its number."""

    strength: float
    replication: int


@dataclass(frozen=True)
class Replication:
    """A finished replication.

    Attributes
    ----------
    accounts
        The balances of the run, which hold.
    seconds
        Wall time it took.
    plays, visits
        Flat rows, if asked for; see `venue.floor.rows_kept`.
    """

    task: Task
    measured: Measured
    accounts: list[Account]
    seconds: float
    plays: NDArray[np.void] | None = field(default=None, repr=False)
    visits: NDArray[np.void] | None = field(default=None, repr=False)


class Bench:
    """A place to run replications of one scenario; keeps the solved contests of the strength in hand.

    Parameters
    ----------
    scenario
        The scenario; its `study` part gives seed, days, warm-up and switches.
    keep_rows
        Whether replications carry their rows.
    """

    def __init__(self, scenario: Scenario, *, keep_rows: bool = False) -> None:
        self.scenario = scenario
        self.keep_rows = keep_rows
        self._switches_off = frozenset(scenario.study.switches_off)
        self._strength: float | None = None
        self._tables: dict[str, TitleTables] = {}
        self._unaided = Unaided(scenario.titles, self._switches_off)

    def tables(self, strength: float) -> dict[str, TitleTables]:
        """Solved contests by title; those of the last strength asked for are kept."""
        if strength != self._strength:
            self._strength = strength
            self._tables = {
                key: TitleTables(title, strength, self._switches_off) for key, title in self.scenario.titles.items()
            }
        return self._tables

    def run(self, task: Task) -> Replication:
        """Run and measure one replication.

        Raises
        ------
        RunError
            If the run fails; the message names what reproduces it.
        """
        study = self.scenario.study
        began = time.perf_counter()
        with one_thread():
            try:
                streams = Streams(study.seed, task.replication)
                floor = Floor(self.scenario, self.tables(task.strength), streams, study.days)
                accounts = floor.run()
                measured = measure(floor, study.warm_up, self._unaided)
            except VenueError as error:
                raise RunError(
                    f"replication {task.replication} at strength {task.strength:g}, seed {study.seed}: {error}"
                ) from error
        return Replication(
            task,
            measured,
            accounts,
            time.perf_counter() - began,
            floor.plays.table() if self.keep_rows else None,
            floor.visits.table() if self.keep_rows else None,
        )
