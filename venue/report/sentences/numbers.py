"""Which numbers of a scenario an answer depends on."""

from __future__ import annotations

from collections.abc import Mapping

from venue.report.sentences.parts import Name, Sentence
from venue.study.findings import (
    SensitivityFindings,
)


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
