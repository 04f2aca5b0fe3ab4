"""The roster of a title as a study: who is out of line, and the least change that brings all within a bound."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.checking import Disagrees, check_close
from venue.errors import InputError
from venue.report.roster_text import roster_parts
from venue.scenario.load import Loaded, load
from venue.study.roster import level_out, roster_result

FIRST_POINT = """
[venue]
name = "Quay"
credit_price = 1.0
[venue.hours]
every_day = "10:00-20:00"
[venue.arrivals]
per_hour = { "10:00" = 6 }
[titles.row]
play = "open"
periods = 1
first_to = { points = 1 }
mean_attack = "4 s"
[titles.row.attempts.pull]
share = 1.0
points = 1
[titles.row.roster]
crabs = { skill = SKILL }
gulls = { skill = -0.5 }
[machines.row]
title = "row"
price = 1
seats = 2
"""


def two_crews(folder: Path, skill: float = 0.5) -> Loaded:
    """Two crews of whom the first point decides: strengths are their skills."""
    path = folder / "quay.toml"
    path.write_text(FIRST_POINT.replace("SKILL", str(skill)), encoding="utf-8")
    return load(path)


def check_levelled(loaded: Loaded, within: float) -> None:
    # By hand: strengths are ±.5 about their mean; the least change moves both alike, to just within ±.2.
    found = level_out(roster_result(loaded, within=within))
    check_close(list(found.skills.values()), [0.2, -0.2], abs=1e-3)
    check_close(found.after.strengths.of, [0.2, -0.2], abs=1e-3)
    assert found.before.out_of_line == ("crabs", "gulls") and found.after.out_of_line == ()


def test_the_least_change_that_brings_a_roster_within_a_bound(tmp_path: Path) -> None:
    check_levelled(two_crews(tmp_path), 0.2)
    with pytest.raises(Disagrees):
        check_levelled(two_crews(tmp_path), 0.3)


def test_a_roster_in_line_stays_as_it_is(tmp_path: Path) -> None:
    found = level_out(roster_result(two_crews(tmp_path, -0.4), within=0.1))
    assert found.skills == {} and found.changes == ()


def test_what_cannot_be_ranked_is_refused(tmp_path: Path) -> None:
    loaded = two_crews(tmp_path)
    with pytest.raises(InputError, match="must lie between 0 and 5"):
        roster_result(loaded, within=0.0)
    with pytest.raises(InputError, match="has 0 teams, needs 2"):
        roster_result(load(Path(__file__).parents[2] / "scenarios" / "pier.toml"), "tug")


def test_the_answer_names_who_is_out_of_line(tmp_path: Path) -> None:
    result = roster_result(two_crews(tmp_path), within=0.2)
    said = " ".join(part for part in roster_parts(result) if isinstance(part, str))
    assert "Out of line, further than 0.2 log-odds of the mean: crabs and gulls" in said
    assert result.to_dict()["strengths"] == {"crabs": 0.5, "gulls": -0.5}
