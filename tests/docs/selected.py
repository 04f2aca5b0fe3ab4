"""Of an output the parts and rows that a document shows; what is left out leaves a mark."""

from __future__ import annotations

from .blocks import Block

CUT = "…"


def selected(text: str, block: Block) -> str:
    """Of an output what a block is to show."""
    parts = text.rstrip("\n").split("\n\n")
    wanted, rows = block.words("parts"), block.words("rows")
    for word in wanted:
        if not any(word in part for part in parts):
            raise RuntimeError(f"no part holds {word!r} in:\n{text}")
    shown: list[str] = []
    for part in parts:
        if not wanted or any(word in part for word in wanted):
            shown.append(_rows(part, rows) if rows else part)
        elif not shown or not shown[-1].endswith(CUT):
            shown.append(CUT)
    return "\n\n".join(shown) + "\n"


def _rows(part: str, wanted: list[str]) -> str:
    """A table with only some of its rows; what is no table as it is."""
    lines = part.split("\n")
    rule = next((place for place, line in enumerate(lines) if line and not line.strip("- ")), None)
    if rule is None:
        return part
    shown = lines[: rule + 1]
    for line in lines[rule + 1 :]:
        if any(word in line for word in wanted):
            shown.append(line)
        elif shown[-1] != CUT:
            shown.append(CUT)
    return "\n".join(shown)
