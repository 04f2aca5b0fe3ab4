"""A table, declared once: as text in a terminal, as cells for a page, as HTML in a notebook, as rows of a file."""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from html import escape
from typing import Any, Literal

from venue.report import figures
from venue.report.columns import fits, in_columns, in_two_lines, left, room, short
from venue.study.intervals import Estimate
from venue.study.registry import Measure

# What spreadsheets take for the start of a formula, in plain and in wide letters.
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
_BEHIND_SEPARATOR = re.compile(r"([;|\t\r\n]\s*)([=+\-@＝＋－＠])")
_STYLE = (
    "border-collapse:collapse;font-variant-numeric:tabular-nums;margin:0.6em 0", "text-align:left;caption-side:top",
    "padding:0.15em 0.6em;vertical-align:bottom;text-align:", "padding:0.15em 0.6em;text-align:",
)  # fmt: skip


@dataclass(frozen=True)
class Said:
    """A cell that people read otherwise than programs: a label for a name, a share as a percentage."""

    value: str | float | Estimate | None
    text: str


Cell = str | float | bool | Estimate | Said | None


@dataclass(frozen=True)
class Column:
    """One column.

    Attributes
    ----------
    key
        Its name in files.
    head
        Its name for people; a line break splits it over two lines where room is short.
    kind
        `words`, flush left; `number`; `estimate`, a mean ± half of its interval; `interval`, a mean and its interval
        in two columns. The last two are three columns in files: the mean, and the ends of the interval.
    measure
        What its figures are of, which decides percentages and decimals; None for anything else.
    digits
        Decimals of numbers; as short as they come if left out.
    sign
        "+" where positive figures carry their sign.
    longest
        Places that a text may take in a terminal before it is cut; 0 for any.
    spare
        Columns leave a table that is too wide for its window in this order, 1 first; those with 0 stay.
    shown_to
        Whether it is for people, for files, or for both.
    """

    key: str
    head: str
    kind: Literal["words", "number", "estimate", "interval"] = "number"
    measure: Measure | None = None
    digits: int | None = None
    sign: str = ""
    longest: int = 0
    spare: int = 0
    shown_to: Literal["all", "people", "files"] = "all"

    @classmethod
    def of(cls, name: str, measure: Measure, **more: Any) -> Column:
        """A column of estimates of one measure."""
        return cls(name, measure.short + (", %" if measure.is_share else ""), "estimate", measure, **more)

    @property
    def words(self) -> bool:
        """Whether it holds words."""
        return self.kind == "words"

    def texts(self, cells: Sequence[Cell]) -> list[str]:
        """Its cells as people read them."""
        if self.kind == "estimate":
            plain = figures.column([_estimate(cell) for cell in cells], self.measure, self.sign)
        else:
            plain = [self._text(cell) for cell in cells]
        found = [cell.text if isinstance(cell, Said) else text for cell, text in zip(cells, plain, strict=True)]
        return [short(text, self.longest) for text in found] if self.longest else found

    def _text(self, cell: Cell) -> str:
        if cell is None:
            return "" if self.words else "-"
        if isinstance(cell, Estimate):
            return figures.interval(cell, self.measure, self.sign)[0]
        if isinstance(cell, Said | str):
            return str(cell)
        value = 100.0 * cell if self.measure is not None and self.measure.is_share else cell
        if self.digits is not None and not isinstance(cell, bool):
            return figures.number(float(value), self.digits, self.sign)
        return str(value) if isinstance(value, int) else "-" if math.isnan(value) else f"{value:{self.sign}g}"


@dataclass(frozen=True)
class Shown:
    """A cell of a page: its text, the number behind it (None for words), and whether it holds words."""

    text: str
    value: float | None
    words: bool


