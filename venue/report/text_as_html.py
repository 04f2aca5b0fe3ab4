"""The same paragraphs and tables for a notebook, which shows HTML: what text sets in columns, set in cells.

Within `marked_up()` the two functions of `columns` that set text give HTML instead, so that a result says the same on a
terminal and in a notebook.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from html import escape

_STYLE = (
    "border-collapse:collapse;font-variant-numeric:tabular-nums;margin:0.6em 0", "text-align:left;caption-side:top",
    "padding:0.15em 0.6em;vertical-align:bottom;text-align:", "padding:0.15em 0.6em;text-align:",
)  # fmt: skip
_marked_up: ContextVar[bool] = ContextVar("marked_up", default=False)


@contextmanager
def marked_up() -> Iterator[None]:
    """Paragraphs and tables made within are HTML."""
    before = _marked_up.set(True)
    try:
        yield
    finally:
        _marked_up.reset(before)


def is_marked_up() -> bool:
    """Whether HTML is wanted."""
    return _marked_up.get()


def html_paragraph(text: str) -> str:
    """A paragraph; whatever the text holds is shown as it stands."""
    return f'<p style="max-width:50em">{escape(text)}</p>'


def html_table(
    head: Sequence[str], rows: Sequence[Sequence[str]], caption: str, flush_left: int
) -> str:  # fmt: skip
    """A table with its caption, the first column being the heads of its rows."""
    table, above, top, cell = _STYLE

    def side(place: int) -> str:
        return "left" if place < flush_left else "right"

    heads = "".join(
        f'<th scope="col" style="{top}{side(place)}">{"<br>".join(map(escape, text.strip().split(chr(10))))}</th>'
        for place, text in enumerate(head)
    )
    lines = "".join(
        "<tr>"
        + "".join(
            f'<th scope="row" style="{cell}{side(place)}">{escape(text.strip())}</th>' if place == 0
            else f'<td style="{cell}{side(place)}">{escape(text.strip())}</td>'
            for place, text in enumerate(map(str, row))
        )
        + "</tr>"
        for row in rows
    )  # fmt: skip
    above = f'<caption style="{above}">{escape(caption)}</caption>' if caption else ""
    return f'<table style="{table}">{above}<thead><tr>{heads}</tr></thead><tbody>{lines}</tbody></table>'
