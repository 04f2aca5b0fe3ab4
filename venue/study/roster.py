"""The roster of a title: who beats whom, each team's strength, who is out of line, and what would bring them in."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.special import expit

from venue.contest.effects import Array, Mask
from venue.contest.match import Match
from venue.contest.roster import Strengths, pairs, same_sides, strengths, wins_of, with_skills
from venue.errors import InputError
from venue.scenario.load import Loaded
from venue.scenario.title import Title
from venue.scenario.words import shown
from venue.study.line_ups import Against
from venue.study.title import head_of, match_of, the_title
from venue.study.title_records import RosterRecord

WITHIN = 0.2
_FARTHEST = 5.0
# Passes of levelling out, by what share of the bound a team is brought inside it, and when skills have settled.
_PASSES = 25
_NEAR = 1e-3
_SETTLED = 1e-4
_BOUND = 20.0

Seen = Callable[[int, int], None]


@dataclass(frozen=True)
class RosterResult:
    """Each team of a roster against each.

    Attributes
    ----------
    match
        Strength, gap of skills at large and who plays.
    wins
        Chance that side A wins with the row's team against the column's, shape (teams, teams).
    strengths
        Each team's strength as one figure.
    within
        How far from the mean a team may lie and still be in line, in log-odds.
    """

    loaded: Loaded
    title: str
    design: Title
    match: Match
    wins: Array
    strengths: Strengths
    within: float

    @property
    def teams(self) -> tuple[str, ...]:
        """Names of the roster, in its order."""
        return tuple(self.design.roster)

    @property
    def out_of_line(self) -> tuple[str, ...]:
        """Teams that are further from the mean than they may be, the farthest first."""
        far = sorted(zip(np.abs(self.strengths.of).tolist(), self.teams, strict=True), key=lambda item: -item[0])
        return tuple(team for distance, team in far if distance > self.within + 1e-9)

    def against_mean(self, team: str) -> float:
        """Chance that a team beats one of mean strength, on neither side's ground."""
        return float(expit(self.strengths.of[self.teams.index(team)]))

    @property
    def record(self) -> RosterRecord:
        """All of it as plain data, typed."""
        return RosterRecord.model_validate(self._plain())

    def _plain(self) -> dict[str, Any]:
        return {
            "kind": "roster",
            **head_of(self.loaded, self.title, self.match),
            "teams": list(self.teams),
            "wins": np.round(self.wins, 9).tolist(),
            "strengths": dict(zip(self.teams, np.round(self.strengths.of, 9).tolist(), strict=True)),
            "side_a": round(self.strengths.side_a, 9),
            "spread": round(self.strengths.spread, 9),
            "misfit": round(self.strengths.misfit, 9),
            "within": self.within,
            "out_of_line": list(self.out_of_line),
        }

    def to_dict(self) -> dict[str, Any]:
        """Plain data, as `venue contest --roster --json` prints it."""
        return self.record.plain()


@dataclass(frozen=True)
class LevelledRoster:
    """A roster before and after those out of line were brought in.

    Attributes
    ----------
    skills
        The new skill of each team that changes.
    """

    before: RosterResult
    after: RosterResult
    skills: Mapping[str, float]

    @property
    def changes(self) -> tuple[str, ...]:
        """What to set, as `--set` takes it."""
        return tuple(f"{shown(('titles', self.before.title, 'roster', team, 'skill'))}={skill:.6g}"
                     for team, skill in self.skills.items())  # fmt: skip

    def to_dict(self) -> dict[str, Any]:
        """Plain data: the roster before and after, and the changes."""
        return {
            "before": self.before.to_dict(),
            "after": self.after.to_dict(),
            "skills": dict(self.skills),
            "changes": list(self.changes),
        }


