"""Work that a page needs later, begun at once by a process of its own where there is a core for it."""

from __future__ import annotations

import multiprocessing
import os
import warnings
from collections.abc import Callable
from multiprocessing.connection import Connection
from typing import Generic, TypeVar

Result = TypeVar("Result")


class Beside(Generic[Result]):
    """Something being worked out while other things are.

    Parameters
    ----------
    work
        What to do: it hands back what can be sent between processes, and changes nothing.
    """

    def __init__(self, work: Callable[[], Result]) -> None:
        self._work = work
        self._process: multiprocessing.process.BaseProcess | None = None
        # A process within a process may have no children of its own.
        alone = multiprocessing.current_process().daemon or (os.cpu_count() or 1) < 2
        if alone or "fork" not in multiprocessing.get_all_start_methods():
            return
        # A copy of this process knows what this process knows: nothing is loaded or sent to it.
        context = multiprocessing.get_context("fork")
        self._here, there = context.Pipe(duplex=False)
        self._process = context.Process(target=_send, args=(work, there), daemon=True)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", DeprecationWarning)  # threads of linear algebra, which lie idle
            self._process.start()
        there.close()

    def result(self) -> Result:
        """What came of it, waiting until it is there; worked out here if the other process could not."""
        if self._process is None:
            return self._work()
        try:
            found: Result = self._here.recv()
        except EOFError:
            found = self._work()  # and fail here, if at all
        finally:
            self._here.close()
            self._process.join()
            self._process = None
        return found


def _send(work: Callable[[], Result], there: Connection) -> None:
    try:
        there.send(work())
    except Exception:  # told by whoever waits, who then does it
        os._exit(1)
