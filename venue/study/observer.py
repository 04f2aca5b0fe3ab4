"""Whoever looks on while a study runs: how far it is, and how precise."""

from __future__ import annotations

from collections.abc import Callable

Progress = Callable[[int, int], None]


class Observer:
    """Looks on and does nothing; what shows progress overrides it."""

    def begun(self, kept: int, total: int) -> None:
        """A study wants `total` replications, `kept` of them stored before; said again if more turn up stored."""

    def done(self, done: int, total: int) -> None:
        """So many replications are done, stored ones among them, of the total as far as it is known."""

    def before(self, done: int, total: int) -> None:
        """So many of the venues of a study have run up to the day from which they are counted."""

    def noted(self, text: str) -> None:
        """Something worth a sentence happened, such as a damaged store set aside."""

    def ended(self) -> None:
        """The study is over, whether it was finished or not."""

    def reached(self, text: str) -> None:
        """How precise the slowest measure is by now, in words."""


class Told(Observer):
    """Tells a plain function (done, total) after each replication."""

    def __init__(self, tell: Progress) -> None:
        self._tell = tell

    def done(self, done: int, total: int) -> None:
        """Pass it on."""
        self._tell(done, total)
