"""A table as plain rows, written as CSV; what a data frame would do, without what loading data frames costs."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

# What spreadsheets take for the start of a formula, in plain and in wide letters.
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")


@dataclass(frozen=True)
class Rows:
    """A table: names of the columns, and a tuple a row; None is an empty cell."""

    columns: tuple[str, ...]
    rows: Sequence[tuple[Any, ...]]

    @classmethod
    def of(cls, items: Sequence[Mapping[str, Any]], columns: tuple[str, ...] = ()) -> Rows:
        """Rows from mappings with the same keys; `columns` names them where there may be no row."""
        names = tuple(items[0]) if items else columns
        return cls(names, [tuple(item[name] for name in names) for item in items])

    def to_csv(self) -> str:
        """The table as text, safe for spreadsheets."""
        file = io.StringIO()
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow([safe(name) for name in self.columns])
        writer.writerows([safe(cell) for cell in row] for row in self.rows)
        return file.getvalue()


def safe(cell: Any) -> Any:
    """A cell; a text that a spreadsheet would take for a formula is set behind an apostrophe."""
    return f"'{cell}" if isinstance(cell, str) and cell.startswith(_FORMULA) else cell
