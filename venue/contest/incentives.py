"""Where trailing pays: states in which a side would do better to be one point further behind.

A good set of rules has none. Where there are some, a player can profit from losing on purpose; how much, is what
the best timing of holding back would add to the chance to win.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy import sparse

from venue.contest.ablation import with_rules
from venue.contest.chain import Chain
from venue.contest.clock_segments import period_stretches
from venue.contest.effects import Array
from venue.contest.first_to import FirstTo
from venue.contest.forms import solve
from venue.contest.match import Match
from venue.contest.solved import Solved
from venue.contest.transitions import Transitions
from venue.scenario.title import Title

# Smaller differences are rounding; states rarer than this do not happen.
_LEAST_GAIN = 1e-9
_RAREST = 1e-9
# Passes over the states after which the worth of holding back has settled.
_PASSES = 10_000


@dataclass(frozen=True)
class Fault:
    """The worst moment of one margin at which side A would rather be a point further behind.

    Attributes
    ----------
    margin
        Points by which side A leads.
    left
        What is left of the contest: seconds, or points that the leader still needs.
    gain
        What one point less would add to side A's chance to win.
    blame
        Rules without which the fault at this margin and moment is gone.
    """

    margin: int
    left: int
    gain: float
    blame: tuple[str, ...]


@dataclass(frozen=True)
class Trailing:
    """All margins at which trailing pays, worst first, and what holding back on purpose could gain from the start."""

    faults: tuple[Fault, ...]
    holding_back: float


# Gains by moment (margin, what is left): what one point less adds to side A's chance at the worst mode.
Gains = dict[tuple[int, int], float]


def where_trailing_pays(title: Title, match: Match) -> Trailing:
    """Find every margin at which side A would rather be a point further behind, at its worst moment."""
    contest = solve(title, match)
    gains = _gains(contest)
    worst: dict[int, tuple[int, int]] = {}
    for (margin, left), gain in gains.items():
        if margin not in worst or gain > gains[worst[margin]]:
            worst[margin] = margin, left
    reached = np.max([contest.margins_of(rows) for rows in contest.distributions], axis=0)
    moments = [
        moment
        for margin, moment in worst.items()
        if gains[moment] > _LEAST_GAIN and reached[margin + contest.zero] >= _RAREST
    ]
    moments.sort(key=lambda moment: (-gains[moment], moment))
    without = {
        name: _gains(
            solve(with_rules(title, {other: rule for other, rule in title.rules.items() if other != name}), match)
        )
        for name in (title.rules if moments else ())
    }
    faults = tuple(
        Fault(
            *moment,
            gains[moment],
            tuple(name for name, found in without.items() if found.get(moment, 0.0) <= _LEAST_GAIN),
        )
        for moment in moments
    )
    return Trailing(faults, holding_back(contest) - contest.win_chance if faults else 0.0)


def _gains(contest: Solved) -> Gains:
    if isinstance(contest, FirstTo):
        return _gains_by_score(contest)
    if not isinstance(contest, Chain):
        raise TypeError(type(contest).__name__)
    margins = contest.board.margins.tolist()
    found: Gains = {}
    for left, values in contest.by_second(contest.end_values()).items():
        less = (values[:, :-1] - values[:, 1:]).max(axis=0)
        found.update(zip(((margin, left) for margin in margins[1:]), less.tolist(), strict=True))
    return found


def _gains_by_score(contest: FirstTo) -> Gains:
    board = contest.board
    needed = np.asarray(board.points_left, dtype=int)
    found: Gains = {}
    places = {tuple(score): place for place, score in enumerate(board.scores.tolist())}
    for period in range(contest.title.periods):
        values = contest.within(period, contest.win[period + 1][:, None])[:, 0].reshape(contest.modes, -1)
        on = contest.legs(period)[-1].on[: contest.places]
        for (a, b), place in places.items():
            less = places.get((a - 1, b))
            if less is not None and on[place] and on[less]:
                moment = int(board.margins[place]), int(needed[place])
                gain = float((values[:, less] - values[:, place]).max())
                found[moment] = max(found.get(moment, -1.0), gain)
    return found


def holding_back(contest: Solved) -> float:
    """Side A's chance to win if it may pass up any success at will, with perfect timing."""
    values = contest.end_values()
    for period in reversed(range(contest.title.periods)):
        inner = contest.values_at_end(values)[:, 0]
        if isinstance(contest, FirstTo):
            inner = _by_score(contest, period, inner)
        elif isinstance(contest, Chain):
            for stretch in reversed(period_stretches(contest.title, period)):
                resolved = _choosing(contest, contest.transitions(stretch))
                for _ in range(stretch.seconds):
                    inner = (1.0 - contest.hazard) * inner + contest.hazard * resolved(inner)
        values = contest.values_at_start(period, inner[:, None])
    return float(contest.start @ values[:, 0])


def _by_score(contest: FirstTo, period: int, inner: Array) -> Array:
    for leg in reversed(contest.legs(period)):
        resolved = _choosing(contest, leg.transitions)
        for _ in range(_PASSES):
            better = np.where(leg.on, resolved(inner), inner)
            settled = np.abs(better - inner).max() < 1e-13
            inner = better
            if settled:
                break
    return inner


def _choosing(contest: Solved, transitions: Transitions) -> Callable[[Array], Array]:
    """One resolved attack in which side A may pass up a success: worth of each state, from what comes after."""
    size = contest.places
    margins = contest.board.margins
    mine = margins[transitions.columns % size] > margins[transitions.rows % size]
    # Passing up a success leaves the score as it is, and play goes on as after the same event without points.
    instead = transitions.columns - (transitions.columns % size) + transitions.rows % size
    after = sparse.csr_array(
        (transitions.values, (transitions.rows, np.arange(len(transitions.rows)))),
        shape=(transitions.states, len(transitions.rows)),
    )

    def resolved(values: Array) -> Array:
        worth = values[transitions.columns]
        found: Array = after @ np.where(mine, np.maximum(worth, values[instead]), worth)
        return found

    return resolved
