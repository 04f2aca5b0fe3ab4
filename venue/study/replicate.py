"""One replication: a scenario run once and measured. The unit of work that workers share."""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from venue.contest.table import TitleTables
from venue.floor.accounts import Account
from venue.floor.run import Floor
from venue.scenario.scenario import Scenario
from venue.streams import Streams
from venue.study.match_ups import Unaided
from venue.study.measures import Measured, measure
from venue.threads import one_thread

Made = TypeVar("Made")

# What was solved last in this process, with what it was solved for: one study after another meets the same contests.
_LAST = 8
_tables: deque[tuple[object, dict[str, TitleTables]]] = deque(maxlen=_LAST)
_unaided: deque[tuple[object, Unaided]] = deque(maxlen=_LAST)


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
        Flat rows, if asked for; see `venue.floor.records`.
    """

    task: Task
    measured: Measured
    accounts: list[Account]
    seconds: float
    plays: NDArray[np.void] | None = field(default=None, repr=False)
    visits: NDArray[np.void] | None = field(default=None, repr=False)
    offers: NDArray[np.void] | None = field(default=None, repr=False)


def _solved(scenario: Scenario) -> tuple[dict[str, TitleTables], Unaided]:
    """Solved contests by title, and what they would be unaided; those of the last titles and strengths are kept."""
    titles, off, strength = scenario.titles, frozenset(scenario.study.switches_off), scenario.study.strength
    ordered = tuple(titles.items())
    tables = _last(
        _tables,
        (strength, off, ordered),
        lambda: {key: TitleTables(title, strength, off) for key, title in ordered},
    )
    return tables, _last(_unaided, (off, ordered), lambda: Unaided(titles, off))


def _last(known: deque[tuple[object, Made]], wanted: object, make: Callable[[], Made]) -> Made:
    """What was made for the same, or else is made now."""
    for key, found in known:
        if key == wanted:
            return found
    made = make()
    known.append((wanted, made))
    return made


def forget_solved() -> None:
    """Solve everything anew from here on, as a new process would."""
    _tables.clear()
    _unaided.clear()


class Bench:
    """A place to run replications, of whatever scenario.

    Parameters
    ----------
    keep_rows
        Whether replications carry their rows.
    """

    def __init__(self, *, keep_rows: bool = False) -> None:
        self.keep_rows = keep_rows

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
            tables, unaided = _solved(scenario)
            floor = Floor(scenario, tables, Streams(study.seed, number), study.days, keep_offers=self.keep_rows)
            accounts = floor.run()
            measured = measure(floor, study.warm_up, unaided)
        return Replication(
            Task(study.strength, number),
            measured,
            accounts,
            time.perf_counter() - began,
            floor.ledger.plays.table() if self.keep_rows else None,
            floor.ledger.visits.table() if self.keep_rows else None,
            None if floor.ledger.offers.records is None else floor.ledger.offers.records.table(),
        )
