"""What to do next, once there is an answer."""

from __future__ import annotations

from venue.report.heading import RESTRICTED
from venue.report.sentences.parts import Command, Name, Sentence
from venue.study.floor_records import MovedNumber

LAW: Sentence = (f"Look first to local law and to your licence: {RESTRICTED}.",)
TRY: Sentence = (
    "Before changing every machine, set one machine to it for a few weeks and count credits and complaints next to "
    "the others: only the floor can say whether the model holds.",
)
ASK_FOR_LESS: Sentence = (
    "Ask for less (--keep), or try other settings; the trade-off below shows what there is to choose from.",
)


def find_strength(command: str) -> Sentence:
    """After a run."""
    return ("To find the strength to run at: ", Command(command))


def ask_the_floor(command: str) -> Sentence:
    """After a title's exact results."""
    return ("Ask what the floor makes of it: ", Command(command))


def run_longer(command: str) -> Sentence:
    """Where the take has not settled."""
    return ("To see what a settled venue takes, run more days: ", Command(command))


def find_what_it_depends_on(command: str) -> Sentence:
    """Where the numbers were not moved."""
    return ("To learn which numbers the answer depends on, before trusting it: ", Command(command))


def measure(number: MovedNumber) -> Sentence:
    """Where the number that matters most is not known."""
    return ("Measure ", Name(number.number), f": it is {number.source}, and moves the answer most.")


def run_on(command: str, *, ties: bool) -> Sentence:
    """Where more replications would tell settings apart."""
    words = "Only if the most that a tie may lose is worth the wait: run them" if ties else "Run the rivals"
    return (f"{words} until it is sure which of them takes the most: ", Command(command))


def beyond(word: str, command: str) -> Sentence:
    """Where the best is the last of those that were tried; without a command if none can be written."""
    text = f"The best {word} is at the end of those tried; try some beyond it"
    return (f"{text}: ", Command(command)) if command else (f"{text}.",)
