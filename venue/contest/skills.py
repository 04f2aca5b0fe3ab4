"""Skill at an attempt: what people bring at large, and what the title's own levels add by category.

A title may tell categories of skill apart (close range, long range, defence, pace) and give each side a level in each;
its own tables say what a level is worth in log-odds. The players of a side, and the teams of a roster, have levels of
their own.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from venue.contest.match import Match
from venue.scenario.title import Title

# One gap of skills, or many.
Gap = float | NDArray[np.float64]


def level(title: Title, match: Match, side: int, category: str, player: str | None = None) -> float | None:
    """A side's level in a category of skill, or that of one of its players; None where it has none.

    What a player has goes before what the side has, and a team of the roster before the title's own.
    """
    visitor = match.player(side) == "visitor"
    name = match.team(title, side)
    team = title.roster[name] if name is not None else None
    own = title.visitor_players if visitor else title.computer_players
    known = [] if player is None else [team.players.get(player, {}) if team else {}, own.get(player, {})]
    known += [team.levels if team else {}, title.visitor_levels if visitor else title.computer_levels]
    return next((levels[category] for levels in known if category in levels), None)


def worth(title: Title, match: Match, side: int, category: str | None, player: str | None = None) -> float:
    """Log-odds that a side's level in a category is worth; nil where no category is asked or the side has no level."""
    if category is None:
        return 0.0
    found = level(title, match, side, category, player)
    if found is None:
        return 0.0
    known, log_odds = zip(*title.table_of(category), strict=True)
    return float(np.interp(found, known, log_odds))


def defending(title: Title, match: Match, side: int, category: str | None) -> float:
    """Log-odds that a side's defence is worth: its own level's, or the mean of its players' where it has none."""
    if category is None or level(title, match, side, category) is not None or not title.players:
        return worth(title, match, side, category)
    return float(np.mean([worth(title, match, side, category, player) for player in title.players]))


def at_large(title: Title, match: Match, gap: Gap) -> Gap:
    """Skill at large of side A less that of side B, with what their teams add."""
    for side, sign in ((0, 1.0), (1, -1.0)):
        name = match.team(title, side)
        if name is not None:
            gap = gap + sign * title.roster[name].skill
    return gap


def attack_gap(title: Title, match: Match, gap: Gap, side: int, attempt: str, player: str | None = None) -> Gap:
    """By turns: skill of the side that attacks less that of the defence, for an attempt kind.

    Parameters
    ----------
    gap
        Skill at large of side A less that of side B, in log-odds; one number or many.
    player
        Who of the side takes the attempt; the side as one if left out.
    """
    kind = title.attempts[attempt]
    ahead = at_large(title, match, gap)
    own = worth(title, match, side, kind.skill, player)
    other = defending(title, match, 1 - side, kind.against or title.defence)
    return (ahead if side == 0 else -ahead) + own - other


def even_gap(title: Title, match: Match, gap: Gap, category: str | None) -> Gap:
    """In open play and in a race: skill of side A less that of side B at the same thing."""
    ahead = at_large(title, match, gap)
    return ahead + worth(title, match, 0, category) - worth(title, match, 1, category)


def attacks_of(title: Title) -> float:
    """How finely a contest tells skills apart: the number of attacks (in open play: scores) that would do the same."""
    if title.race is not None:
        # The walk's mean is gap / 2 a score, the race's is what the paces give.
        drift = 2.0 * title.race.pace * title.race.pace_per_skill / title.race.wander
        return drift**2 * title.seconds * title.periods
    if title.first_to is not None:
        gain = sum(kind.share * kind.points * (kind.chance or 1.0) for kind in title.attempts.values())
        return 2.0 * title.first_to.points / max(gain * (1.0 - title.turnover), 1e-6)
    return title.periods * title.seconds * title.attack_rate
