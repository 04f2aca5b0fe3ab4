"""Skill at an attempt: what people bring at large, and what the title's own levels add by category.

A title may tell categories of skill apart (close range, long range, defence, pace) and give each side a level in each;
its own table says what a level is worth in log-odds.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from venue.contest.match import Match, Player
from venue.scenario.title import Title

# One gap of skills, or many.
Gap = float | NDArray[np.float64]


def worth(title: Title, player: Player, category: str | None) -> float:
    """Log-odds that a side's level in a category is worth; nil where no category is asked or the side has no level."""
    levels = title.visitor_levels if player == "visitor" else title.computer_levels
    if category is None or category not in levels:
        return 0.0
    known, log_odds = zip(*title.level_table, strict=True)
    return float(np.interp(levels[category], known, log_odds))


def attack_gap(title: Title, match: Match, gap: Gap, side: int, attempt: str) -> Gap:
    """By turns: skill of the side that attacks less that of the defence, for an attempt kind.

    Parameters
    ----------
    gap
        Skill at large of side A less that of side B, in log-odds; one number or many.
    """
    kind = title.attempts[attempt]
    own, other = match.player(side), match.player(1 - side)
    at_large = gap if side == 0 else -gap
    return at_large + worth(title, own, kind.skill) - worth(title, other, kind.against or title.defence)


def even_gap(title: Title, match: Match, gap: Gap, category: str | None) -> Gap:
    """In open play and in a race: skill of side A less that of side B at the same thing."""
    return gap + worth(title, match.side_a, category) - worth(title, match.side_b, category)


def attacks_of(title: Title) -> float:
    """How finely a contest tells skills apart: the number of attacks (in open play: scores) that would do the same."""
    if title.race is not None:
        # The walk's mean is gap / 2 a score, the race's is what the paces give.
        drift = 2.0 * title.race.pace * title.race.pace_per_skill / title.race.wander
        return drift**2 * title.seconds * title.periods
    if title.first_to is not None:
        gain = sum(kind.share * kind.points * (kind.chance or 1.0) for kind in title.attempts.values())
        return 2.0 * title.first_to.points / max(gain * (1.0 - title.turnover), 1e-6)
    return title.periods * title.seconds * title.hazard
