"""What a page is made of, as data: words, figures, lists, tables, charts. Templates turn it into HTML.

Whatever comes from a scenario stays plain text here; the templates escape it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import ClassVar

from venue.report.charts.frame import Chart
from venue.report.sentences import parts as spoken


@dataclass(frozen=True)
class Name:
    """A name from a scenario: text of any script, which turns the direction of nothing around it."""

    kind: ClassVar[str] = "name"
    text: str


@dataclass(frozen=True)
class Figure:
    """A figure as it is read, and the number of the results that it stands for."""

    kind: ClassVar[str] = "figure"
    text: str
    value: float


@dataclass(frozen=True)
class Strong:
    """Words that stand out."""

    kind: ClassVar[str] = "strong"
    parts: Words


@dataclass(frozen=True)
class Code:
    """A key, a file name, or a command for a terminal."""

    kind: ClassVar[str] = "code"
    text: str
    command: bool = False


Part = str | Name | Figure | Strong | Code
Words = Sequence[Part]


def said(sentence: spoken.Sentence) -> Words:
    """A sentence as the page has it."""
    parts: list[Part] = []
    for part in sentence:
        if isinstance(part, spoken.Name):
            parts.append(Name(part.text))
        elif isinstance(part, spoken.Quantity):
            parts.append(Figure(part.text, part.value))
        elif isinstance(part, spoken.Command):
            parts.append(Code(part.text, command=True))
        else:
            parts.append(part)
    return parts


@dataclass(frozen=True)
class Prose:
    """A paragraph."""

    kind: ClassVar[str] = "prose"
    words: Words
    style: str = ""


@dataclass(frozen=True)
class Bullets:
    """A list."""

    kind: ClassVar[str] = "bullets"
    items: Sequence[Words]


@dataclass(frozen=True)
class Heading:
    """A heading within a section."""

    kind: ClassVar[str] = "heading"
    words: Words


@dataclass(frozen=True)
class Row:
    """A row of a table; `setting` is the place of the setting that it tells of."""

    cells: Sequence[Words]
    setting: int | None = None
    on: bool = False


@dataclass(frozen=True)
class Grid:
    """A table: a caption that says what is in it, heads, rows; the first `words` columns hold words."""

    kind: ClassVar[str] = "grid"
    caption: str
    head: Sequence[Words]
    rows: Sequence[Row]
    words: int = 1


@dataclass(frozen=True)
class Tile:
    """A figure with its label and what is said of it."""

    label: str
    figure: Figure
    note: str = ""
    measure: str = ""


@dataclass(frozen=True)
class Tiles:
    """Figures side by side."""

    kind: ClassVar[str] = "tiles"
    tiles: Sequence[Tile]


@dataclass(frozen=True)
class Facts:
    """Facts by name."""

    kind: ClassVar[str] = "facts"
    facts: Sequence[tuple[str, Words]]


@dataclass(frozen=True)
class Charts:
    """Charts side by side where there is room."""

    kind: ClassVar[str] = "charts"
    charts: Sequence[Chart]


@dataclass(frozen=True)
class Folded:
    """Blocks that the reader can unfold."""

    kind: ClassVar[str] = "folded"
    summary: str
    blocks: Sequence[Block]


@dataclass(frozen=True)
class OneEach:
    """Blocks for each setting by its place, of which the slider shows one."""

    kind: ClassVar[str] = "one_each"
    blocks: Mapping[int, Sequence[Block]]
    on: int


@dataclass(frozen=True)
class Card:
    """One setting's figures; the slider shows one card at a time."""

    kind: ClassVar[str] = "card"
    place: int
    named: str
    heading: Words
    tiles: Tiles
    more: Folded
    on: bool


@dataclass(frozen=True)
class Download:
    """A file inside the page, to save."""

    name: str
    href: str


@dataclass(frozen=True)
class Downloads:
    """Files inside the page."""

    kind: ClassVar[str] = "downloads"
    files: Sequence[Download]


Block = Prose | Bullets | Heading | Grid | Tiles | Facts | Charts | Folded | OneEach | Card | Downloads


@dataclass(frozen=True)
class Section:
    """A headed part of the page."""

    key: str
    title: str
    blocks: Sequence[Block]


@dataclass(frozen=True)
class Answer:
    """The first screen.

    Attributes
    ----------
    lead
        The answer, in at most 60 words.
    stake
        What it is worth, with its interval.
    figures_of
        What the key figures are of.
    tiles
        Five key figures.
    chart
        The name of the chart that shows it.
    """

    lead: Sequence[Words]
    stake: Tile | None
    figures_of: str
    tiles: Sequence[Tile]
    chart: str | None


@dataclass(frozen=True)
class Dial:
    """The slider over the settings that were run."""

    label: str
    last: int
    start: int
    named: str
    help: str


@dataclass(frozen=True)
class PageContent:
    """All that a page shows."""

    kind: str
    venue: str
    about: str
    answer: Answer
    sections: Sequence[Section]
    version: str
    chosen: int
    dial: Dial | None = None
    charts: Mapping[str, Chart] = field(default_factory=dict)


def text_of(words: Words) -> str:
    """Words as plain text."""
    return "".join(part if isinstance(part, str) else text_of(part.parts) if isinstance(part, Strong) else part.text
                   for part in words)  # fmt: skip
