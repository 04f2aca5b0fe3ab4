"""One replication: a scenario run once and measured. The unit of work that workers share."""

from __future__ import annotations

import time
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from venue.contest.table import TitleTables
from venue.floor.accounts import Account
from venue.floor.run import Floor
from venue.scenario.scenario import Scenario
from venue.scenario.title import Title
from venue.streams import Streams
from venue.study.match_ups import Unaided
from venue.study.measures import Measured, measure
from venue.threads import one_thread


@dataclass(frozen=True)
class Task:
    """Which replication it is: its catch-up strength and its number."""

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
    plays, visits, offers
        Flat rows, if asked for; see `venue.floor.rows_kept`.
    """

    task: Task
    measured: Measured
    accounts: list[Account]
    seconds: float
    plays: NDArray[np.void] | None = field(default=None, repr=False)
    visits: NDArray[np.void] | None = field(default=None, repr=False)
    offers: NDArray[np.void] | None = field(default=None, repr=False)


class Bench:
    """A place to run replications, of whatever scenario; keeps the solved contests of the last titles and strength.

    Parameters
    ----------
    keep_rows
        Whether replications carry their rows.
    """

    def __init__(self, *, keep_rows: bool = False) -> None:
        self.keep_rows = keep_rows
        self._solved: tuple[dict[str, Title], frozenset[str], float] | None = None
        self._tables: dict[str, TitleTables] = {}
        self._unaided: Unaided | None = None

    def _solve(self, scenario: Scenario) -> tuple[dict[str, TitleTables], Unaided]:
        """Solved contests by title, and what they would be unaided; those last asked for are kept."""
        off = frozenset(scenario.study.switches_off)
        wanted = (scenario.titles, off, scenario.study.strength)
        if self._unaided is None or self._solved is None or self._solved[:2] != wanted[:2]:
            self._unaided = Unaided(scenario.titles, off)
        if self._solved != wanted:
            self._tables = {key: TitleTables(title, wanted[2], off) for key, title in scenario.titles.items()}
        self._solved = wanted
        return self._tables, self._unaided

    def run(self, scenario: Scenario, number: int) -> Replication:
        """Run and measure one replication of a scenario at the strength that its `study` part names.

        Raises
        ------
        RunError
            If the run fails.
        """
        study = scenario.study
        began = time.perf_counter()
        with one_thread():
            tables, unaided = self._solve(scenario)
            floor = Floor(scenario, tables, Streams(study.seed, number), study.days, keep_offers=self.keep_rows)
            accounts = floor.run()
            measured = measure(floor, study.warm_up, unaided)
        return Replication(
            Task(study.strength, number),
            measured,
            accounts,
            time.perf_counter() - began,
            floor.plays.table() if self.keep_rows else None,
            floor.visits.table() if self.keep_rows else None,
            None if floor.offers.rows is None else floor.offers.rows.table(),
        )
