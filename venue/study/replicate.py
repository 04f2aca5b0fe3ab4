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
from venue.scenario.title import Title
from venue.streams import Streams
from venue.study.match_ups import Unaided
from venue.study.measures import Measured, measure
from venue.study.past import Past, as_before
from venue.study.weeks import week_by_week
from venue.threads import one_thread

Made = TypeVar("Made")

# Days of a time before that are run at once, and how far ahead people then plan: ten years.
STEP = 28
_AHEAD = 3650
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


def _solved_alone(key: str, title: Title, strength: float, off: frozenset[str]) -> TitleTables:
    """The contests of one title, of machines with a setting of their own."""
    return _last(_tables, (strength, off, ((key, title),)), lambda: {key: TitleTables(title, strength, off)})[key]


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

    def run(self, scenario: Scenario, number: int, past: Past | None = None) -> Replication:
        """Run and measure one replication of a scenario at the strength that its `study` part names.

        Parameters
        ----------
        past
            What lies behind the venue; where its `study` part asks for a time before and this is left out, that time is
            run first.

        Raises
        ------
        RunError
            If the run fails.
        """
        study = scenario.study
        before = study.days_before
        if before is None:
            raise ValueError("study.before.days is yet to be found; see venue.study.before")
        began = time.perf_counter()
        if past is None and before:
            past = self.run_before(as_before(scenario), number, before)
        with one_thread():
            tables, unaided = _solved(scenario)
            streams = Streams(study.seed, number)
            floor = Floor(
                scenario, tables, streams, before + study.days, keep_offers=self.keep_rows,
                start=None if past is None else past.snapshot(), solve=_solved_alone,
            )  # fmt: skip
            accounts = floor.run()
            measured = measure(floor, study.warm_up, unaided, streams)
        return Replication(
            Task(study.strength, number),
            measured,
            accounts,
            time.perf_counter() - began,
            floor.ledger.plays.table() if self.keep_rows else None,
            floor.ledger.visits.table() if self.keep_rows else None,
            None if floor.ledger.offers.records is None else floor.ledger.offers.records.table(),
        )

    def run_before(self, scenario: Scenario, number: int, days: int, past: Past | None = None) -> Past:
        """Run a venue up to a day, four weeks at a time so that rows do not pile up.

        Parameters
        ----------
        scenario
            The venue as it is in the time before; see `venue.study.past.as_before`.
        days
            The day, counted from its opening.
        past
            What lies behind it already.

        Raises
        ------
        RunError
            If the run fails, or the venue does not close on the eve of such a day.
        """
        began, streams = time.perf_counter(), Streams(scenario.study.seed, number)
        takes = list(past.takes) if past else []
        start = past.snapshot() if past else None
        with one_thread():
            tables, _ = _solved(scenario)
            while start is None or start.day < days:
                end = min(days, (start.day if start else 0) + STEP)
                floor = Floor(scenario, tables, streams, end, start=start, ahead=_AHEAD, solve=_solved_alone)
                start = floor.run_to_its_end()
                takes += [week.credits_per_hour for week in week_by_week(floor, 0)]
        seconds = time.perf_counter() - began
        return Past(number, days, tuple(takes), start.packed(), seconds)
