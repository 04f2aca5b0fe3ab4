"""What the rules of a title do, computed exactly."""

from __future__ import annotations

from collections.abc import Sequence

from venue.report.columns import short
from venue.report.heading import LONGEST_NAME
from venue.report.quantities import percent, written
from venue.report.sentences.parts import Name, Quantity, Sentence
from venue.study.findings import ContestFindings
from venue.study.records import TakenApart
from venue.study.registry import TITLE_MEASURES

_NAME = 22


def trailing(found: ContestFindings) -> Sentence:
    """Whether losing a point on purpose pays."""
    if not found.trailing_pays:
        return ("At no score does losing a point on purpose pay.",)
    scores = "1 score" if found.scores == 1 else f"{found.scores} scores"
    return (f"At {scores} losing a point on purpose pays.",)


def better_side(apart: TakenApart) -> Sentence:
    """How often the better side wins, with the rules and without."""
    return (
        f"At strength {apart.strength:g} the better side wins ", _share(apart.whole["better_side_wins"]),
        " of contests, without rules ", _share(apart.bare["better_side_wins"]), ".",
    )  # fmt: skip


def does_most(rule: str, measure: str, change: float) -> str:
    """The rule that changes most, in one line."""
    name = short(rule, _NAME)
    return f"{name} does most: {TITLE_MEASURES[measure].label} {written(change, 1, '+')} in a hundred"


def together(apart: TakenApart) -> Sentence:
    """What the rules do together, and which no switch turns off."""
    whole, bare = apart.whole, apart.bare
    wins, close = ([percent(found[name]) for found in (bare, whole)] for name in ("better_side_wins", "close_finishes"))
    at = f"At strength {apart.strength:g} the rules together"
    if wins[0] == wins[1] and close[0] == close[1]:
        said: Sentence = (
            f"{at} change nothing: the better side wins {wins[1]}, and {close[1]} of contests end close.",
        )
    else:
        said = (
            f"{at} take the better side from {wins[0]} of wins to {wins[1]}, and close finishes from {close[0]} to "
            f"{close[1]}.",
        )
    return (*said, " ", *stays_on(apart.stays_on)) if apart.stays_on else said


def stays_on(rules: Sequence[str]) -> Sentence:
    """The rules that no switch turns off."""
    if not rules:
        return ("With every switch off no rule is left at work.",)
    names = [part for rule in rules for part in (", ", Name(short(rule, LONGEST_NAME)))][1:]
    return ("No switch turns off: ", *names, ".")


def _share(value: float) -> Quantity:
    return Quantity(percent(value), value)
