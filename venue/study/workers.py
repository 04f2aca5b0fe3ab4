"""Work shared between processes. Which process runs a replication changes nothing about its numbers."""

from __future__ import annotations

import multiprocessing
import os
import signal
from collections.abc import Callable, Generator, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import closing, contextmanager
from typing import cast

from venue.errors import RunError
from venue.scenario.scenario import Scenario
from venue.study.replicate import Bench, Replication, Task

Progress = Callable[[int, int], None]

_bench: Bench | None = None


def all_cores() -> int:
    """Cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def run_all(
    scenario: Scenario,
    tasks: Sequence[Task],
    *,
    workers: int = 1,
    keep_rows: bool = False,
    progress: Progress | None = None,
) -> list[Replication]:
    """Run every task; results in the order of the tasks, whatever the number of workers.

    Parameters
    ----------
    workers
        Processes to use, at least 1; with 1 everything runs in this process.
    progress
        Called with (done, total) after each replication.
    """
    workers = min(workers, len(tasks))
    found: dict[Task, Replication] = {}
    runs = _here(scenario, tasks, keep_rows) if workers <= 1 else _spread(scenario, tasks, workers, keep_rows)
    # Closed at once on Ctrl-C, wherever it strikes: a traceback could keep the pool at work until it is let go.
    with closing(runs):
        for replication in runs:
            found[replication.task] = replication
            if progress is not None:
                progress(len(found), len(tasks))
    return [found[task] for task in tasks]


def _here(scenario: Scenario, tasks: Sequence[Task], keep_rows: bool) -> Generator[Replication, None, None]:
    bench = Bench(scenario, keep_rows=keep_rows)
    for task in tasks:
        yield bench.run(task)


def _spread(
    scenario: Scenario, tasks: Sequence[Task], workers: int, keep_rows: bool
) -> Generator[Replication, None, None]:
    method = "forkserver" if "forkserver" in multiprocessing.get_all_start_methods() else "spawn"
    context = multiprocessing.get_context(method)
    if method == "forkserver":
        context.set_forkserver_preload(["venue.study.replicate"])
    others = set(multiprocessing.active_children())
    pool = ProcessPoolExecutor(workers, mp_context=context, initializer=_prepare, initargs=(scenario, keep_rows))
    finished = False
    try:
        with _interrupts_held():
            pending: set[Future[list[Replication]]] = {pool.submit(_run, batch) for batch in _batches(tasks, workers)}
        while pending:
            done, pending = wait(pending, return_when=FIRST_COMPLETED)
            for future in done:
                yield from future.result()
        finished = True
    except BrokenProcessPool as error:
        raise RunError("a worker process died; run again, with fewer --workers if memory was short") from error
    finally:
        if not finished:  # Ctrl-C or an error: nobody waits for what is still being worked on
            for child in set(multiprocessing.active_children()) - others:
                child.terminate()
        pool.shutdown(wait=finished, cancel_futures=True)


def _batches(tasks: Sequence[Task], workers: int) -> list[list[Task]]:
    """Tasks as they are handed out: whole strengths while there is one for each worker, so that its contests are solved
    once; what is left over one by one, so that no worker is idle long."""
    by_strength: dict[float, list[Task]] = {}
    for task in tasks:
        by_strength.setdefault(task.strength, []).append(task)
    groups = list(by_strength.values())
    whole = len(groups) // workers * workers
    return groups[:whole] + [[task] for group in groups[whole:] for task in group]


@contextmanager
def _interrupts_held() -> Iterator[None]:
    """Hold Ctrl-C back while workers start: it waits for this process, and what they inherit keeps it off them."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _prepare(scenario: Scenario, keep_rows: bool) -> None:
    global _bench
    # Ctrl-C is for the process that the user sees; it stops the others.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    _bench = Bench(scenario, keep_rows=keep_rows)


def _run(batch: Sequence[Task]) -> list[Replication]:
    return [cast(Bench, _bench).run(task) for task in batch]
