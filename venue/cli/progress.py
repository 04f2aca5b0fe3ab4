"""A progress bar on the terminal: none where nobody looks, none for what is done within a second."""

from __future__ import annotations

import shutil
import sys
import time

import click

from venue.units import HOUR, MINUTE

_BAR = 30
_PATIENCE = 1.0
_EVERY = 0.2


class ProgressBar:
    """Draws done, total and time left on stderr. Silent when stderr is no terminal or when told to be."""

    def __init__(self, what: str, *, quiet: bool = False) -> None:
        self._what = what
        self._shown = False
        self._began = time.monotonic()
        self._last = 0.0
        self._silent = quiet or not sys.stderr.isatty()

    def __call__(self, done: int, total: int) -> None:
        """Show that `done` of `total` are done."""
        now = time.monotonic()
        spent = now - self._began
        if self._silent or spent < _PATIENCE or (now - self._last < _EVERY and done < total):
            return
        self._last = now
        left = spent / done * (total - done)
        words = f"{self._what} {done}/{total}, {_show(left)} left"
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
