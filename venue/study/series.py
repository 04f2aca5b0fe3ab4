"""A series: replications of several variants of a venue, gathered as far as somebody asks for.

A fixed number, a wanted precision and a choice that must be sure all ask in rounds; what a round asks for depends on
results alone, so the numbers are the same however many workers share it.
"""

from __future__ import annotations

import math
import shlex
import time
from collections.abc import Callable, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from types import TracebackType

from venue.errors import FailedReplications, Stopped
from venue.scenario.load import Loaded
from venue.scenario.scenario import Scenario
from venue.study.address import check_address
from venue.study.intervals import estimate
from venue.study.observer import Observer
from venue.study.past import Past, as_before
from venue.study.point import Place, Point
from venue.study.replicate import Replication
from venue.study.store import Store
from venue.study.work import Executor, Outcome, SerialExecutor, Work
from venue.study.workers import ProcessExecutor

# Seconds between two looks at how precise a study is by now.
_WATCH = 0.5
# At most one part in so many of the time goes into looking.
_WATCH_COST = 200.0


@dataclass(frozen=True)
class Variant:
    """A scenario as it is to be run, and what sets it apart in its study: the keys that differ, with their values.

    Attributes
    ----------
    today
        The venue as it is in the time before; None where that is this scenario too, or it begins with its opening.
    """

    loaded: Loaded
    at: Place = ()
    today: Scenario | None = None


@dataclass(frozen=True)
class Execution:
    """How a study is carried out; nothing here changes a number.

    Attributes
    ----------
    workers
        Processes on this machine.
    rows
        Whether replications carry their rows.
    store
        File in which replications are kept and found again; what carries rows is not.
    observer
        Who looks on.
    cluster
        Address of a cluster's scheduler, whose workers do the work instead of processes on this machine.

    Raises
    ------
    InputError
        If the address cannot be one, or the library that talks to clusters is not installed.
    """

    workers: int = 1
    rows: bool = False
    store: Path | None = None
    observer: Observer = field(default_factory=Observer)
    cluster: str | None = None

    def __post_init__(self) -> None:
        if self.cluster is not None:
            check_address(self.cluster)

    def executor(self, works: int) -> Executor:
        """Whoever carries out this many pieces of work."""
        if self.cluster is not None:
            from venue.study.cluster import Cluster

            return Cluster(self.cluster, keep_rows=self.rows, noted=self.observer.noted)
        if min(self.workers, works) <= 1:
            return SerialExecutor(keep_rows=self.rows)
        return ProcessExecutor(self.workers, keep_rows=self.rows)


def variant_name(variant: Variant) -> str:
    """What a variant is called in the store."""
    return Point(variant.loaded.scenario.study.strength, (), variant.at).name


def reached_so_far(points: Sequence[Point]) -> str:
    """How far the take is known at the setting where it is known least; empty while there is too little to tell."""
    found = [estimate(point.values("credits_per_hour")) for point in points]
    shares = [item.half_width / item.mean for item in found if item is not None and item.mean > 0]
    if len(shares) < len(points) or not all(map(math.isfinite, shares)):
        return ""
    return f"credits_per_hour ± {100 * max(shares):.2g} %"


