"""What a run says: what the venue takes at one strength, and what it does to the people who come."""

from __future__ import annotations

from collections.abc import Mapping

from venue.report.figures import with_half
from venue.report.quantities import shown
from venue.report.sentences.parts import Name, Quantity, Sentence
from venue.study.intervals import Estimate
from venue.study.registry import FAIR, MEASURES, TAKE

PEOPLE = {
    "return_28d": "visits followed by another within 28 days",
    "empty_wallets": "visits that end with an empty wallet",
    "spend_top_tenth": "the take that comes from the top tenth of spenders",
}
"""What is said of the people who come, by measure."""


def earns(venue: str, strength: float, measures: Mapping[str, Estimate], money: str) -> Sentence:
    """What the venue takes."""
    at = f" at strength {strength:g}"
    if TAKE not in measures:
        return (Name(venue), f"{at}: its take is not known.")
    week, hour = measures["take_per_week"], measures[TAKE]
    return (
        Name(venue), f"{at} takes ", Quantity(with_half(week, measure=MEASURES["take_per_week"]), week.mean),
        " ", Name(money), " a week, from ", Quantity(with_half(hour, measure=MEASURES[TAKE]), hour.mean),
        " credits per open hour.",
    )  # fmt: skip


def fair_and_back(measures: Mapping[str, Estimate]) -> Sentence:
    """How often the better side wins, and how many come back."""
    fair, back = measures.get(FAIR), measures.get("return_28d")
    parts: Sentence = ()
    if fair is not None:
        parts = ("The better side wins ", Quantity(shown(fair, "share"), fair.mean), " of contests")
    if back is not None:
        head = (*parts, ", and ") if parts else ()
        parts = (*head, Quantity(shown(back, "share"), back.mean), " of visits are followed by another within 28 days")
    return (*parts, ".") if parts else ()


def people(measures: Mapping[str, Estimate]) -> list[Sentence]:
    """What happens to those who come, a line a measure."""
    return [
        (Quantity(shown(item, "share"), item.mean), f" of {words}.")
        for measure, words in PEOPLE.items() if (item := measures.get(measure)) is not None
    ]  # fmt: skip