def roster_result(
    loaded: Loaded, title: str | None = None, *, gap: float | None = None, within: float = WITHIN,
    seen: Seen = lambda done, of: None,
) -> RosterResult:  # fmt: skip
    """Each team of a title's roster against each, between people of equal skill at large (or with another gap).

    Parameters
    ----------
    within
        How far from the mean strength a team may lie, in log-odds.
    seen
        Called after each contest with how many are solved, and of how many.

    Raises
    ------
    InputError
        If the title has no roster of two teams, or the bound makes no sense.
    """
    key = the_title(loaded, title)
    design = loaded.scenario.titles[key]
    if len(design.roster) < 2:
        raise InputError(
            f"titles.{key}.roster: has {len(design.roster)} teams, needs 2; add [titles.{key}.roster.NAME]"
        )
    if not 0 < within <= _FARTHEST:
        raise InputError(f"--within {within:g}: must lie between 0 and {_FARTHEST:g} log-odds; 0.2 is 55 % to 45 %")
    match = match_of(loaded, key, Against(0.0 if gap is None else gap))
    return _played(loaded, key, design, match, within, seen)


def _played(loaded: Loaded, key: str, design: Title, match: Match, within: float, seen: Seen) -> RosterResult:
    done, of = 0, len(pairs(design, match))

    def one() -> None:
        nonlocal done
        done += 1
        seen(done, of)

    wins = wins_of(design, match, one)
    found = strengths(wins, sides_alike=same_sides(design, match))
    return RosterResult(loaded, key, design, match, wins, found, within)


def level_out(result: RosterResult, seen: Seen = lambda done, of: None) -> LevelledRoster:
    """Change the skill of teams that are out of line, by the least sum of squares that brings all within the bound.

    Each pass takes strengths for straight in skills, with slopes corrected on the way (Broyden 1965, Mathematics of
    Computation 19), and solves for the least change under that (sequential least squares, as scipy has it).

    Raises
    ------
    InputError
        If skills alone do not bring a team in.
    """
    teams, start = result.teams, np.array([team.skill for team in result.design.roster.values()])
    now, skills = result, start.copy()
    # One log-odds of skill is at least one of strength: more attacks tell sharper.
    slopes = np.eye(len(teams)) - 1.0 / len(teams)
    free = np.abs(now.strengths.of) > result.within
    for _ in range(_PASSES):
        free |= np.abs(now.strengths.of) > result.within * (1.0 + 1e-9)
        if not free.any():
            break
        aim = _least_change(start, skills, now.strengths.of, slopes, free, result.within * (1.0 - _NEAR))
        step = aim - skills
        if now is not result and np.abs(step).max() < _SETTLED and not now.out_of_line:
            break
        before, skills = now.strengths.of, aim
        design = with_skills(result.design, dict(zip(teams, skills.tolist(), strict=True)))
        now = _played(result.loaded, result.title, design, result.match, result.within, seen)
        missed = now.strengths.of - before - slopes @ step
        slopes = slopes + np.outer(missed, step) / max(float(step @ step), 1e-18)
    if now.out_of_line:
        raise InputError(
            f"titles.{result.title}.roster: skill alone does not bring {now.out_of_line[0]} within "
            f"{result.within:g}; allow more, or change the rules it has of its own"
        )
    changed = {team: skill for team, skill, was in zip(teams, skills.tolist(), start.tolist(), strict=True)
               if abs(skill - was) > _SETTLED}  # fmt: skip
    return LevelledRoster(result, now, changed)


def _least_change(start: Array, skills: Array, strength: Array, slopes: Array, free: Mask, bound: float) -> Array:
    """Skills nearest to `start` at which all strengths, taken for straight around `skills`, are within the bound."""
    from scipy.optimize import minimize  # slow to import, and needed here only

    def at(moved: Array) -> Array:
        new = start.copy()
        new[free] += moved
        return new

    def room(moved: Array) -> Array:
        there = strength + slopes @ (at(moved) - skills)
        return np.concatenate([bound - there, bound + there])

    first = (skills - start)[free]
    found = minimize(
        lambda moved: float(moved @ moved), first, jac=lambda moved: 2.0 * moved, method="SLSQP",
        bounds=[(-_BOUND, _BOUND)] * len(first), constraints={"type": "ineq", "fun": room}, options={"ftol": 1e-12},
    )  # fmt: skip
    return at(np.asarray(found.x))
