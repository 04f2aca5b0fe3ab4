"""Where trailing pays: states in which a side would do better to be one point further behind.

A good set of rules has none. That there is none does not say that nothing can be gained by playing otherwise than
straight on: what the moves of a player are worth is searched in `best_play`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from venue.contest.ablation import with_rules
from venue.contest.chain import Chain
from venue.contest.first_to import FirstTo
from venue.contest.forms import solve
from venue.contest.match import Match
from venue.contest.second_by_second import from_the_end
from venue.contest.solved import Solved
from venue.scenario.title import Title

# Smaller differences are rounding; states rarer than this do not happen.
_LEAST_GAIN = 1e-9
_RAREST = 1e-9


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
    """All margins at which trailing pays, worst first."""

    faults: tuple[Fault, ...]


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
    moments = [moment for moment in worst.values() if gains[moment] > _LEAST_GAIN]
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
    return Trailing(faults)


def _gains(contest: Solved) -> Gains:
    if isinstance(contest, FirstTo):
        return _gains_by_score(contest)
    if not isinstance(contest, Chain):
        raise TypeError(type(contest).__name__)
    margins = contest.board.margins.tolist()
    found: Gains = {}
    final = contest.end_values()
    for seconds in from_the_end(contest):
        if seconds.closes:
            values = contest.values_at_end(final)
        resolved = contest.transitions(seconds.stretch).quick()
        for second in reversed(range(seconds.stretch.seconds)):
            values = (1.0 - contest.hazard) * values + contest.hazard * (resolved @ values)
            worth = values.reshape(contest.modes, -1)
            met = seconds.here[second][:, 1:] > _RAREST
            less = np.where(met, worth[:, :-1] - worth[:, 1:], -np.inf).max(axis=0)
            left = seconds.stretch.left - second
            found.update(zip(((margin, left) for margin in margins[1:]), less.tolist(), strict=True))
        if seconds.opens:
            final = contest.values_at_start(seconds.period, values)
    return found


def _gains_by_score(contest: FirstTo) -> Gains:
    board = contest.board
    needed = np.asarray(board.points_left, dtype=int)
    found: Gains = {}
    places = {tuple(score): place for place, score in enumerate(board.scores.tolist())}
    for period in range(contest.title.periods):
        values = contest.within(period, contest.win[period + 1][:, None])[:, 0].reshape(contest.modes, -1)
        visits = contest.visits(period)
        on = contest.legs(period)[-1].on[: contest.places]
        for (a, b), place in places.items():
            less = places.get((a - 1, b))
            if less is not None and on[place] and on[less]:
                moment = int(board.margins[place]), int(needed[place])
                met = visits[:, place] > _RAREST
                gain = float(np.where(met, values[:, less] - values[:, place], -np.inf).max())
                found[moment] = max(found.get(moment, -1.0), gain)
    return found
