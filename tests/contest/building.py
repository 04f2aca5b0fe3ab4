"""Small titles written the way people write them, and the few comparisons that every test here makes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tests.checking import check_close, check_printed
from venue.contest.chain import Chain
from venue.contest.match import Match
from venue.contest.results import Headline, MatchUps, headline_of, unaided_edge
from venue.contest.trajectory import Courses, courses
from venue.scenario.title import Title

Array = NDArray[np.float64]
Rules = dict[str, dict[str, Any]]

ONE_POINT = {"tap": {"share": 1.0, "points": 1}}
MIXED = {"near": {"share": 0.7, "points": 2, "chance": "50 %"}, "far": {"share": 0.3, "points": 3, "chance": "35 %"}}
MIXED_OPEN = {"near": {"share": 0.7, "points": 2}, "far": {"share": 0.3, "points": 3}}


def _as_loaded(value: Any) -> Any:
    """Lists become tuples, as they do when a scenario file is read."""
    if isinstance(value, dict):
        return {key: _as_loaded(part) for key, part in value.items()}
    return tuple(map(_as_loaded, value)) if isinstance(value, list) else value


def open_title(length: str = "94 s", **keys: Any) -> Title:
    """Open play; unless told otherwise one-point scores each second, with no minimum and no maximum: the plain walk."""
    plain = {
        "play": "open",
        "periods": 1,
        "period_length": length,
        "mean_attack": "1 s",
        "attempts": ONE_POINT,
        "minimum_chance": 0.0,
        "maximum_chance": 1.0,
    }
    return Title.model_validate(_as_loaded(plain | keys))


def turns_title(length: str = "60 s", **keys: Any) -> Title:
    """Play by turns; unless told otherwise an attempt each second that is worth 1 and succeeds half the time."""
    plain = {
        "play": "turns",
        "periods": 1,
        "period_length": length,
        "mean_attack": "1 s",
        "attempts": {"tap": {"share": 1.0, "points": 1, "chance": "50 %"}},
        "minimum_chance": 0.0,
        "maximum_chance": 1.0,
    }
    return Title.model_validate(_as_loaded(plain | keys))


def points_title(points: int, win_by: int = 1, **keys: Any) -> Title:
    """To so many points; unless told otherwise in open play, a one-point score each second on average."""
    plain = {
        "play": "open",
        "periods": 1,
        "first_to": {"points": points, "win_by": win_by},
        "mean_attack": "1 s",
        "attempts": ONE_POINT,
        "minimum_chance": 0.0,
        "maximum_chance": 1.0,
    }
    return Title.model_validate(_as_loaded(plain | keys))


def race_title(
    seconds: int,
    *,
    pace: float = 10.0,
    periods: int = 1,
    rules: Rules | None = None,
    levels: dict[str, Any] | None = None,
    **race: Any,
) -> Title:
    """A race that takes so many seconds at even pace; `levels` are the title's own keys about skill."""
    plain = {"periods": periods, "race": {"distance": seconds * pace, "pace": pace} | race, "rules": rules or {}}
    return Title.model_validate(_as_loaded(plain | (levels or {})))


def pull(per_point: float | str, **keys: Any) -> Rules:
    """One slope, as a title's rules."""
    return {"pull": {"kind": "slope", "per_point": per_point} | keys}


def lasting(value: float) -> str:
    """A number of seconds as people write it."""
    return f"{value:.15f} s"


def after_period(chain: Chain, margin: int, period: int = 0, mode: int = 0) -> Array:
    """Chances of the margins (over `chain.margins`) at the end of a period that began at a margin."""
    state = mode * len(chain.margins) + chain.zero + margin
    row: Array = chain.transition(period)[state].reshape(chain.break_modes, -1).sum(axis=0)
    return row


def mean_of(chain: Chain, chances: Array) -> float:
    """Mean margin."""
    return float(chances @ chain.margins)


def variance_of(chain: Chain, chances: Array) -> float:
    """Variance of the margin."""
    return float(chances @ (chain.margins - mean_of(chain, chances)) ** 2)


def by_margin(chain: Chain, chances: Array | None = None) -> dict[int, float]:
    """Chances by margin; of the final margin if not told which."""
    found = chain.final_margin if chances is None else chances
    return dict(zip(chain.margins.tolist(), found.tolist(), strict=True))


def success(title: Title, behind: int, match: Match | None = None, *, side: int = 0, period: int = 0) -> float:
    """Chance that the attempt of a side that trails by `behind` scores, read off one second of the chain.

    Expects periods of one second with an attempt in each, and sides that carry on from period to period, so that
    one row of a period's transition is one attempt.
    """
    chain = Chain(title, match or Match())
    margin = behind if side else -behind
    row = after_period(chain, margin, period, mode=side)
    return float(1.0 - row[chain.zero + margin])


@dataclass(frozen=True)
class Course:
    """One contest from start to end: the results of `Courses` at one skill gap.

    Attributes
    ----------
    margin
        Distribution of the final margin: chance by points.
    """

    win: float
    comebacks: tuple[float, float]
    lead_changes: float
    margin: dict[int, float]
    courses: Courses

    def total(self, name: str) -> Array:
        """Expected total over the contest by side."""
        return np.asarray(self.courses.total(name)[0])


def follow(title: Title, match: Match) -> Course:
    """The course of a title for one match."""
    (found,) = courses(title, [match])
    trailed, came_back = found.comebacks[0].tolist()
    margin = dict(zip(found.solved.margins.tolist(), found.margins[0].tolist(), strict=True))
    return Course(float(found.win[0]), (trailed, came_back), float(found.lead_changes[0]), margin, found)


def headlines(
    title: Title, match_ups: MatchUps, strengths: Sequence[float], switches_off: frozenset[str] = frozenset()
) -> list[Headline]:
    """Headline results at each strength."""
    edge = unaided_edge(title, match_ups, switches_off)
    return [headline_of(title, match_ups, strength, edge, switches_off) for strength in strengths]


def assert_closed(value: float, expected: float) -> None:
    """Equal to a closed form: 1e-6 relative."""
    check_close(value, expected, rel=1e-6, abs=0.0)


def assert_prints(value: float, printed: str) -> None:
    """Equal to a printed value: within half a unit of its last digit."""
    check_printed(value, printed)
