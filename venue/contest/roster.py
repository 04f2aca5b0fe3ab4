"""A roster: teams or characters of one title, each against each, and how strong each of them is as one figure.

The figure is that of Bradley & Terry 1952 (Biometrika 39): a chance to win is expit(strength − strength of the other),
here with a term for the side where the two sides are not alike. It says all there is where no team has another as its
bane; `misfit` tells how much it leaves out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import expit

from venue.contest.effects import Array
from venue.contest.forms import solve
from venue.contest.match import Match
from venue.scenario.title import Title
from venue.threads import one_thread

# A chance of 1 would be a strength without end.
_SUREST = 1e-6
_STEPS = 100
_SETTLED = 1e-12


@dataclass(frozen=True)
class Strengths:
    """Strengths that explain who wins.

    Attributes
    ----------
    of
        In log-odds, mean 0.
    side_a
        What it is worth to be side A, in log-odds; 0 where the sides are alike.
    misfit
        By how much the chance of any pair differs at most from what the strengths say.
    """

    of: Array
    side_a: float
    misfit: float

    @property
    def spread(self) -> float:
        """Standard deviation over the roster, in log-odds."""
        return float(self.of.std())


def same_sides(title: Title, match: Match) -> bool:
    """Whether it makes no difference which side is A."""
    return match.side_a == match.side_b and match.gap == 0.0 and title.period_start != "alternate"


def pairs(title: Title, match: Match) -> list[tuple[str, str]]:
    """Pairs of teams, side A's first, whose contests tell all chances of a roster."""
    names = list(title.roster)
    if same_sides(title, match):
        return [(first, second) for place, first in enumerate(names) for second in names[place + 1 :]]
    return [(first, second) for first in names for second in names]


def wins_of(title: Title, match: Match, seen: Callable[[], None] = lambda: None) -> Array:
    """Chance that side A wins with the row's team against the column's; a level end counts as the title says.

    Parameters
    ----------
    match
        Strength, gap of skills at large and who plays; its teams are ignored.
    seen
        Called after each contest.
    """
    places = {name: place for place, name in enumerate(title.roster)}
    wins = np.full((len(places), len(places)), 0.5)
    for (first, second), chance in _chances(title, match, seen):
        wins[places[first], places[second]] = chance
        if same_sides(title, match):
            wins[places[second], places[first]] = 1.0 - chance
    return wins


def _chances(title: Title, match: Match, seen: Callable[[], None]) -> Iterator[tuple[tuple[str, str], float]]:
    with one_thread():
        for pair in pairs(title, match):
            yield pair, solve(title, replace(match, team_a=pair[0], team_b=pair[1])).win_chance
            seen()


def strengths(wins: Array, losses: Array | None = None, *, sides_alike: bool) -> Strengths:
    """Strengths by maximum likelihood (Newton's method on a concave function).

    Parameters
    ----------
    wins, losses
        How often the row's team, on side A, beats the column's, and is beaten: chances (losses then follow) or counts.
        Shape (teams, teams).
    sides_alike
        Whether side A and side B are worth the same.
    """
    if losses is None:
        wins = np.clip(wins, _SUREST, 1.0 - _SUREST)
        losses = 1.0 - wins
    played = wins + losses
    teams = len(wins)
    unknown = np.zeros(teams + 1)  # the last is the worth of side A
    for _ in range(_STEPS):
        chance = expit(unknown[:teams, None] - unknown[None, :teams] + unknown[teams])
        over, weight = wins - played * chance, played * chance * (1.0 - chance)
        slope = np.append(over.sum(axis=1) - over.sum(axis=0), over.sum())
        bend = np.zeros((teams + 1, teams + 1))
        bend[:teams, :teams] = np.diag(weight.sum(axis=1) + weight.sum(axis=0)) - weight - weight.T
        bend[:teams, teams] = bend[teams, :teams] = weight.sum(axis=1) - weight.sum(axis=0)
        bend[teams, teams] = weight.sum()
        known = teams if sides_alike else teams + 1
        step = np.zeros(teams + 1)
        # Only differences count, so that the equations have a line of answers; the least one keeps the mean.
        step[:known] = np.linalg.lstsq(bend[:known, :known], slope[:known], rcond=None)[0]
        unknown += np.clip(step, -2.0, 2.0)
        if np.abs(step).max() < _SETTLED:
            break
    unknown[:teams] -= unknown[:teams].mean()
    chance = expit(unknown[:teams, None] - unknown[None, :teams] + unknown[teams])
    apart = np.abs(np.divide(wins, played, out=chance.copy(), where=played > 0) - chance)
    return Strengths(unknown[:teams], float(unknown[teams]), float(apart.max()))


def with_skills(title: Title, skills: Mapping[str, float]) -> Title:
    """The title with other skills for some teams of its roster."""
    roster = {
        name: team.model_copy(update={"skill": skills[name]}) if name in skills else team
        for name, team in title.roster.items()
    }
    return title.model_copy(update={"roster": roster})