@dataclass(frozen=True)
class Table:
    """A table.

    Attributes
    ----------
    name
        What its file is called.
    columns
        Its columns.
    rows
        A cell for each column.
    caption
        What it shows.
    below
        In windows that are too narrow: the first of the columns that stand on a row's second line; without one the
        table breaks into blocks.
    """

    name: str
    columns: tuple[Column, ...]
    rows: Sequence[Sequence[Cell]]
    caption: str = ""
    below: str = ""

    def only(self, *keys: str) -> Table:
        """The same with these columns, in this order."""
        places = [next(place for place, item in enumerate(self.columns) if item.key == key) for key in keys]
        return replace(
            self,
            columns=tuple(self.columns[place] for place in places),
            rows=[[row[place] for place in places] for row in self.rows],
        )

    def without(self, *keys: str) -> Table:
        """The same without these columns."""
        return self.only(*(item.key for item in self.columns if item.key not in keys))

    def first(self, count: int) -> Table:
        """Its first rows."""
        return replace(self, rows=self.rows[:count])

    def narrowing(self, most: int) -> Table:
        """At most so many columns, which leave from the last on, one by one, where the window is too narrow."""
        kept = self.columns[:most]
        stay = next((place for place, item in enumerate(kept) if not item.words), 0)
        columns = [replace(item, spare=len(kept) - place if place > stay else 0) for place, item in enumerate(kept)]
        return replace(self, columns=tuple(columns), rows=[row[:most] for row in self.rows])

    def cells(self, place: int) -> list[Cell]:
        """The cells of one column."""
        return [row[place] for row in self.rows]

    def to_text(self, width: int) -> str:
        """As text. Where room is short spare columns leave; then a row takes two lines, or the table several blocks."""
        heads, texts = self._for_people()
        shown = [column for _, column in self._columns("people") for _ in range(2 if column.kind == "interval" else 1)]
        spare, words = [column.spare for column in shown], [column.words for column in shown]
        keep = list(range(len(heads)))
        for rank in sorted({rank for rank in spare if rank}):
            if fits([heads[place] for place in keep], [[row[place] for place in keep] for row in texts], width):
                break
            keep = [place for place in keep if spare[place] != rank]
        head = [heads[place] for place in keep]
        rows = [[row[place] for place in keep] for row in texts]
        flush = next((count for count, place in enumerate(keep) if not words[place]), len(keep))
        for count, place in enumerate(keep):
            if count >= flush and words[place]:
                widest = max(room(line) for row in [head, *rows] for line in row[count].split("\n"))
                head[count] = "\n".join(left(line, widest) for line in head[count].split("\n"))
                rows = [[*row[:count], left(row[count], widest), *row[count + 1 :]] for row in rows]
        if self.below and rows and not fits(head, rows, width):
            first = next(count for count, place in enumerate(keep) if shown[place].key == self.below)
            return in_two_lines(head, rows, first=first, flush_left=min(flush, first))
        return in_columns(head, rows, width=width, flush_left=max(flush, 1))

    def _columns(self, readers: str) -> list[tuple[int, Column]]:
        """The columns for people or for files, with their places."""
        return [(place, item) for place, item in enumerate(self.columns) if item.shown_to in ("all", readers)]

    def _for_people(self) -> tuple[list[str], list[list[str]]]:
        """Heads, and rows of texts; an interval takes two columns."""
        heads: list[str] = []
        texts: list[list[str]] = []
        for place, column in self._columns("people"):
            cells = self.cells(place)
            heads.append(column.head)
            if column.kind == "interval":
                pairs = [_pair(cell, column) for cell in cells]
                heads.append("95 % interval")
                texts += [[mean for mean, _ in pairs], [span for _, span in pairs]]
            else:
                texts.append(column.texts(cells))
        return heads, [list(row) for row in zip(*texts, strict=True)]

    def heads(self) -> list[tuple[str, bool]]:
        """Heads for a page, each with whether its column holds words."""
        found = []
        for _, column in self._columns("people"):
            found.append((" ".join(column.head.split()), column.words))
            found += [("95 % interval", False)] if column.kind == "interval" else []
        return found

    def lines(self) -> list[list[Shown]]:
        """Rows for a page."""
        rows = self._for_people()[1]
        values = [
            [
                item
                for place, column in self._columns("people")
                for item in [(_value(row[place]), column.words)]
                + ([(None, False)] if column.kind == "interval" else [])
            ]
            for row in self.rows
        ]
        return [
            [Shown(text, value, words) for text, (value, words) in zip(row, found, strict=True)]
            for row, found in zip(rows, values, strict=True)
        ]

    def to_html(self) -> str:
        """As HTML that needs no style sheet, for a notebook; the first column being the heads of its rows."""
        table, above, top, cell = _STYLE

        def side(words: bool) -> str:
            return "left" if words else "right"

        heads = "".join(
            f'<th scope="col" style="{top}{side(words)}">{escape(text)}</th>' for text, words in self.heads()
        )
        lines = "".join(
            "<tr>"
            + "".join(
                f'<th scope="row" style="{cell}left">{escape(item.text)}</th>' if place == 0
                else f'<td style="{cell}{side(item.words)}">{escape(item.text)}</td>'
                for place, item in enumerate(row)
            )
            + "</tr>"
            for row in self.lines()
        )  # fmt: skip
        above = f'<caption style="{above}">{escape(self.caption)}</caption>' if self.caption else ""
        return f'<table style="{table}">{above}<thead><tr>{heads}</tr></thead><tbody>{lines}</tbody></table>'

    def keys(self) -> list[str]:
        """Names of its columns in files."""
        found = []
        for _, column in self._columns("files"):
            if column.kind == "interval":
                found += [column.key, "low", "high"]
            else:
                found.append(column.key)
                found += [f"{column.key}_low", f"{column.key}_high"] if column.kind == "estimate" else []
        return found

    def plain_rows(self) -> list[list[Any]]:
        """Rows as files have them; None is an empty cell."""
        return [
            [item for place, column in self._columns("files") for item in _plain(column, row[place])]
            for row in self.rows
        ]

    def to_csv(self) -> str:
        """As rows of a file, safe for spreadsheets."""
        file = io.StringIO()
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow([safe(name) for name in self.keys()])
        writer.writerows([safe(cell) for cell in row] for row in self.plain_rows())
        return file.getvalue()

    def long(self, units: Sequence[str]) -> Table:
        """A row for each of its estimates that is known: the other columns, then measure, mean, low, high and unit.

        Parameters
        ----------
        units
            Unit of each column of estimates, in their order.
        """
        names = [place for place, column in self._columns("files") if column.kind != "estimate"]
        estimates = [place for place, column in self._columns("files") if column.kind == "estimate"]
        columns = (
            *(self.columns[place] for place in names), Column("measure", "measure", "words"),
            Column("mean", "mean", "interval"), Column("unit", "unit", "words"),
        )  # fmt: skip
        rows = [
            [*(row[place] for place in names), self.columns[place].key, row[place], unit]
            for row in self.rows
            for place, unit in zip(estimates, units, strict=True)
            if row[place] is not None
        ]
        return Table(self.name, columns, rows, self.caption)


