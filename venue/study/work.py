"""Work to be shared out: one replication each, and what came of it. Who does it changes nothing about its numbers."""

from __future__ import annotations

from collections.abc import Generator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import Protocol

from venue.errors import VenueError, one_line
from venue.scenario.scenario import Scenario
from venue.study.past import Past
from venue.study.replicate import Bench, Replication

# A replication that takes its worker down this often is not tried again.
_MOST_DEATHS = 3


@dataclass(frozen=True)
class Work:
    """One replication to run.

    Attributes
    ----------
    place
        Which of the study's variants it belongs to; neighbours share solved contests.
    scenario
        The variant, resolved.
    number
        Number of the replication.
    past
        What lies behind the venue; None where it opens, or finds out by itself.
    until
        Where the work is to make what lies behind a venue: up to which day.
    """

    place: int
    scenario: Scenario
    number: int
    past: Past | None = None
    until: int | None = None


@dataclass(frozen=True)
class Outcome:
    """A piece of work done: its replication, or the past that it was to make, or why there is neither."""

    work: Work
    replication: Replication | None
    failure: str = ""
    past: Past | None = None


class Deaths:
    """How often a replication has taken its worker down: it is tried again, though not for ever."""

    def __init__(self) -> None:
        self._count: dict[tuple[int, int], int] = {}

    def count(self, work: Work) -> Outcome | None:
        """One more; what is to be said of it if it is not to be tried again."""
        key = (work.place, work.number)
        self._count[key] = self._count.get(key, 0) + 1
        if self._count[key] < _MOST_DEATHS:
            return None
        return Outcome(
            work, None, f"took its worker process down {_MOST_DEATHS} times (out of memory, if nothing else is known)"
        )


class Executor(Protocol):
    """Whoever carries out work: this process, others on this machine, or a cluster."""

    def run(self, works: Sequence[Work]) -> Generator[Outcome, None, None]:
        """Carry out every piece of work; outcomes as they come, in any order. Closing the generator stops the work."""
        ...

    def close(self) -> None:
        """Let the workers go; what is still under way is dropped."""
        ...


def attempt(bench: Bench, work: Work) -> Outcome:
    """Carry out one piece of work; a failure of any kind is an outcome too, so that it costs nobody else's result."""
    try:
        if work.until is not None:
            return Outcome(work, None, past=bench.run_before(work.scenario, work.number, work.until, work.past))
        if work.past is not None:
            return Outcome(work, bench.run(work.scenario, work.number, work.past))
        return Outcome(work, bench.run(work.scenario, work.number))
    except VenueError as error:
        return Outcome(work, None, str(error))
    except Exception as error:
        # Whatever it is must travel between processes, which not every exception can.
        text = type(error).__name__
        with suppress(Exception):
            text = f"{text}: {one_line(str(error))}"
        return Outcome(work, None, text)


class SerialExecutor:
    """This process."""

    def __init__(self, *, keep_rows: bool = False) -> None:
        self._bench = Bench(keep_rows=keep_rows)

    def run(self, works: Sequence[Work]) -> Generator[Outcome, None, None]:
        """Carry out the work in its order."""
        for work in works:
            yield attempt(self._bench, work)

    def close(self) -> None:
        """Nothing to let go."""
