"""What a result says, as parts in their order: paragraphs, tables, and lines that stand as they are.

A terminal and a notebook show the same parts, each in its own way.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

from venue.report.columns import paragraph
from venue.report.tables import Table


@dataclass(frozen=True)
class Lines:
    """Lines to be copied, such as those of a scenario file."""

    text: str


Part = str | Table | Lines


def as_text(parts: Sequence[Part], width: int) -> str:
    """The parts as text, an empty line between them; a table's caption stands above it."""
    found = []
    for part in parts:
        if isinstance(part, Table):
            found += [paragraph(f"{part.caption}:", width)] if part.caption else []
            found.append(part.to_text(width))
        else:
            found.append(part.text if isinstance(part, Lines) else paragraph(part, width))
    return "\n\n".join(found)


def as_html(parts: Sequence[Part]) -> str:
    """The parts as HTML without a style sheet; whatever texts hold is shown as it stands."""
    return "<div>" + "".join(_html(part) for part in parts) + "</div>"


def _html(part: Part) -> str:
    if isinstance(part, Table):
        return part.to_html()
    if isinstance(part, Lines):
        return f"<pre>{escape(part.text)}</pre>"
    return f'<p style="max-width:50em">{escape(part)}</p>'
