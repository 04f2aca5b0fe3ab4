"""Text set in columns, broken into blocks where the terminal is too narrow for all of them side by side."""

from __future__ import annotations

from collections.abc import Sequence

GAP = "  "


def in_columns(head: Sequence[str], rows: Sequence[Sequence[str]], *, width: int, left: int = 1) -> str:
    """Lay out a table.

    Parameters
    ----------
    head
        Column headings; a line break splits one over two lines.
    rows
        Cells, as many in each row as there are headings.
    width
        Characters in a line. The first column is repeated at the head of each further block.
    left
        How many of the first columns are set flush left; the others are set flush right.
    """
    cells = [[str(cell) for cell in row] for row in rows]
    tops = [title.split("\n") for title in head]
    depth = max(len(top) for top in tops)
    tops = [[""] * (depth - len(top)) + top for top in tops]
    widths = [max([len(line) for line in top] + [len(row[index]) for row in cells]) for index, top in enumerate(tops)]
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
        parts = [
            texts[index].ljust(widths[index]) if index < left else texts[index].rjust(widths[index]) for index in block
        ]
        return GAP.join(parts).rstrip()

    pieces = []
    for block in blocks:
        lines = [line([top[row] for top in tops], block) for row in range(depth)]
        lines.append(GAP.join("-" * widths[index] for index in block))
        lines += [line(row, block) for row in cells]
        pieces.append("\n".join(lines))
    return "\n\n".join(pieces)
