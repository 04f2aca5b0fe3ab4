"""A sentence: plain text, quantities with the numbers that they stand for, names from a file, commands for a terminal.

`sentence_text` renders a sentence as plain text; the page renders the same parts as HTML, and names stay inert.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from venue.study.intervals import Estimate


@dataclass(frozen=True)
class Name:
    """A name from a scenario."""

    text: str


@dataclass(frozen=True)
class Quantity:
    """A figure as it is read, and the number that it stands for."""

    text: str
    value: float


@dataclass(frozen=True)
class Command:
    """A command, or options of one."""

    text: str


NO_SURE_CHANGE = "no sure change"

Part = str | Name | Quantity | Command
Sentence = tuple[Part, ...]


def sentence_text(*sentences: Sentence) -> str:
    """Sentences as plain text, one after the other."""
    said = ("".join(part if isinstance(part, str) else part.text for part in sentence) for sentence in sentences)
    return " ".join(item for item in said if item)


def capitalised(sentence: Sentence) -> Sentence:
    """A sentence with a capital at its beginning."""
    first = sentence[0] if sentence else ""
    return (first[:1].upper() + first[1:], *sentence[1:]) if isinstance(first, str) and first else sentence


def listed(items: Sequence[Part], last: str = "and") -> Sentence:
    """Things in a sentence: a, b and c."""
    parts: list[Part] = []
    for place, item in enumerate(items):
        if place:
            parts.append(f" {last} " if place == len(items) - 1 else ", ")
        parts.append(item)
    return tuple(parts)


def scaled(item: Estimate, scale: float) -> Estimate:
    """An estimate in another unit."""
    return Estimate(item.mean * scale, item.low * scale, item.high * scale, item.replications)
