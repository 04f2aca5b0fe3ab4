"""A series: replications of several variants of a venue, gathered as far as somebody asks for.

A fixed number, a wanted precision and a choice that must be sure all ask in rounds; what a round asks for depends on
results alone, so the numbers are the same however many workers share it.
"""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from contextlib import closing
from dataclasses import dataclass, field
from types import TracebackType

from venue.errors import RunError
from venue.scenario.load import Loaded
from venue.study.point import Place, Point
from venue.study.replicate import Replication
from venue.study.watch import Watch
from venue.study.work import Executor, Here, Outcome, Work
from venue.study.workers import Processes


@dataclass(frozen=True)
class Variant:
    """A scenario as it is to be run, and where it stands among its fellows: the keys that differ, with their values."""

    loaded: Loaded
    at: Place = ()


@dataclass(frozen=True)
class Means:
    """By what means a study is carried out; none of them changes a number.

    Attributes
    ----------
    workers
        Processes on this machine.
    rows
        Whether replications carry their rows.
    watch
        Who looks on.
    """

    workers: int = 1
    rows: bool = False
    watch: Watch = field(default_factory=Watch)

    def executor(self, works: int) -> Executor:
        """Whoever carries out this many pieces of work."""
        if min(self.workers, works) <= 1:
            return Here(keep_rows=self.rows)
        return Processes(self.workers, keep_rows=self.rows)


class Series:
    """Replications of some variants. A context: leaving it lets the workers go.

    Parameters
    ----------
    variants
        What is run; they share seed, days and warm-up, so that their visitors are the same.
    means
        By what means.
    first
        Number of the first replication.
    """

    def __init__(self, variants: Sequence[Variant], means: Means, *, first: int = 0) -> None:
        self.variants = tuple(variants)
        self._means = means
        self._first = first
        self._executor: Executor | None = None
        self._found: list[dict[int, Replication]] = [{} for _ in self.variants]
        self._begun = False

    def __enter__(self) -> Series:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._executor is not None:
            self._executor.close()

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
        RunError
            If a replication failed, when all others are done; names the command that runs it alone.
        """
        works = [
            Work(place, variant.loaded.scenario, number)
            for place, (variant, count) in enumerate(zip(self.variants, counts, strict=True))
            for number in range(self._first, self._first + count)
            if number not in self._found[place]
        ]
        total = max(expected or 0, self._done() + len(works))
        if not self._begun:
            self._means.watch.begun(self._done(), total)
            self._begun = True
        failed = self._carry_out(works, total) if works else []
        if failed:
            raise RunError("\n".join(self._told(outcome) for outcome in failed))

    def say_reached(self, text: str) -> None:
        """Tell whoever looks on how precise the slowest measure is."""
        self._means.watch.reached(text)

    def _carry_out(self, works: Sequence[Work], total: int) -> list[Outcome]:
        if self._executor is None:
            self._executor = self._means.executor(len(works))
        failed = []
        # Closed at once on Ctrl-C, wherever it strikes: a traceback could keep the workers going until it is let go.
        with closing(self._executor.run(works)) as outcomes:
            for outcome in outcomes:
                if outcome.replication is None:
                    failed.append(outcome)
                    continue
                self._found[outcome.work.place][outcome.work.number] = outcome.replication
                self._means.watch.done(self._done(), total)
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
            f"to see it alone: {shlex.join(words)}"
        )

    def points(self) -> list[Point]:
        """The variants with their replications in the order of their numbers, up to the first that is missing."""
        found = []
        for variant, replications in zip(self.variants, self._found, strict=True):
            numbers = range(self._first, self._first + len(replications))
            kept = tuple(replications[number] for number in numbers if number in replications)
            found.append(Point(variant.loaded.scenario.study.strength, kept, variant.at))
        return found
