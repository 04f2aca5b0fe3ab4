"""Text in a terminal: paragraphs, and columns that break into blocks or take two lines a row where room is short."""

from __future__ import annotations

import textwrap
import unicodedata
from bisect import bisect_right
from collections.abc import Sequence
from itertools import accumulate

GAP = "  "
_WIDEST_PARAGRAPH = 100
_INDENT = "    "
_UNBROKEN = 10_000
_LONGEST_WORD = 1_000


def room(text: str) -> int:
    """Places that a text takes on a terminal: none for marks set over a letter, two for wide letters."""
    return sum(
        0 if unicodedata.combining(char) else 2 if unicodedata.east_asian_width(char) in "WF" else 1 for char in text
    )


def left(text: str, width: int) -> str:
    """Text set flush left."""
    return text + " " * (width - room(text))


def right(text: str, width: int) -> str:
    """Text set flush right."""
    return " " * (width - room(text)) + text


def short(text: str, most: int) -> str:
    """Text on one line, cut with an ellipsis where it takes more room than there is."""
    text = " ".join(text.split())
    if room(text) <= most:
        return text
    taken = list(accumulate(room(char) for char in text))
    return text[: bisect_right(taken, most - 1)].rstrip() + "…"


def short_path(path: str, most: int) -> str:
    """A path cut at its beginning where it takes more room than there is: its end tells files apart."""
    if room(path) <= most:
        return path
    while room(path) > most - 1:
        path = path[1:]
    return "…" + path


def paragraph(text: str, width: int) -> str:
    """Text wrapped to a width, and to what is easily read; words joined by a hyphen stay together."""
    # A word without end would be broken in time that grows with its square.
    words = [word if len(word) <= _LONGEST_WORD else f"{word[:_LONGEST_WORD]}…" for word in text.split(" ")]
    return textwrap.fill(" ".join(words), min(max(width, 20), _WIDEST_PARAGRAPH), break_on_hyphens=False)


def in_columns(
    head: Sequence[str], rows: Sequence[Sequence[str]], *, width: int, flush_left: int = 1
) -> str:  # fmt: skip
    """Lay out a table.

    Parameters
    ----------
    head
        Column headings; a line break splits one over two lines.
    rows
        Cells, as many in each row as there are headings.
    width
        Characters in a line. The first column is repeated at the head of each further block.
    flush_left
        How many of the first columns are set flush left; the others are set flush right.
    """
    cells = [[str(cell) for cell in row] for row in rows]
    tops = [title.split("\n") for title in head]
    depth = max(len(top) for top in tops)
    tops = [[""] * (depth - len(top)) + top for top in tops]
    widths = [max([room(line) for line in top] + [room(row[index]) for row in cells]) for index, top in enumerate(tops)]
    blocks: list[list[int]] = []
    block = [0]
    used = widths[0]
    for index in range(1, len(head)):
        if used + len(GAP) + widths[index] > width and len(block) > 1:
            blocks.append(block)
            block, used = [0], widths[0]
        block.append(index)
        used += len(GAP) + widths[index]
    blocks.append(block)

    def line(texts: Sequence[str], block: Sequence[int]) -> str:
        parts = [(left if index < flush_left else right)(texts[index], widths[index]) for index in block]
        return GAP.join(parts).rstrip()

    pieces = []
    for block in blocks:
        heads = [line([top[row] for top in tops], block) for row in range(depth)]
        lines = [head for head in heads if head]
        lines.append(GAP.join("-" * widths[index] for index in block))
        lines += [line(row, block) for row in cells]
        pieces.append("\n".join(lines))
    return "\n\n".join(pieces)


def fits(head: Sequence[str], rows: Sequence[Sequence[str]], width: int) -> bool:
    """Whether a table's rows fit into lines of this width."""
    columns = list(zip(*[[max(cell.split("\n"), key=room) for cell in row] for row in [head, *rows]], strict=True))
    return sum(max(map(room, column)) for column in columns) + len(GAP) * (len(columns) - 1) <= width


def in_two_lines(
    head: Sequence[str], rows: Sequence[Sequence[str]], *, first: int = 1, flush_left: int = 1
) -> str:  # fmt: skip
    """Lay out a table whose first columns fill a line of their own.

    Parameters
    ----------
    rows
        Cells, as many in each row as there are headings; at least one row.
    first
        How many columns stand on the first line of a row; a row that has nothing in the others has one line.
    flush_left
        How many of the first columns are set flush left; the others are set flush right, and all below flush left.
    """
    whole = in_columns(head[:first], [row[:first] for row in rows], width=_UNBROKEN, flush_left=flush_left).split("\n")
    *top, rule = whole[: -len(rows)]
    rest = [row[first:] for row in [head, *rows]]
    widths = [max(map(room, column)) for column in zip(*rest, strict=True)]
    under, *below = [
        (_INDENT + GAP.join(left(cell, size) for cell, size in zip(row, widths, strict=True))).rstrip() for row in rest
    ]
    pairs = [line for pair in zip(whole[-len(rows) :], below, strict=True) for line in pair if line]
    return "\n".join([*top, under, rule, *pairs])
