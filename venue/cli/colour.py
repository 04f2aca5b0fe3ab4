"""A little colour on a terminal, for what is read first. It never says anything that the words do not say too.

There is none in a pipe or a file, where NO_COLOR is set to anything, or on a terminal without colours.
"""

from __future__ import annotations

import os
from typing import IO, Any

import click

# How the first words of a part of a text are painted with all that follows in it.
_PARTS: tuple[tuple[str, dict[str, Any]], ...] = (
    ("Recommended: ", {"bold": True}),
    ("Trailing pays ", {"fg": "yellow"}),
    ("Not yet sure: ", {"fg": "yellow"}),
    ("Not known: ", {"fg": "yellow"}),
    ("Caution", {"fg": "yellow"}),
)


def wanted(stream: IO[Any]) -> bool:
    """Whether a stream is to have colour."""
    return stream.isatty() and not os.environ.get("NO_COLOR") and os.environ.get("TERM") not in (None, "", "dumb")


def painted(text: str) -> str:
    """A result with its heading and recommendation bold, the recommended row too, and warnings yellow."""
    first, *others = text.split("\n\n")
    return "\n\n".join([_lines(first, bold=True), *map(_part, others)])


def _part(part: str) -> str:
    for words, style in _PARTS:
        if part.startswith(words):
            return _lines(part, **style)
    return "\n".join(click.style(line, bold=True) if _is_chosen(line) else line for line in part.split("\n"))


def _is_chosen(line: str) -> bool:
    """Whether a row of a table carries the mark of the recommended setting behind its name."""
    name, mark, _ = line.partition(" <  ")
    return bool(mark) and "  " not in name.strip()


def _lines(part: str, **style: Any) -> str:
    """Line by line, so that a pager may cut anywhere."""
    return "\n".join(click.style(line, **style) if line else line for line in part.split("\n"))
