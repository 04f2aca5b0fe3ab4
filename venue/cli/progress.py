"""A progress bar on the terminal: none where nobody looks, none for what is done within a second."""

from __future__ import annotations

import shutil
import sys
import time

import click

from venue.errors import one_line
from venue.study.onlooker import Onlooker
from venue.units import HOUR, MINUTE

_BAR = 30
_LEAST = 10
_PATIENCE = 1.0
_EVERY = 0.2


class ProgressBar(Onlooker):
    """Draws done, total, time left and the precision reached on stderr, one bar for a study.

    Silent when told to be, and when stderr is no terminal unless `always` drawn (a notebook is none).
    """

    def __init__(self, what: str, *, quiet: bool = False, always: bool = False) -> None:
        self._what = what
        self._reached = ""
        self._kept = 0
        self._shown = False
        self._began = time.monotonic()
        self._last = 0.0
        self._silent = quiet or not (always or sys.stderr.isatty())

    def begun(self, kept: int, total: int) -> None:
        """What was stored before took no time now."""
        self._kept = kept

    def noted(self, text: str) -> None:
        """Say it above the bar."""
        self.close()
        click.echo(f"venue: {one_line(text)}", err=True)

    def reached(self, text: str) -> None:
        """Show this beside the count from now on."""
        self._reached = f", {text}"

    def done(self, done: int, total: int) -> None:
        """Show that `done` of `total` are done."""
        now = time.monotonic()
        spent = now - self._began
        if self._silent or spent < _PATIENCE or (now - self._last < _EVERY and done < total):
            return
        self._last = now
        left = spent / max(done - self._kept, 1) * (total - done)
        words = f"{self._what} {done}/{total}, {_show(left)} left"
        if len(words) + len(self._reached) < shutil.get_terminal_size().columns - _LEAST:
            words += self._reached
        # A line that wraps could not be drawn over.
        length = max(0, min(_BAR, shutil.get_terminal_size().columns - len(words) - 4))
        full = length * done // total
        text = f"{words} [{'#' * full}{'.' * (length - full)}]"
        click.echo(f"\r\x1b[K{text}", err=True, nl=False)
        self._shown = True

    def close(self) -> None:
        """Take the bar away."""
        if self._shown:
            click.echo("\r\x1b[K", err=True, nl=False)


def _show(seconds: float) -> str:
    if seconds >= HOUR:
        return f"{seconds / HOUR:.1f} h"
    return f"{seconds / MINUTE:.0f} min" if seconds >= 2 * MINUTE else f"{seconds:.0f} s"
