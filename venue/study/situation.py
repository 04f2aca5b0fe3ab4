"""One situation of a title looked at closely, as `venue contest --at` asks: read from a text, answered as data."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

from venue.contest.match import Match
from venue.contest.scoreboard import ScoreBoard
from venue.contest.situation import ChanceThere, Situation, board_of, chances_at
from venue.errors import InputError
from venue.scenario.load import Loaded
from venue.scenario.title import Title
from venue.scenario.words import nearest
from venue.study.line_ups import NEWCOMERS, Against, design_of
from venue.study.title import head_of, match_of, the_title
from venue.study.title_records import SituationRecord
from venue.units import seconds, show_seconds

_CLOCKED = ("period", "left", "margin", "run", "missed", "side")
_TO_POINTS = ("score", "period", "run", "missed", "side")
_MOST = 1000


@dataclass(frozen=True)
class SituationResult:
    """A situation of a title and every chance in it.

    Attributes
    ----------
    match
        Strength, skill gap and who plays.
    against
        Whom it was asked to be studied against.
    """

    loaded: Loaded
    title: str
    match: Match
    at: Situation
    chances: tuple[ChanceThere, ...]
    against: Against = NEWCOMERS

    @property
    def design(self) -> Title:
        """The title as the scenario has it."""
        return design_of(self.loaded, self.title, self.against)

    @property
    def record(self) -> SituationRecord:
        """All of it as plain data, typed."""
        at = asdict(self.at) | {
            "side": "AB"[self.at.side], "scored_last": {0: "A", 1: "B", -1: None}[self.at.scored_last],
        }  # fmt: skip
        return SituationRecord.model_validate(
            {
                "kind": "situation",
                **head_of(self.loaded, self.title, self.match),
                "at": at,
                "chances": [asdict(item) for item in self.chances],
            }
        )

    def to_dict(self) -> dict[str, Any]:
        """Plain data, as `venue contest --at … --json` prints it."""
        return self.record.plain()


def situation_result(loaded: Loaded, title: str | None, text: str, against: Against = NEWCOMERS) -> SituationResult:
    """Every chance in a situation of a title, at the scenario's strength and the mean gap of skills (or another).

    Raises
    ------
    InputError
        If the text names no situation of this title.
    """
    key = the_title(loaded, title)
    match = match_of(loaded, key, against)
    design = design_of(loaded, key, against)
    at = read_situation(design, text)
    return SituationResult(loaded, key, match, at, chances_at(design, match, at), against)


def read_situation(title: Title, text: str) -> Situation:
    """A situation from a text like `period=4, left=5 s, margin=-2, run=0, missed=3`.

    What is left out is the last period, all of its time, nothing to remember, side A.

    Raises
    ------
    InputError
        With the key, its value, the bounds and the fix.
    """
    asked = _Asked(title, text)
    side = {"A": 0, "B": 1}[asked.word("side", "A", ("A", "B"))]
    period = asked.whole("period", title.periods, 1, title.periods)
    run, missed = (asked.whole(key, 0, 0, _MOST) for key in ("run", "missed"))
    if title.first_to is not None:
        mine, theirs = asked.score()
        return Situation(side, period, None, mine - theirs, (mine, theirs), run, missed)
    most = title.seconds * title.periods * title.most_points
    margin = asked.whole("margin", None, -most, most)
    last = side if run else -1
    if title.scores_again is not None:
        words = {"A": 0, "B": 1, "nobody": -1}
        default = "AB"[side] if run else "nobody"
        last = words[asked.word("scored_last", default, tuple(words))]
    return Situation(side, period, asked.time_left(), margin, None, run, missed, last)


class _Asked:
    """The values of a text by key."""

    def __init__(self, title: Title, text: str) -> None:
        self._title = title
        known: tuple[str, ...] = _TO_POINTS if title.first_to is not None else _CLOCKED
        known += ("scored_last",) if title.scores_again is not None else ()
        self._values: dict[str, str] = {}
        for part in text.split(","):
            key, equals, value = (word.strip() for word in part.partition("="))
            if not equals or not value:
                raise InputError(f'--at "{part.strip()}": is not KEY=VALUE; write it like {self._example}')
            if key not in known:
                raise InputError(f"--at {key}={value}: this title has no such key; {nearest(key, known)}")
            if key in self._values:
                raise InputError(f"--at {key}={value}: {key} is named twice; name it once")
            self._values[key] = value

    @property
    def _example(self) -> str:
        first_to, periods = self._title.first_to, self._title.periods
        if first_to is not None:
            return f'"score={first_to.points // 2}:{first_to.points - 1}"'
        return f'"period={periods}, left=5 s, margin=-2"'

    def whole(self, key: str, default: int | None, low: int, high: int) -> int:
        """A whole number within bounds."""
        text = self._values.get(key)
        if text is None:
            if default is None:
                raise InputError(f"--at: {key} is missing; write it like {self._example}")
            return default
        try:
            value = int(text)
        except ValueError:
            raise InputError(f"--at {key}={text}: must be a whole number; write it like {self._example}") from None
        if not low <= value <= high:
            raise InputError(f"--at {key}={text}: must lie between {low} and {high}; write it like {self._example}")
        return value

    def word(self, key: str, default: str, known: tuple[str, ...]) -> str:
        """One of some words."""
        text = self._values.get(key, default)
        if text not in known:
            raise InputError(f"--at {key}={text}: must be {', '.join(known)}; {nearest(text, known)}")
        return text

    def time_left(self) -> int:
        """Whole seconds left in the period."""
        longest = self._title.seconds
        text = self._values.get("left")
        if text is None:
            return longest
        try:
            value = seconds(text)
        except ValueError as error:
            raise InputError(f"--at left={text}: {error}") from None
        if not 1 <= value <= longest or value != round(value):
            raise InputError(
                f"--at left={text}: must be whole seconds from 1 s to {show_seconds(longest)}, the time of a period; "
                f"write it like {self._example}"
            )
        return round(value)

    def score(self) -> tuple[int, int]:
        """Own points and the other side's, in a contest to N points."""
        text = self._values.get("score")
        if text is None:
            raise InputError(f"--at: score is missing; write it like {self._example}")
        own, colon, other = (word.strip() for word in text.partition(":"))
        if not colon or not own.isdecimal() or not other.isdecimal():
            raise InputError(f"--at score={text}: must be own points, a colon, theirs; write it like {self._example}")
        score = int(own), int(other)
        if score not in _on(self._title):
            raise InputError(
                f"--at score={text}: play never goes on from there; once a side has won it is over, and where nobody "
                f"has yet, only the difference counts beyond a point less than it takes; write it like {self._example}"
            )
        return score


def _on(title: Title) -> set[tuple[int, int]]:
    """Scores from which play goes on, in a contest to N points."""
    board = board_of(title)
    if not isinstance(board, ScoreBoard):
        return set()
    return {(a, b) for (a, b), over in zip(board.scores.tolist(), board.over.tolist(), strict=True) if not over}
