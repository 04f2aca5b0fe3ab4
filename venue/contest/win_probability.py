"""A contest unfolded moment by moment: chance to win over what is left and the margin, and how safe a lead is.

"Never lost" and "wins" are two things: a lead that is lost may be won back, so that a lead wins more often than it
lasts. Here a lead is lost as soon as the score is level (Clauset, Kogan & Redner 2015 call one that is not "safe").
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from venue.contest.chain import Chain
from venue.contest.effects import Array
from venue.contest.first_to import FirstTo
from venue.contest.solved import Solved, same_leader


@dataclass(frozen=True)
class Unfolded:
    """Chances moment by moment, averaged evenly over what play may remember (who attacks, first of all).

    Attributes
    ----------
    in_points
        What is left is counted in points that the leader needs, not in seconds.
    left
        What is left of the contest, rising from 1.
    margins
        Points by which side A leads, rising.
    win
        Side A's chance to win, shape (left, margins); NaN for what cannot be.
    lasts
        Chance that whoever leads is never caught up with, shape (left, margins); NaN where nobody leads.
    """

    in_points: bool
    left: NDArray[np.int64]
    margins: NDArray[np.int64]
    win: Array
    lasts: Array


def unfold(contest: Solved) -> Unfolded:
    """Side A's chance to win, and the chance that a lead lasts, at every moment of a contest."""
    board = contest.board
    ahead = np.tile(np.sign(board.margins) != 0, contest.break_modes)[:, None].astype(float)
    if isinstance(contest, Chain):
        win = contest.by_second(contest.end_values())
        lasts = contest.by_second(ahead, partial(same_leader, board))
        left = np.arange(1, len(win) + 1)
        held = np.stack([lasts[second].mean(axis=0) for second in left.tolist()])
        held[:, board.margins == 0] = np.nan
        chances = np.stack([win[second].mean(axis=0) for second in left.tolist()])
        return Unfolded(False, left, board.margins, chances, held)
    if isinstance(contest, FirstTo):
        return _by_score(contest, ahead)
    raise TypeError(type(contest).__name__)


def _by_score(contest: FirstTo, ahead: Array) -> Unfolded:
    board = contest.board
    needed = np.asarray(board.points_left, dtype=int)
    left = np.arange(1, int(needed.max()) + 1)
    win, lasts = np.full((2, len(left), len(contest.margins)), np.nan)
    values = {"win": contest.win[-1][:, None], "lasts": ahead}
    for period in reversed(range(contest.title.periods)):
        inner = {
            "win": contest.within(period, values["win"]),
            "lasts": contest.within(period, values["lasts"], partial(same_leader, board)),
        }
        most = board.scores.max(axis=1)
        first = int(np.ceil(board.points * period / contest.title.periods))
        here = np.flatnonzero(contest.legs(period)[-1].on[: contest.places] & (most >= first))
        for name, table in (("win", win), ("lasts", lasts)):
            mean = inner[name].reshape(contest.modes, -1).mean(axis=0)
            table[needed[here] - 1, board.margins[here] + contest.zero] = mean[here]
            values[name] = contest.values_at_start(period, inner[name])
    lasts[:, contest.zero] = np.nan
    return Unfolded(True, left, contest.margins, win, lasts)
