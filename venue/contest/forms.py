"""The forms of contest, each with what solves it."""

from __future__ import annotations

from venue.contest.chain import Chain
from venue.contest.first_to import FirstTo
from venue.contest.setting import Setting
from venue.contest.solved import Solved
from venue.scenario.title import Title


def solve(title: Title, setting: Setting) -> Solved:
    """Solve a title in one setting, whatever decides it: the clock, a number of points, or a distance."""
    return FirstTo(title, setting) if title.first_to is not None else Chain(title, setting)


def unaided(title: Title) -> Title:
    """The title without any rule."""
    return title.model_copy(update={"rules": {}})


def unaided_spread(title: Title) -> float:
    """Standard deviation of the final margin between equal sides with no catch-up, in points."""
    solved = solve(unaided(title), Setting(strength=0.0))
    mean = solved.final_margin @ solved.margins
    return float((solved.final_margin @ (solved.margins - mean) ** 2) ** 0.5)
