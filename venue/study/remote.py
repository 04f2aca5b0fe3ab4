"""What a worker of a cluster does: say which program it runs, and carry out one replication at a time.

It is imported on the worker's machine; what it is sent comes as bytes, so that nobody on the way has to understand it.
"""

from __future__ import annotations

import pickle
import threading
from functools import cache

from venue.study.fingerprint import fingerprint, rounding
from venue.study.past import Past
from venue.study.replicate import Bench, Replication
from venue.study.work import Work, attempt

# Linear algebra is held to one thread for the whole process, so that two replications at once would meet there.
_one_at_a_time = threading.Lock()

Answer = tuple[Replication | None, str, Past | None]


def identity() -> str:
    """All that the numbers of this process depend on: its program, and how its machine rounds."""
    return f"venue {fingerprint()} rounding {rounding()}"


def sent(work: Work) -> bytes:
    """A piece of work as it travels."""
    return pickle.dumps(work)


def carry_out(expected: str, keep_rows: bool, parcel: bytes) -> Answer | str:
    """The replication or why it failed; or who this is, if the work was meant for somebody else."""
    if identity() != expected:
        return identity()
    with _one_at_a_time:
        outcome = attempt(_bench(keep_rows), pickle.loads(parcel))
    return outcome.replication, outcome.failure, outcome.past


@cache
def _bench(keep_rows: bool) -> Bench:
    return Bench(keep_rows=keep_rows)
