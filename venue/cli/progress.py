"""A progress bar, on a terminal or in a notebook: none in a pipe or a file, none for what is done within a second."""

from __future__ import annotations

import shutil
import sys
import time
from dataclasses import dataclass
from html import escape
from typing import Any

import click

from venue.errors import one_line
from venue.study.observer import Observer
from venue.units import HOUR, MINUTE

_BAR = 30
_LEAST = 10
_PATIENCE = 1.0
_EVERY = 0.2


class ProgressBar(Observer):
    """Draws done, total, time left and the precision reached on stderr, one bar for a study.

    Silent if asked for, and where stderr is no terminal.
    """

    def __init__(self, what: str, *, quiet: bool = False) -> None:
        self._what = what
        self._reached = ""
        self._kept = 0
        self._shown = False
        self._began = time.monotonic()
        self._last = 0.0
        self._silent = quiet or not self._watched()

    def _watched(self) -> bool:
        """Whether there is a terminal to draw on."""
        return sys.stderr.isatty()

    def begun(self, kept: int, total: int) -> None:
        """What was stored before took no time now."""
        self._kept = kept

    def noted(self, text: str) -> None:
        """Say it above the bar."""
        self.close()
        click.echo(f"venue: {one_line(text)}", err=True)

    def reached(self, text: str) -> None:
        """Show this next to the count from now on."""
        self._reached = f", {text}"

    def done(self, done: int, total: int) -> None:
        """Show that `done` of `total` are done."""
        if self._is_due(done, total):
            left = (time.monotonic() - self._began) / max(done - self._kept, 1) * (total - done)
            self._draw(f"{self._what} {done}/{total}, {_show(left)} left", done / total)
            self._shown = True

    def before(self, done: int, total: int) -> None:
        """Show how many have run up to the day from which they are counted."""
        if self._is_due(done, total):
            self._draw(f"the time before {done}/{total}", done / total)
            self._shown = True

    def _is_due(self, done: int, total: int) -> bool:
        """Whether to draw now: not too soon, and not too often."""
        now = time.monotonic()
        if self._silent or now - self._began < _PATIENCE or (now - self._last < _EVERY and done < total):
            return False
        self._last = now
        return True

    def _draw(self, words: str, share: float) -> None:
        """Draw the bar over what was drawn before."""
        if len(words) + len(self._reached) < shutil.get_terminal_size().columns - _LEAST:
            words += self._reached
        # A line that wraps could not be drawn over.
        length = max(0, min(_BAR, shutil.get_terminal_size().columns - len(words) - 4))
        full = int(length * share)
        text = f"{words} [{'#' * full}{'.' * (length - full)}]"
        click.echo(f"\r\x1b[K{text}", err=True, nl=False)

    def ended(self) -> None:
        """Take the bar away with the study."""
        self.close()

    def close(self) -> None:
        """Take the bar away."""
        if self._shown:
            self._clear()
        self._shown = False

    def _clear(self) -> None:
        click.echo("\r\x1b[K", err=True, nl=False)


class NotebookBar(ProgressBar):
    """The same in a notebook, which shows what is displayed there and can change it in place."""

    _handle: Any = None

    def _watched(self) -> bool:
        return True

    def _draw(self, words: str, share: float) -> None:
        import IPython.display

        display: Any = IPython.display.display
        drawn = _Drawn(words + self._reached, share)
        if self._handle is None:
            self._handle = display(drawn, display_id=True)
        else:
            self._handle.update(drawn)

    def _clear(self) -> None:
        """What was displayed cannot be taken away; it says what was done."""
        spent = time.monotonic() - self._began
        self._handle.update(_Drawn(f"{self._what}: over after {_show(spent)}{self._reached}", None))
        self._handle = None


@dataclass(frozen=True)
class _Drawn:
    """A bar as a notebook shows it, or words alone."""

    words: str
    share: float | None

    def __repr__(self) -> str:
        return self.words

    def _repr_html_(self) -> str:
        bar = "" if self.share is None else f'<progress value="{self.share:.4f}" max="1"></progress> '
        return f"<div>{bar}{escape(self.words)}</div>"


def bar(what: str) -> ProgressBar:
    """A bar for a caller from Python: in the notebook if there is one, or else on the terminal."""
    shell = sys.modules["IPython"].get_ipython() if "IPython" in sys.modules else None
    return NotebookBar(what) if hasattr(shell, "kernel") else ProgressBar(what)


def _show(seconds: float) -> str:
    if seconds >= HOUR:
        return f"{seconds / HOUR:.1f} h"
    return f"{seconds / MINUTE:.0f} min" if seconds >= 2 * MINUTE else f"{seconds:.0f} s"
