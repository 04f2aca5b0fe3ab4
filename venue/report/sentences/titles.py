"""What the rules of a title do, computed exactly."""

from __future__ import annotations

from collections.abc import Sequence

from venue.report.columns import short
from venue.report.heading import LONGEST_NAME
from venue.report.quantities import percent, written
from venue.report.sentences.parts import Name, Quantity, Sentence
from venue.study.findings import BestPlayFound, ContestFindings
from venue.study.registry import TITLE_MEASURES
from venue.study.title_records import TakenApart

_NAME = 22


def trailing(found: ContestFindings) -> Sentence:
    """Whether any score would be better with a point less."""
    if not found.trailing_pays:
        return ("No score is better with a point less.",)
    scores = "1 score" if found.scores == 1 else f"{found.scores} scores"
    return (f"At {scores} side A would do better with a point less.",)


# What the moves of a player are called, by how a title is played.
_MOVES = {
    "turns": {
        "miss": "missing on purpose", "hold": "holding for the clock",
        "choose": "choosing the attempt", "let score": "letting the other side score",
    },
    "open": {"miss": "passing up a score", "let score": "letting the other side score"},
    "race": {"miss": "giving up lengths"},
}  # fmt: skip
# A gain that shows in no digit.
_NO_GAIN = 5e-5


def move_name(play: str, move: str) -> str:
    """A move in words."""
    return _MOVES[play][move]


def best_play(found: BestPlayFound) -> Sentence:
    """What side A could gain by the moves that were searched, and which of them gains most."""
    searched = [move_name(found.play, item.move) for item in found.moves]
    if found.together < _NO_GAIN:
        return ("Of the moves searched (", "; ".join(searched), ") none adds to side A's chance to win.")
    best = max(found.moves, key=lambda item: item.gain)
    return (
        "Used as well as can be, the moves searched (", "; ".join(searched), ") take side A's chance to win from ",
        _share(found.side_a_wins), " to ", _share(found.side_a_wins + found.together), ", most by ",
        move_name(found.play, best.move), "; in the title without rules they add ", _share(found.without_rules), ".",
    )  # fmt: skip


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
