"""Which numbers of a scenario an answer depends on."""

from __future__ import annotations

from collections.abc import Mapping

from venue.report.columns import short
from venue.report.sentences.parts import Name, Sentence
from venue.study.findings import (
    SensitivityFindings,
)
from venue.study.floor_records import MovedNumber

_NAME = 64


def to_measure(found: SensitivityFindings, sources: Mapping[str, str]) -> Sentence:
    """What to measure next, from the origin of each number."""
    if found.foremost is None:
        return ("No number that was moved changes it.",)
    source = sources[found.foremost].removesuffix(" (assumed)")
    if not found.known:
        return ("To measure next: ", Name(found.foremost), f", which is {source} and moves the answer most.")
    rest: Sentence = (
        () if found.next_to_measure is None else (" Of those that are not: ", Name(found.next_to_measure), ".")
    )
    return ("What moves the answer most, ", Name(found.foremost), f", is {source}.", *rest)


def depends(found: SensitivityFindings, measure: str, sources: Mapping[str, str]) -> list[Sentence]:
    """Which number a measure depends on most, and whether its value is known: the first of the answer."""
    if found.foremost is None:
        return [(f"No number that was moved changes {measure}.",)]
    source = sources[found.foremost]
    ground = ", so the answer stands on known ground." if found.known else ": measure it before you trust the answer."
    return [
        (f"{measure} depends most on ", Name(short(found.foremost, _NAME)), "."),
        (f"Its value is {source}{ground}",),
    ]


def changes_most(number: MovedNumber) -> str:
    """The same in one line, with its effect."""
    return f"{short(number.number, 36)} changes it most: {number.effect:.3g}"


def depends_most(number: MovedNumber) -> Sentence:
    """The number that the answer depends on most, and where its value comes from."""
    return ("The answer depends most on ", Name(number.number), f", which is {number.source}.")