def safe(cell: Any) -> Any:
    """A cell; where a spreadsheet would take a text for a formula, an apostrophe stands before.

    So too within a text, behind what may be a spreadsheet's separator: many a one parts cells at semicolons.
    """
    if not isinstance(cell, str):
        return cell
    cell = _BEHIND_SEPARATOR.sub(r"\1'\2", cell)
    return f"'{cell}" if cell.startswith(_FORMULA) else cell


def _estimate(cell: Cell) -> Estimate | None:
    found = cell.value if isinstance(cell, Said) else cell
    return found if isinstance(found, Estimate) else None


def _pair(cell: Cell, column: Column) -> tuple[str, str]:
    """Mean and interval of a cell as texts; a cell that is said otherwise has both in its text, split by a bar."""
    if isinstance(cell, Said):
        mean, _, span = cell.text.partition(" | ")
        return mean, span
    return figures.interval(cell, column.measure, column.sign) if isinstance(cell, Estimate) else ("-", "-")


def _value(cell: Cell) -> float | None:
    found = cell.value if isinstance(cell, Said) else cell
    if isinstance(found, Estimate):
        return found.mean
    return float(found) if isinstance(found, int | float) and not isinstance(found, bool) else None


def _plain(column: Column, cell: Cell) -> list[Any]:
    found = cell.value if isinstance(cell, Said) else cell
    if column.kind in ("estimate", "interval"):
        if not isinstance(found, Estimate):
            return [None, None, None]
        return [_finite(value) for value in (found.mean, found.low, found.high)]
    return [_finite(found)]


def _finite(value: Any) -> Any:
    return None if isinstance(value, float) and not math.isfinite(value) else value
