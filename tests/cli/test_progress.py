"""The bar on the terminal: not at once, not too often, never wider than the terminal, gone at the end."""

from __future__ import annotations

import io
from collections.abc import Iterator
from contextlib import contextmanager

import pytest

from venue.cli.progress import ProgressBar


class Clock:
    """A clock that a test sets."""

    now = 100.0

    def monotonic(self) -> float:
        return self.now


@contextmanager
def watching(columns: int = 80, *, terminal: bool = True) -> Iterator[tuple[Clock, io.StringIO]]:
    """A clock, and a terminal of this width (or a file) for stderr."""
    clock, stream = Clock(), io.StringIO()
    stream.isatty = lambda: terminal  # type: ignore[method-assign]
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("COLUMNS", str(columns))
        patch.setattr("venue.cli.progress.time", clock)
        patch.setattr("sys.stderr", stream)
        yield clock, stream


def test_nothing_within_a_second() -> None:
    with watching() as (clock, stream):
        bar = ProgressBar("replications")
        clock.now += 0.9
        bar.done(5, 10)
        bar.close()
        assert stream.getvalue() == ""


def test_done_total_and_time_left() -> None:
    with watching() as (clock, stream):
        bar = ProgressBar("replications")
        clock.now += 10.0
        bar.done(5, 20)
        assert stream.getvalue() == "\r\x1b[Kreplications 5/20, 30 s left [#######.......................]"
        bar.close()
        assert stream.getvalue().endswith("]\r\x1b[K")


def test_not_drawn_too_often_but_at_the_end() -> None:
    with watching() as (clock, stream):
        bar = ProgressBar("replications")
        clock.now += 2.0
        for done in range(1, 101):
            clock.now += 0.001
            bar.done(done, 100)
        assert stream.getvalue().count("\r\x1b[K") == 2
        assert stream.getvalue().endswith("100/100, 0 s left [##############################]")


@pytest.mark.parametrize(
    ("spent", "left"), [(10.0, "90 s"), (20.0, "3 min"), (600.0, "1.5 h"), (40_000.0, "100.0 h")]
)  # fmt: skip
def test_time_left_in_a_readable_unit(spent: float, left: str) -> None:
    with watching() as (clock, stream):
        bar = ProgressBar("replications")
        clock.now += spent
        bar.done(1, 10)
        assert f", {left} left [" in stream.getvalue()


@pytest.mark.parametrize("columns", [20, 40, 50, 60])
def test_a_narrow_terminal_gets_a_short_bar(columns: int) -> None:
    with watching(columns) as (clock, stream):
        bar = ProgressBar("replications")
        clock.now += 10.0
        bar.done(5, 20)
        assert len(stream.getvalue().removeprefix("\r\x1b[K")) <= max(columns, 33)


@pytest.mark.parametrize(("quiet", "terminal"), [(True, True), (False, False)])
def test_silent_when_told_or_when_nobody_looks(quiet: bool, terminal: bool) -> None:
    with watching(terminal=terminal) as (clock, stream):
        bar = ProgressBar("replications", quiet=quiet)
        clock.now += 10.0
        bar.done(5, 20)
        bar.close()
        assert stream.getvalue() == ""
