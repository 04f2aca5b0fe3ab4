"""How a result was found, and what it cannot tell."""

from __future__ import annotations

from collections.abc import Mapping

from venue.report.sentences.parts import Part, Sentence, listed
from venue.scenario.numbers import DEFAULT, NOT_STATED
from venue.study.judgement import FEW, KNOWN_ORIGINS

MODEL = (
    "Intervals speak of chance within the model, not of the model's truth. Tastes are utilities in a model of choice, "
    "not laws; evidence that close contests keep people playing is mixed."
)
EXACT = (
    "These figures are exact for the rules as written and the skills that newcomers bring; how people take to them is "
    "the floor's to say."
)
BETWEEN = "Nothing between the settings tried is shown or known."
# In the order of how much doubt they leave.
_UNKNOWN = {
    "common practice": "common practice",
    "assumed": "assumed",
    NOT_STATED: "not stated",
    DEFAULT: "left at a default",
}


def judged_by(replications: int, days: int, warm_up: int, *, finished: bool = True) -> Sentence:
    """How many runs of how many days stand behind a result."""
    text = f"Judged by {replications} {'replication' if replications == 1 else 'replications'} (runs with other luck) "
    text += f"of {days} days, the first {warm_up} left out."
    if replications < FEW:
        text += " That is few: intervals are wide, and more replications may change the answer."
    if not finished:
        text += " The study stopped before it was as sure as was asked; allow more with --at-most."
    return (text,)


def few(replications: int) -> Sentence:
    """How to read intervals of few replications; nothing where there are enough."""
    return ("Few replications: intervals are wide and may reach beyond what can be.",) if replications < FEW else ()


def known_numbers(origins: Mapping[str, int]) -> Sentence:
    """How many numbers of the scenario are measured or fitted, and where the others come from."""
    every, known = sum(origins.values()), sum(origins.get(source, 0) for source in KNOWN_ORIGINS)
    others: list[Part] = [f"{origins[source]} {words}" for source, words in _UNKNOWN.items() if origins.get(source)]
    head = f"Of the {every} numbers in the scenario {known} were measured or fitted"
    return (f"{head}; of the others ", *listed(others), ".") if others else (f"{head}.",)
