"""A roster of teams: each against each, and strengths as one figure, against Bradley & Terry's and Rasch's models."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy.special import expit

from tests.checking import Disagrees, check_close, check_printed
from venue.contest.match import Match
from venue.contest.roster import strengths, wins_of, with_skills
from venue.scenario.title import Title

from .agreement import Case, check_case
from .building import MIXED, points_title, pull, success, turns_title

SKILLS = {"crabs": -0.7, "gulls": 0.1, "seals": 0.6}
EVEN = Match(side_b="visitor")


def roster(skills: dict[str, float] = SKILLS, **more: dict[str, Any]) -> dict[str, Any]:
    return {name: {"skill": skill} | more.get(name, {}) for name, skill in skills.items()}


def first_point(points: int = 1, **keys: Any) -> Title:
    """Whoever makes the first point wins: a chance of expit(skill A − skill B), which is Bradley & Terry's model (for
    one player and one task Rasch's)."""
    return points_title(points, roster=roster(), **keys)


def check_first_point(title: Title, match: Match) -> None:
    skills = np.array(list(SKILLS.values()))
    wins = wins_of(title, match)
    check_close(wins, expit(skills[:, None] - skills[None, :] + match.gap), abs=1e-12)
    found = strengths(wins, sides_alike=match.gap == 0.0)
    check_close(found.of, skills - skills.mean(), abs=1e-9)
    check_close(found.side_a, match.gap, abs=1e-9)
    check_close(found.misfit, 0.0, abs=1e-9)


@pytest.mark.parametrize("match", [EVEN, Match(), Match(gap=0.3)], ids=["visitors", "computer", "gap"])
def test_strengths_are_the_skills_where_one_point_decides(match: Match) -> None:
    check_first_point(first_point(), match)
    with pytest.raises(Disagrees):
        check_first_point(first_point(3), match)  # more points tell skills apart more sharply
    with pytest.raises(Disagrees):  # and so does a rule for one of them
        help_one = {"lift": {"kind": "least chance", "at_least": 0.6, "teams": ["crabs"]}}
        check_first_point(first_point(rules=help_one), match)


# Seven teams, 13 games a pair: the worked example of Agresti, Categorical Data Analysis (Bradley–Terry model); data and
# printed estimates, which set the last team to 0, from memory.
GAMES = np.array([
    [0, 7, 9, 7, 7, 9, 11], [6, 0, 7, 5, 11, 9, 9], [4, 6, 0, 7, 7, 8, 12], [6, 8, 6, 0, 6, 7, 10],
    [6, 2, 6, 7, 0, 7, 12], [4, 4, 5, 6, 6, 0, 6], [2, 4, 1, 3, 1, 7, 0],
], dtype=float)  # fmt: skip
PRINTED = ("1.58", "1.44", "1.29", "1.25", "1.11", "0.68")


def check_seven_teams(games: np.ndarray) -> None:
    above = np.triu(games), np.triu(games.T)
    found = strengths(*above, sides_alike=True)
    for value, printed in zip(found.of[:-1] - found.of[-1], PRINTED, strict=True):
        check_printed(value, printed)


def test_strengths_of_seven_teams() -> None:
    check_seven_teams(GAMES)
    with pytest.raises(Disagrees):
        check_seven_teams(np.where(GAMES == 11, 10, GAMES))


def test_a_ring_of_banes_has_no_strengths_to_tell() -> None:
    """Each beats the next with 70 %: one figure leaves out all of it, and says so."""
    ring = np.array([[0.5, 0.7, 0.3], [0.3, 0.5, 0.7], [0.7, 0.3, 0.5]])
    found = strengths(ring, sides_alike=True)
    check_close(found.of, 0.0, abs=1e-12)
    check_close(found.misfit, 0.2, abs=1e-12)


def test_a_rule_of_a_team_serves_the_side_that_plays_it() -> None:
    # By hand: 40 % and 5 pp for each of four points behind.
    shot = {"shot": {"share": 1.0, "points": 1, "chance": "40 %"}}
    title = turns_title(
        "1 s", periods=8, period_start="carry on", attempts=shot, roster=roster({"crabs": 0.0, "gulls": 0.0}),
        rules=pull("5 pp", teams=["gulls"]), computer_team="gulls",
    )  # fmt: skip
    for match, acting in (
        (Match(), (False, True)),
        (Match(team_a="gulls", team_b="crabs"), (True, False)),
        (Match(side_a="computer", side_b="visitor"), (True, False)),
        (EVEN, (False, False)),
    ):
        for side, acts in enumerate(acting):
            check_close(success(title, 4, match, side=side), 0.60 if acts else 0.40, abs=1e-9)


def test_skills_of_teams_are_set_one_by_one() -> None:
    title = with_skills(first_point(), {"gulls": 2.0})
    assert [team.skill for team in title.roster.values()] == [-0.7, 2.0, 0.6]


CLOCK = {"kind": "clocked slope", "serves": "computer"}
TEAMS = {
    "roster": {
        "crabs": {"levels": {"claw": 3}, "players": {"big": {"claw": 9}}},
        "gulls": {"skill": 0.3, "levels": {"claw": 6}},
    },
    "level_table": [[0, -0.8], [10, 0.8]],
    "attempts": {
        name: kind | {"skill": "claw", "taken_by": {"big": 0.5, "small": 0.5}} for name, kind in MIXED.items()
    },
    "computer_team": "gulls",
    "rules": {
        "crabs' clock": CLOCK | {"steps": [{"left": "40 s", "per_point": "2 pp"}], "teams": ["crabs"]},
        "gulls' clock": CLOCK | {"steps": [{"left": "20 s", "per_point": "6 pp"}], "teams": ["gulls"]},
    },
    "length": "30 s",
    "periods": 2,
    "mean_attack": "2 s",
}


@pytest.mark.parametrize("teams", [{}, {"team_a": "gulls", "team_b": "crabs"}], ids=["own", "asked for"])
def test_teams_played_out_at_random(teams: dict[str, str]) -> None:
    check_case(Case(turns_title, TEAMS, {"roster": {"gulls": {}, "crabs": {}}}, teams), 8000)
