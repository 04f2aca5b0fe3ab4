"""The work queue. A worker stays with one variant while it has work, so that its contests are solved once. A worker
without work takes some of the variant that has most left, so that no worker is idle for long."""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence

from venue.study.work import Work


class WorkQueue:
    """Work that waits, by variant."""

    def __init__(self, works: Sequence[Work]) -> None:
        self._waiting: dict[int, deque[Work]] = {}
        for work in works:
            self._waiting.setdefault(work.place, deque()).append(work)
        self._hand: dict[int, int] = {}

    def take(self, worker: int) -> Work | None:
        """The next piece for a worker; None when there is none."""
        if not self._waiting:
            return None
        place = self._hand.get(worker)
        if place not in self._waiting:
            untouched = [other for other in self._waiting if other not in self._hand.values()]
            place = untouched[0] if untouched else max(self._waiting, key=lambda other: len(self._waiting[other]))
        self._hand[worker] = place
        work = self._waiting[place].popleft()
        if not self._waiting[place]:
            del self._waiting[place]
        return work

    def put_back(self, work: Work) -> None:
        """Return a piece that was not done."""
        self._waiting.setdefault(work.place, deque()).appendleft(work)
