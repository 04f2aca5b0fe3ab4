"""The forms of contest, each with what solves it."""

from __future__ import annotations

from venue.contest.chain import Chain
from venue.contest.first_to import FirstTo
from venue.contest.match import Match
from venue.contest.solved import Solved
from venue.scenario.title import Title


def solve(title: Title, match: Match) -> Solved:
    """Solve a title for one match, whatever decides it: the clock, a number of points, or a distance."""
    return FirstTo(title, match) if title.first_to is not None else Chain(title, match)


def unaided(title: Title) -> Title:
    """The title without any rule."""
    return title.model_copy(update={"rules": {}})


def unaided_spread(title: Title) -> float:
    """Standard deviation of the final margin between equal sides with no catch-up, in points."""
    solved = solve(unaided(title), Match(strength=0.0))
    mean = solved.final_margin @ solved.margins
    return float((solved.final_margin @ (solved.margins - mean) ** 2) ** 0.5)
