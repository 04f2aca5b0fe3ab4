"""Processes on this machine that share the work, one thread each.

Each worker is a pool of one process, so that it can be given work that its solved contests fit, and replaced alone when
it dies.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from collections.abc import Generator, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from multiprocessing.connection import wait as wait_for
from multiprocessing.context import BaseContext
from typing import cast

from venue.errors import RunError
from venue.study.pile import Pile
from venue.study.replicate import Bench
from venue.study.work import Outcome, Work, attempt

# A replication that takes its worker down this often is not tried again.
_MOST_DEATHS = 3

_bench: Bench | None = None


def all_cores() -> int:
    """Cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


class Processes:
    """Workers on this machine, started when first needed.

    Parameters
    ----------
    workers
        How many processes, at least 1.
    keep_rows
        Whether replications carry their rows.
    """

    def __init__(self, workers: int, *, keep_rows: bool = False) -> None:
        self._count = workers
        self._keep_rows = keep_rows
        self._seats: dict[int, ProcessPoolExecutor] = {}
        self._others = set(multiprocessing.active_children())
        self._context = _context()

    def run(self, works: Sequence[Work]) -> Generator[Outcome, None, None]:
        """Carry out the work; a worker that dies is replaced and its replication run again.

        Raises
        ------
        RunError
            If one replication takes several workers down.
        """
        pile = Pile(works)
        deaths: dict[tuple[int, int], int] = {}
        pending: dict[Future[Outcome], tuple[int, Work]] = {}
        finished = False
        try:
            with _interrupts_held():
                for seat in range(min(self._count, len(works))):
                    self._give(seat, pile, pending)
            while pending:
                done, _ = wait(pending, return_when=FIRST_COMPLETED)
                for future in done:
                    seat, work = pending.pop(future)
                    try:
                        outcome = future.result()
                    except BrokenProcessPool:
                        self._bury(seat, work, deaths)
                        pile.put_back(work)
                        outcome = None
                    with _interrupts_held():
                        self._give(seat, pile, pending)
                    if outcome is not None:
                        yield outcome
            finished = True
        finally:
            if not finished:  # Ctrl-C or an error: nobody waits for what is still being worked on
                self.close()

    def _give(self, seat: int, pile: Pile, pending: dict[Future[Outcome], tuple[int, Work]]) -> None:
        work = pile.take(seat)
        if work is None:
            return
        if seat not in self._seats:
            self._seats[seat] = ProcessPoolExecutor(
                1, mp_context=self._context, initializer=_prepare, initargs=(self._keep_rows,)
            )
        try:
            future = self._seats[seat].submit(_run, work)
        except BrokenProcessPool:  # it died while it had nothing to do
            self._seats.pop(seat).shutdown(wait=False, cancel_futures=True)
            pile.put_back(work)
            self._give(seat, pile, pending)
            return
        pending[future] = (seat, work)

    def _bury(self, seat: int, work: Work, deaths: dict[tuple[int, int], int]) -> None:
        self._seats.pop(seat).shutdown(wait=False, cancel_futures=True)
        key = (work.place, work.number)
        deaths[key] = deaths.get(key, 0) + 1
        if deaths[key] >= _MOST_DEATHS:
            raise RunError(
                f"replication {work.number} at strength {work.scenario.study.strength:g}, seed "
                f"{work.scenario.study.seed}: took its worker process down {_MOST_DEATHS} times; run again, with fewer "
                "--workers if memory was short"
            )

    def close(self) -> None:
        """Stop the workers at once."""
        for child in set(multiprocessing.active_children()) - self._others:
            child.terminate()
        for pool in self._seats.values():
            pool.shutdown(wait=False, cancel_futures=True)
        self._seats.clear()


def _context() -> BaseContext:
    method = "forkserver" if "forkserver" in multiprocessing.get_all_start_methods() else "spawn"
    context = multiprocessing.get_context(method)
    if method == "forkserver":
        context.set_forkserver_preload(["venue.study.replicate"])
    return context


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


def _prepare(keep_rows: bool) -> None:
    global _bench
    # Ctrl-C is for the process that the user sees; it stops the others.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    _bench = Bench(keep_rows=keep_rows)


def _end_with_parent() -> None:
    """A worker whose master was killed has nobody to work for."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        wait_for([parent.sentinel])
        os._exit(1)


def _run(work: Work) -> Outcome:
    return attempt(cast(Bench, _bench), work)
