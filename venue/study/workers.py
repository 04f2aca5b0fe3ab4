"""Processes on this machine that share the work, one thread each.

Each worker is a pool of one process, so that it can be given work that its solved contests fit, and replaced alone when
it dies.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
import threading
from collections.abc import Generator, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from multiprocessing.connection import Connection
from multiprocessing.connection import wait as wait_for
from multiprocessing.context import BaseContext
from types import ModuleType
from typing import cast

from venue.study.replicate import Bench
from venue.study.work import Deaths, Outcome, Work, attempt
from venue.study.work_queue import WorkQueue

# Seconds that a worker may take to stop.
_PATIENCE = 5.0

_bench: Bench | None = None


def all_cores() -> int:
    """Cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


class ProcessExecutor:
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
        """Carry out the work; a worker that dies is replaced and its replication run again, a few times."""
        pile, deaths = WorkQueue(works), Deaths()
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
                    outcome: Outcome | None
                    try:
                        outcome = future.result()
                    except BrokenProcessPool:
                        self._stop(self._seats.pop(seat))
                        outcome = deaths.count(work)
                        if outcome is None:
                            pile.put_back(work)
                    with _interrupts_held():
                        self._give(seat, pile, pending)
                    if outcome is not None:
                        yield outcome
            finished = True
        finally:
            if not finished:  # Ctrl-C or an error: nobody waits for what is still being worked on
                self.close()

    def _give(self, seat: int, pile: WorkQueue, pending: dict[Future[Outcome], tuple[int, Work]]) -> None:
        work = pile.take(seat)
        if work is None:
            return
        if seat not in self._seats:
            self._seats[seat] = ProcessPoolExecutor(
                1, mp_context=self._context, initializer=_prepare, initargs=(self._keep_rows,)
            )
        try:
            with _main_left_out():
                future = self._seats[seat].submit(_run, work)
        except BrokenProcessPool:  # it died while it had nothing to do
            self._stop(self._seats.pop(seat))
            pile.put_back(work)
            self._give(seat, pile, pending)
            return
        pending[future] = (seat, work)
        # The worker is there and has its end of the pipe that results come by. With ours closed, a worker that is
        # killed in the middle of a result is seen to be gone; else the rest of it would be waited for, for ever.
        writer = own_end_of(self._seats[seat])
        if writer is not None:
            writer.close()

    def close(self) -> None:
        """Stop the workers at once."""
        with _interrupts_held():
            children = set(multiprocessing.active_children()) - self._others
            for child in children:
                child.terminate()
            for pool in self._seats.values():
                self._stop(pool)
            self._seats.clear()

    @staticmethod
    def _stop(pool: ProcessPoolExecutor) -> None:
        """Let go of a pool whose worker was stopped, and wait until it is gone: what is left of it when this process
        ends would be waited for then, where nothing can go wrong quietly."""
        waiting = threading.Thread(target=pool.shutdown, kwargs={"wait": True, "cancel_futures": True}, daemon=True)
        waiting.start()
        waiting.join(_PATIENCE)


def own_end_of(pool: ProcessPoolExecutor) -> Connection | None:
    """This process's end, to write to, of the pipe by which a pool's results come.

    The pool has no public way to it. A test fails where a Python keeps it elsewhere; there it is None, and all that is
    lost is what happens to a worker killed in the middle of a result.
    """
    found: Connection | None = getattr(getattr(pool, "_result_queue", None), "_writer", None)
    return found


def _context() -> BaseContext:
    method = "forkserver" if "forkserver" in multiprocessing.get_all_start_methods() else "spawn"
    context = multiprocessing.get_context(method)
    if method == "forkserver":
        context.set_forkserver_preload(["venue.study.replicate"])
    return context


@contextmanager
def _main_left_out() -> Iterator[None]:
    """Start workers without the user's own program: they need nothing of it, and a script that does not guard its
    start with `if __name__ == "__main__"` would be run again in each of them."""
    main = sys.modules["__main__"]
    sys.modules["__main__"] = ModuleType("__main__")
    try:
        yield
    finally:
        sys.modules["__main__"] = main


@contextmanager
def _interrupts_held() -> Iterator[None]:
    """Hold Ctrl-C back while workers start: it waits for this process, and what they inherit keeps it off them."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    held = {signal.SIGINT, *([signal.SIGHUP] if hasattr(signal, "SIGHUP") else [])}
    before = signal.pthread_sigmask(signal.SIG_BLOCK, held)
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _prepare(keep_rows: bool) -> None:
    global _bench
    # Ctrl-C is for the process that the user sees; it stops the others.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    if hasattr(signal, "SIGHUP"):
        signal.signal(signal.SIGHUP, signal.SIG_IGN)
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