class Series:
    """Replications of some variants. A context: leaving it lets the workers go.

    Parameters
    ----------
    variants
        What is run; they share seed, days and warm-up, so that their visitors are the same.
    execution
        How it is carried out.
    first
        Number of the first replication.
    kind
        What the study is called in the store.
    """

    def __init__(
        self, variants: Sequence[Variant], execution: Execution, *, first: int = 0, kind: str = "run"
    ) -> None:  # fmt: skip
        self.variants = tuple(variants)
        # What the observer shows of the precision reached so far.
        self.watched: Callable[[Sequence[Point]], str] = reached_so_far
        self._watch_from = 0.0
        self._study: int | None = None
        self._kind = kind
        self._store: Store | None = None
        self._execution = execution
        self._first = first
        self._executor: Executor | None = None
        self._found: list[dict[int, Replication]] = [{} for _ in self.variants]
        self._total = 0
        self._kept = 0
        self._begun = False
        self._todays: list[Scenario | None] = []

    def __enter__(self) -> Series:
        if self._execution.store is not None and not self._execution.rows:
            self._store = Store(self._execution.store, self._execution.observer.noted)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._executor is not None:
            self._executor.close()
        self._execution.observer.ended()
        if self._store is not None:
            self._store.close()
        if isinstance(error, KeyboardInterrupt):
            raise Stopped(self._done(), self._total, str(self._store.path) if self._store else "") from None

    def extend(self, variants: Sequence[Variant]) -> None:
        """Add variants to the same study, after those there are."""
        self.variants += tuple(variants)
        self._found += [{} for _ in variants]

    def reach(self, counts: Sequence[int], expected: int | None = None) -> None:
        """Run until each variant has so many replications.

        Parameters
        ----------
        counts
            Replications wanted of each variant.
        expected
            How many the whole study is expected to take, if more rounds may follow.

        Raises
        ------
        FailedReplications
            If a replication failed, when all others are done; names the command that runs it alone.
        """
        found = self._look_up(counts)
        missing = [
            (place, number)
            for place, count in enumerate(counts)
            for number in range(self._first, self._first + count)
            if number not in self._found[place]
        ]
        total = self._total = max(expected or 0, self._done() + len(missing))
        if found or not self._begun:
            self._kept += found
            self._execution.observer.begun(self._kept, total)
            self._begun = True
        if self._store is not None:
            names = [
                (variant_name(variant), variant.loaded, self._today(place))
                for place, variant in enumerate(self.variants)
            ]
            self._study = self._store.begin(self._kind, names, total, self._study)
        failed, pasts = self._run_before(missing)
        works = [
            Work(place, self.variants[place].loaded.scenario, number, pasts.get((id(self._today(place)), number)))
            for place, number in missing
        ]
        if not failed and works:
            failed = self._carry_out(works, total)
        if failed:
            raise FailedReplications([self._told(outcome) for outcome in failed])

    def _look_up(self, counts: Sequence[int]) -> int:
        """Take from the store what it has of what is wanted; how many replications that were."""
        if self._store is None:
            return 0
        before = self._done()
        for place, (variant, count) in enumerate(zip(self.variants, counts, strict=True)):
            found = self._found[place]
            missing = [number for number in range(self._first, self._first + count) if number not in found]
            found.update(self._store.read(variant.loaded.scenario, missing, self._today(place)))
        return self._done() - before

    def _today(self, place: int) -> Scenario | None:
        """The venue of a variant as it is in the time before, the same object for all that share it."""
        while len(self._todays) < len(self.variants):
            variant = self.variants[len(self._todays)]
            today = None
            if variant.loaded.scenario.study.days_before != 0:
                own = as_before(variant.today or variant.loaded.scenario)
                today = next((other for other in self._todays if other == own), own)
            self._todays.append(today)
        return self._todays[place]

    def _run_before(
        self, missing: Sequence[tuple[int, int]]
    ) -> tuple[list[Outcome], dict[tuple[int, int], Past]]:  # fmt: skip
        """What lies behind the venues, once for each replication: who failed, and what there is."""
        pasts: dict[tuple[int, int], Past] = {}
        failed: list[Outcome] = []
        for place in dict.fromkeys(place for place, _ in missing):
            today, days = self._today(place), self.variants[place].loaded.scenario.study.days_before
            numbers = [number for other, number in missing if other == place and (id(today), number) not in pasts]
            if today is None or not days or not numbers:
                continue
            made, those = self.run_up_to(today, numbers, days, place=place)
            failed += those
            pasts |= {(id(today), number): past for number, past in made.items()}
        return failed, pasts

    def run_up_to(
        self, today: Scenario, numbers: Sequence[int], day: int, *, past: Mapping[int, Past] | None = None,
        place: int = 0,
    ) -> tuple[dict[int, Past], list[Outcome]]:  # fmt: skip
        """Run a venue up to a day, in each of some replications, from what lies behind it already; those that failed
        come second."""
        found = {} if self._store is None else self._store.read_past(today, numbers, day)
        past = past or {}
        works = [Work(place, today, number, past.get(number), until=day) for number in numbers if number not in found]
        failed = []
        if works:
            with closing(self._workers(len(works)).run(works)) as outcomes:
                for outcome in outcomes:
                    if outcome.past is None:
                        failed.append(outcome)
                        continue
                    found[outcome.work.number] = outcome.past
                    self._execution.observer.before(len(found), len(numbers))
                    if self._store is not None:
                        self._store.keep_past(today, outcome.past)
        return found, failed

    def _workers(self, works: int) -> Executor:
        if self._executor is None:
            self._executor = self._execution.executor(works)
        return self._executor

    def say_reached(self, text: str) -> None:
        """Report to the observer how precise the slowest measure is."""
        self._execution.observer.reached(text)

    def _watch(self) -> None:
        """Say how precise the slowest measure is by now, not too often."""
        began = time.monotonic()
        if began < self._watch_from:
            return
        text = self.watched(self.points())
        if text:
            self.say_reached(text)
        now = time.monotonic()
        self._watch_from = now + max(_WATCH, _WATCH_COST * (now - began))

    def _carry_out(self, works: Sequence[Work], total: int) -> list[Outcome]:
        failed = []
        # Closed at once on Ctrl-C, wherever it strikes: a traceback could keep the workers going until it is let go.
        with closing(self._workers(len(works)).run(works)) as outcomes:
            for outcome in outcomes:
                if outcome.replication is None:
                    failed.append(outcome)
                    continue
                if self._store is not None:
                    self._store.keep(outcome.work.scenario, outcome.replication, self._today(outcome.work.place))
                self._found[outcome.work.place][outcome.work.number] = outcome.replication
                self._watch()
                self._execution.observer.done(self._done(), total)
        return failed

    def _done(self) -> int:
        return sum(map(len, self._found))

    def _told(self, outcome: Outcome) -> str:
        """What failed, and how to see it again."""
        loaded, number = self.variants[outcome.work.place].loaded, outcome.work.number
        study = loaded.scenario.study
        changes = [word for change in loaded.changes for word in ("--set", change)]
        words = [
            "venue", "run", loaded.source, *changes, "--strength", f"{study.strength:g}", "--seed", str(study.seed),
            "--days", str(study.days), "--only", str(number),
        ]  # fmt: skip
        return (
            f"replication {number} at strength {study.strength:g}, seed {study.seed}: {outcome.failure}; "
            f"{'the others are kept; ' if self._store else ''}to see it alone: {shlex.join(words)}"
        )

    def points(self) -> list[Point]:
        """The variants with their replications in the order of their numbers, up to the first that is missing."""
        found = []
        for variant, replications in zip(self.variants, self._found, strict=True):
            numbers = range(self._first, self._first + len(replications))
            kept = tuple(replications[number] for number in numbers if number in replications)
            study = variant.loaded.scenario.study
            found.append(Point(study.strength, kept, variant.at, study.control_variates))
        return found
