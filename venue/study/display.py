"""How a result shows itself where somebody looks at it, as at the end of a cell of a notebook.

A result knows its figures, not how they are laid out; the report, further on, says that for each kind of result.
"""

from __future__ import annotations

from functools import singledispatch


@singledispatch
def html_of(result: object) -> str:
    """A result as HTML.

    Raises
    ------
    TypeError
        If nobody has said how this kind of result is shown.
    """
    raise TypeError(f"{type(result).__name__} has no HTML")


class Displayed:
    """A result that a notebook shows as tables with captions, intervals and units."""

    def _repr_html_(self) -> str:
        return html_of(self)
