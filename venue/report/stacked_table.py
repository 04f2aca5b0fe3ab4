"""A table for windows too narrow for its rows: what names a row stands on one line, the rest below it, set in."""

from __future__ import annotations

from collections.abc import Sequence

from venue.report.columns import GAP, in_columns, left, room

_INDENT = "    "
_UNBROKEN = 10_000


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
