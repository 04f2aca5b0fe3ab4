"""Which attempts are made: shares by kind, which a title may change with the margin and with what is left."""

from __future__ import annotations

import numpy as np

from venue.contest.effects import Array, Moment
from venue.contest.match import Match
from venue.scenario.title import Mix, Title


def shares(title: Title, match: Match, side: int, at: Moment) -> dict[str, float | Array]:
    """Share of each attempt kind among those that a side makes, at each place it may stand at (or everywhere)."""
    found: dict[str, float | Array] = {name: kind.share for name, kind in title.attempts.items()}
    for mix in title.mixes.values():
        # Those of a difficulty hold only in a title that stands at it (`Title.at`).
        if mix.difficulties is None and (mix.serves == "both" or mix.serves.rstrip("s") == match.player(side)):
            where = _holds(mix, at)
            found = {name: np.where(where, mix.shares.get(name, 0.0), share) for name, share in found.items()}
    return found


def _holds(mix: Mix, at: Moment) -> Array:
    inside = np.ones(at.d.shape, dtype=bool)
    if mix.left is not None or mix.points_left is not None:
        inside &= at.reached(mix.left, mix.points_left)
    if mix.behind_from is not None:
        inside &= at.d >= mix.behind_from
    if mix.behind_to is not None:
        inside &= at.d <= mix.behind_to
    return inside
