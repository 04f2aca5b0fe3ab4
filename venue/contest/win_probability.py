"""A contest unfolded moment by moment: chance to win over what is left and the margin, and how safe a lead is.

"Never lost" and "wins" are two things: a lead that is lost may be won back, so that a lead wins more often than it
lasts. Here a lead is lost as soon as the score is level (Clauset, Kogan & Redner 2015 call one that is not "safe").
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array

from venue.contest.chain import Chain
from venue.contest.effects import Array
from venue.contest.first_to import FirstTo
from venue.contest.second_by_second import from_the_end
from venue.contest.solved import Solved, same_leader


@dataclass(frozen=True)
class Unfolded:
    """Chances moment by moment, averaged over what play then remembers at that score (who attacks, first of all).

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
    if isinstance(contest, Chain):
        return _by_clock(contest)
    if isinstance(contest, FirstTo):
        return _by_score(contest)
    raise TypeError(type(contest).__name__)


def _ahead(contest: Solved) -> Array:
    return np.tile(np.sign(contest.board.margins) != 0, contest.break_modes)[:, None].astype(float)


def _average(values: Array, here: Array) -> Array:
    """Values of modes and places averaged over the modes, as often as play is in each.

    Where play never comes, as often as it is in each at any place: what would be, if the score were so.
    """
    often = np.where(here.sum(axis=0) > 0.0, here, here.sum(axis=1, keepdims=True))
    return np.asarray((often * values).sum(axis=0) / often.sum(axis=0))


def _by_clock(chain: Chain) -> Unfolded:
    board = chain.board
    win, lasts = np.full((2, chain.title.periods * chain.title.seconds, chain.places), np.nan)
    ends = [chain.end_values(), _ahead(chain)]
    for seconds in from_the_end(chain):
        if seconds.closes:
            inner = [chain.values_at_end(end) for end in ends]
        transitions = chain.transitions(seconds.stretch)
        kept = np.where(same_leader(board, transitions), transitions.values, 0.0)
        held = coo_array((kept, (transitions.rows, transitions.columns)), shape=(chain.states,) * 2).tocsr()
        matrices = transitions.quick(), held
        for second in reversed(range(seconds.stretch.seconds)):
            left, here = seconds.stretch.left - second, seconds.here[second]
            for number, (matrix, table) in enumerate(zip(matrices, (win, lasts), strict=True)):
                inner[number] = (1.0 - chain.hazard) * inner[number] + chain.hazard * (matrix @ inner[number])
                table[left - 1] = _average(inner[number].reshape(chain.modes, -1), here)
        if seconds.opens:
            ends = [chain.values_at_start(seconds.period, value) for value in inner]
    lasts[:, board.margins == 0] = np.nan
    return Unfolded(False, np.arange(1, len(win) + 1), board.margins, win, lasts)


def _by_score(contest: FirstTo) -> Unfolded:
    board = contest.board
    needed = np.asarray(board.points_left, dtype=int)
    left = np.arange(1, int(needed.max()) + 1)
    win, lasts = np.full((2, len(left), len(contest.margins)), np.nan)
    values = {"win": contest.win[-1][:, None], "lasts": _ahead(contest)}
    for period in reversed(range(contest.title.periods)):
        inner = {
            "win": contest.within(period, values["win"]),
            "lasts": contest.within(period, values["lasts"], partial(same_leader, board)),
        }
        most = board.scores.max(axis=1)
        first = int(np.ceil(board.points * period / contest.title.periods))
        here = np.flatnonzero(contest.legs(period)[-1].on[: contest.places] & (most >= first))
        visits = contest.visits(period)
        for name, table in (("win", win), ("lasts", lasts)):
            mean = _average(inner[name].reshape(contest.modes, -1), visits)
            table[needed[here] - 1, board.margins[here] + contest.zero] = mean[here]
            values[name] = contest.values_at_start(period, inner[name])
    lasts[:, contest.zero] = np.nan
    return Unfolded(True, left, contest.margins, win, lasts)
