"""A cluster: a Dask scheduler that is already running, and the workers that joined it, on this machine or on many.

A worker must run the very same program on a machine that rounds alike, or it gets no work. Each does one replication at
a time and stays with one variant while there is any of it. Who joins later is asked and joins in; when a worker dies,
its replication is run again by another.
"""

from __future__ import annotations

import logging
import queue
import threading
import time
from collections.abc import Callable, Generator, Sequence
from contextlib import suppress
from typing import Any

from venue.errors import InputError, RunError, one_line
from venue.study.address import check_address
from venue.study.fingerprint import fingerprint
from venue.study.remote import carry_out, identity, sent
from venue.study.work import Deaths, Outcome, Work
from venue.study.work_queue import WorkQueue

_LOG = logging.getLogger("distributed.client")
_CONNECT = 5.0
_LOOK = 1.0
_WAIT = 60.0
_FETCH = 20.0


class Cluster:
    """Workers of a Dask cluster.

    Parameters
    ----------
    address
        Of the scheduler, as `10.0.0.5:8786`.
    keep_rows
        Whether replications carry their rows.
    noted
        Told in a sentence of workers that get no work, and of waiting for workers.

    Raises
    ------
    InputError
        If the address is none, nobody answers there, or the scheduler runs another program.
    """

    def __init__(
        self, address: str, *, keep_rows: bool = False, noted: Callable[[str], None] = lambda text: None
    ) -> None:  # fmt: skip
        self._address = check_address(address)
        self._keep_rows, self._noted = keep_rows, noted
        self._who = identity()
        self._client = self._connected()
        self._was = _LOG.level
        _LOG.setLevel(logging.CRITICAL)  # failures are reported here, once
        self._came: queue.SimpleQueue[tuple[str, Any]] = queue.SimpleQueue()
        # By worker: what it is busy with, no work meaning that it was asked who it is; who waits; who gets nothing.
        self._busy: dict[str, tuple[Any, Work | None]] = {}
        self._idle: list[str] = []
        self._refused: dict[str, str] = {}
        self._seats: dict[str, int] = {}
        self._looked = self._last_seen = time.monotonic() - _LOOK
        self._begun = self._waiting = False

    def _connected(self) -> Any:
        """A client of a scheduler that runs this very program."""
        import distributed

        made: list[Any] = []

        def connect() -> None:
            client: Any = distributed.Client
            try:
                made.append(client(self._address, timeout=_CONNECT, set_as_default=False))
            except Exception as error:
                made.append(error)

        # A process that accepts the connection and stays silent would block the library for ever.
        calling = threading.Thread(target=connect, daemon=True)
        calling.start()
        calling.join(_CONNECT + _LOOK)
        client = made[0] if made else TimeoutError("who answers says nothing")
        if isinstance(client, Exception):
            raise InputError(
                f"--cluster {self._address}: no scheduler answers there within {_CONNECT:g} s "
                f"({one_line(str(client)) or type(client).__name__}); start one with: dask scheduler"
            )
        try:
            found = client.run_on_scheduler(fingerprint)
        except Exception as error:
            found = _why_not(error)
        if found != fingerprint():
            client.close(timeout=_CONNECT)
            raise InputError(
                f"--cluster {self._address}: the scheduler must run the same program, {fingerprint()}; it has "
                f"{one_line(str(found))}; install the same there"
            )
        return client

    def run(self, works: Sequence[Work]) -> Generator[Outcome, None, None]:
        """Carry out the work; what a dead worker had is run again.

        Raises
        ------
        InputError
            If there are workers, but none may be given work.
        RunError
            If the scheduler is gone, or nobody is left to work for a minute.
        """
        pile, deaths, left = WorkQueue(works), Deaths(), len(works)
        self._last_seen = time.monotonic()
        finished = False
        try:
            while left:
                lost = self._look()
                worker = self._next()
                if worker is not None:
                    future, work = self._busy.pop(worker)
                    answer = self._answer(worker, future)
                    if work is None:
                        self._greet(worker, answer)
                    elif isinstance(answer, tuple):
                        self._idle.append(worker)
                        self._give(pile)
                        left -= 1
                        yield Outcome(work, *answer)
                    else:
                        lost.append(work)
                        self._refuse(worker, answer)
                for work in lost:
                    failed = deaths.count(work)
                    if failed is None:
                        pile.put_back(work)
                    else:
                        left -= 1
                        yield failed
                self._give(pile)
                self._check_somebody_works()
            finished = True
        finally:
            if not finished:  # Ctrl-C or an error: work under way is not waited for
                self.close()

    def _look(self) -> list[Work]:
        """Ask those who joined who they are; the work of those who left."""
        if time.monotonic() - self._looked < _LOOK:
            return []
        try:
            here = set(self._client.nthreads())
        except Exception:
            raise self._gone() from None
        self._looked = time.monotonic()
        known = {*self._busy, *self._idle, *self._refused}
        for worker in sorted(here - known):
            self._seats.setdefault(worker, len(self._seats))
            self._submit(worker, None, identity)
        lost = []
        for worker in known - here:
            self._refused.pop(worker, None)
            if worker in self._idle:
                self._idle.remove(worker)
            future, work = self._busy.pop(worker, (None, None))
            if future is not None:
                future.cancel()
            if work is not None:
                lost.append(work)
        return lost

    def _gone(self) -> RunError:
        return RunError(
            f"--cluster {self._address}: the scheduler is gone; start it again with its workers, and the same command "
            "goes on with what is kept"
        )

    def _submit(self, worker: str, work: Work | None, task: Callable[..., Any], *arguments: Any) -> None:
        future = self._client.submit(task, *arguments, workers=[worker], pure=False, retries=0)
        self._busy[worker] = (future, work)
        future.add_done_callback(lambda done: self._came.put((worker, done.key)))

    def _give(self, pile: WorkQueue) -> None:
        """Work for everybody who has none."""
        while self._idle:
            work = pile.take(self._seats[self._idle[0]])
            if work is None:
                return
            self._submit(self._idle.pop(0), work, carry_out, self._who, self._keep_rows, sent(work))

    def _next(self) -> str | None:
        """The next worker that is done with what it had; None if nobody is for a while."""
        with suppress(queue.Empty):
            while True:
                worker, key = self._came.get(timeout=_LOOK)
                if worker in self._busy and self._busy[worker][0].key == key:
                    return worker
        return None

    def _answer(self, worker: str, future: Any) -> Any:
        """What came of a task; a text where the worker could not do it, None where it died."""
        while True:
            try:
                return future.result(timeout=_FETCH)
            except TimeoutError:  # slow, or its worker died
                if worker not in self._client.nthreads():
                    return None
            except Exception as error:
                if self._client.status != "running":
                    raise self._gone() from None
                return _why_not(error)

    def _greet(self, worker: str, answer: str | None) -> None:
        if answer != self._who:
            self._refuse(worker, answer)
            return
        self._idle.append(worker)
        self._begun = True

    def _refuse(self, worker: str, answer: str | None) -> None:
        if answer is not None:  # None: the worker is gone
            self._refused[worker] = text = one_line(answer)
            self._noted(f"worker {worker} gets no work: it must run {self._who}, and has {text}")

    def _check_somebody_works(self) -> None:
        """Wait for workers, though not for ever.

        Raises
        ------
        InputError, RunError
            As `run` says.
        """
        if self._busy or self._idle:
            self._last_seen, self._waiting = time.monotonic(), False
            return
        waited, how = time.monotonic() - self._last_seen, f"dask worker {self._address} --nthreads 1"
        if self._refused and (waited > _WAIT or not self._begun):
            worker, text = next(iter(self._refused.items()))
            raise InputError(
                f"--cluster {self._address}: may give work to none of its workers ({len(self._refused)}); {worker} "
                f"must run {self._who}, and has {text}; install the same there"
            )
        if waited > _WAIT:
            raise RunError(f"--cluster {self._address}: has had no worker for {_WAIT:g} s; start some with: {how}")
        if not self._waiting:
            self._waiting = True
            self._noted(f"the cluster has no worker; waiting {_WAIT:g} s for one ({how})")

    def close(self) -> None:
        """Take back what nobody has begun, and hang up; the workers stay where they are."""
        with suppress(Exception):
            for future, _ in self._busy.values():
                future.cancel(force=True)
            self._client.close(timeout=_CONNECT)
        _LOG.setLevel(self._was)
        self._busy.clear()


def _why_not(error: Exception) -> str:
    """Why a machine could not do its work, in words."""
    return f"{type(error).__name__}: {one_line(str(error))}"
