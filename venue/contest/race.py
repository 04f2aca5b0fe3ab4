"""The gap of a race, second by second.

Each second the gap changes by the difference of the two paces, and by luck. It is counted in whole lengths, so the
change is made of two parts whose mean and variance come out exactly: the mean, rounded down or up at random, and
luck in steps of one length with what variance is left.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

import numpy as np

from venue.contest import effects
from venue.contest.effects import Array, Moment, Parts
from venue.contest.match import Match
from venue.contest.skills import Gap, even_gap
from venue.scenario.rules import RuleBase
from venue.scenario.title import Race, Title

# Luck moves the gap by one length with at most this variance in one part; more takes several parts.
_MOST_VARIANCE = 2.0 / 3.0


def pace_parts(
    title: Title, rules: Mapping[str, RuleBase], match: Match, gap: Gap, side: int, at: Moment
) -> tuple[Array, Parts]:
    """Share by which a side is faster than even pace, from skill alone and from each rule; a rule for both sides acts
    for whoever trails, and for the leader too if it speaks of leaders."""
    race = _race(title)
    ahead = even_gap(title, match, gap, race.skill) * (0.5 if side == 0 else -0.5)
    base = np.full(at.d.shape, race.pace_per_skill * ahead)
    parts = effects.side_shifts(rules, title, match, side, base, at, None)
    for name in parts:
        both = all(effects.serves(title, match, rules[name], each) for each in (0, 1))
        if both and not effects.speaks_of_leaders(rules[name]):
            parts[name] = np.where(at.d > 0, parts[name], 0.0)
    return base, parts


def changes(title: Title, faster: Array) -> Iterator[tuple[int, Array]]:
    """Chance of each change of the gap in one second.

    Parameters
    ----------
    faster
        Share of the pace by which side A is faster than side B, over the places of the board.

    Yields
    ------
    tuple
        Lengths gained by side A, and the chance of it at each place.
    """
    race = _race(title)
    mean = race.pace * faster
    down = np.floor(mean)
    up = mean - down
    luck = race.wander**2 - up * (1.0 - up)
    parts = max(1, math.ceil(race.wander**2 / _MOST_VARIANCE))
    # Chances of -parts … parts lengths by luck, shape (2 parts + 1, places).
    spread = np.ones((1, len(mean)))
    for _ in range(parts):
        half = luck / parts / 2.0
        wider = np.zeros((len(spread) + 2, len(mean)))
        wider[:-2] += spread * half
        wider[1:-1] += spread * (1.0 - 2.0 * half)
        wider[2:] += spread * half
        spread = wider
    for gain in range(int(down.min()) - parts, int(down.max()) + parts + 2):
        chance = np.zeros(len(mean))
        for rounded, weight in ((down, 1.0 - up), (down + 1.0, up)):
            step = gain - rounded.astype(int) + parts
            inside = (step >= 0) & (step <= 2 * parts)
            chance += np.where(inside, weight * spread[np.clip(step, 0, 2 * parts), np.arange(len(mean))], 0.0)
        if chance.any():
            yield gain, chance


def _race(title: Title) -> Race:
    if title.race is None:
        raise ValueError("not a race")
    return title.race
