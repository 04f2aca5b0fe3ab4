"""The contest to N points, solved exactly: no clock, the score itself says when it is over.

A period ends when somebody has made its share of the points, the last one when the contest is won; until then every
resolved attack is one row of the jump matrix R. Expected values over a period solve linear equations, (I - R) v = r
over the states from which play goes on: the fundamental matrix of an absorbing chain (Kemeny & Snell 1960, Finite
Markov Chains, ch. III).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from venue.contest.automaton import Automaton
from venue.contest.clock_segments import active_rules
from venue.contest.effects import Array
from venue.contest.match import Match
from venue.contest.scoreboard import ScoreBoard
from venue.contest.solved import Keep, Solved
from venue.contest.soundness import check_certain
from venue.contest.transitions import Transitions
from venue.errors import InputError
from venue.scenario.title import Title


@dataclass(frozen=True)
class Leg:
    """Play under the same rules until the leader has so many points.

    Attributes
    ----------
    transitions
        What a resolved attack does.
    on
        States from which play goes on.
    """

    transitions: Transitions
    on: NDArray[np.bool_]


class Absorbing:
    """Play in one leg until it ends: the solved equations of an absorbing chain.

    Parameters
    ----------
    leg
        What happens, and where play goes on.
    keep
        Entries of the jump matrix that count; the others lead nowhere. All if left out.
    """

    def __init__(self, leg: Leg, keep: Keep | None = None) -> None:
        transitions = leg.transitions
        values = transitions.values if keep is None else np.where(keep(transitions), transitions.values, 0.0)
        matrix = sparse.coo_array(
            (values, (transitions.rows, transitions.columns)), shape=(transitions.states, transitions.states)
        ).tocsr()
        self._on = np.flatnonzero(leg.on)
        rows = matrix[self._on]
        self._ends = rows[:, np.flatnonzero(~leg.on)]
        self._end_states = np.flatnonzero(~leg.on)
        stays = rows[:, self._on]
        from scipy.sparse.linalg import splu  # slow to import, and needed for this form only

        try:
            self._solver = splu((sparse.eye_array(len(self._on)) - stays).tocsc())
        except RuntimeError:
            raise InputError(
                "at some score nobody can ever score again, so that the contest would not end; raise the title's "
                "minimum_chance"
            ) from None
        if keep is None:
            ends = self._ends @ np.ones(len(self._end_states))
            check_certain(self._solver.solve(ends), "that the contest ends")

    def pull(self, values: Array) -> Array:
        """Expected value at the end of the leg from every state; both of shape (states, columns)."""
        found = values.copy()
        found[self._on] = self._solver.solve(self._ends @ values[self._end_states])
        return found

    def visits(self, rows: Array) -> Array:
        """Expected resolved attacks from each state, for each row of distributions over states."""
        found = np.zeros_like(rows)
        found[:, self._on] = self._solver.solve(np.ascontiguousarray(rows[:, self._on].T), trans="T").T
        return found

    def push(self, rows: Array, visits: Array) -> Array:
        """Distributions at the end of the leg, from those at its beginning and the visits on the way."""
        found = rows.copy()
        found[:, self._on] = 0.0
        found[:, self._end_states] += (self._ends.T @ visits[:, self._on].T).T
        return found

    def total(self, rates: Array) -> Array:
        """Expected total over the leg of rates per resolved attack, from every state; shapes (states, columns)."""
        found = np.zeros_like(rates)
        found[self._on] = self._solver.solve(np.ascontiguousarray(rates[self._on]))
        return found


class FirstTo(Solved):
    """A title to N points, for one match.

    Parameters
    ----------
    board
        Scoreboard to use; if left out, one that does not recall who led last.
    automaton, gaps
        See `Solved`.

    Raises
    ------
    InputError
        If the contest is too large to be solved, or may never end.
    """

    def __init__(
        self, title: Title, match: Match, *, board: ScoreBoard | None = None, automaton: Automaton | None = None,
        gaps: Sequence[float] = (),
    ) -> None:  # fmt: skip
        super().__init__(title, match, automaton, gaps)
        self.board: ScoreBoard = board or score_board(title)
        self.check_size()
        self.builder = self.new_builder()
        self._built: dict[tuple[str, ...], Transitions] = {}
        self._solvers: dict[tuple[int, int], Absorbing] = {}

    def forget(self) -> None:
        """See `Solved`."""
        self._built.clear()
        self._solvers.clear()

    def transitions(self, period: int) -> Transitions:
        """What a resolved attack does in a period (the first is 0)."""
        rules = active_rules(self.title, period, 0)
        if tuple(rules) not in self._built:
            self._built[tuple(rules)] = self.builder.build(rules, math.nan)
        return self._built[tuple(rules)]

    def legs(self, period: int) -> list[Leg]:
        """A period as legs: one, but for the only period of a contest, which is cut at half the points."""
        periods, points = self.title.periods, self.board.points
        goals = [math.ceil(points * (period + 1) / periods)]
        if periods == 1 and points > 1:
            goals.insert(0, math.ceil(points / 2))
        most = self.board.scores.max(axis=1)
        last = period == periods - 1
        found = []
        for number, goal in enumerate(goals):
            to_the_end = last and number == len(goals) - 1
            on = ~self.board.over if to_the_end else (most < goal) & ~self.board.over
            found.append(Leg(self.transitions(period), np.tile(on, self.modes)))
        return found

    def _solver(self, period: int, number: int, leg: Leg) -> Absorbing:
        key = (period, number)
        if key not in self._solvers:
            self._solvers[key] = Absorbing(leg)
        return self._solvers[key]

    def solvers(self, period: int) -> list[tuple[Leg, Absorbing]]:
        """The legs of a period, solved."""
        return [(leg, self._solver(period, number, leg)) for number, leg in enumerate(self.legs(period))]

    def push(self, period: int, rows: Array) -> Array:
        """See `Solved`."""
        shape = rows.shape
        flat = self.into_modes(period, rows.reshape(-1, shape[-1]))
        for _, solver in self.solvers(period):
            flat = solver.push(flat, solver.visits(flat))
        return self.out_of_modes(flat).reshape(shape)

    def visits(self, period: int) -> Array:
        """Expected resolved attacks in a period from each state, as a contest from its start comes there: shape (modes,
        places)."""
        rows = self.into_modes(period, self.distributions[period][None, :])
        total = np.zeros_like(rows)
        for _, solver in self.solvers(period):
            seen = solver.visits(rows)
            total += seen
            rows = solver.push(rows, seen)
        return total.reshape(self.modes, -1)

    def within(self, period: int, values: Array, keep: Keep | None = None) -> Array:
        """Expected end-of-period value from every state within the period.

        Parameters
        ----------
        values
            Values of the break states at its end, shape (break states, columns).
        keep
            Entries of the jump matrix that count; all if left out.
        """
        found = self.values_at_end(values)
        for leg, solver in reversed(self.solvers(period)):
            found = (solver if keep is None else Absorbing(leg, keep)).pull(found)
        return found

    def pull(self, period: int, values: Array) -> Array:
        """See `Solved`."""
        return self.values_at_start(period, self.within(period, values))

    def _totals(self, period: int, rates: Callable[[Transitions], Array]) -> Array:
        found = np.zeros((self.states, 1))
        for leg, solver in reversed(self.solvers(period)):
            found = solver.pull(found) + solver.total(rates(leg.transitions))
        return self.values_at_start(period, found)

    def collect(self, period: int, name: str) -> Array:
        """See `Solved`."""
        return self._totals(period, lambda transitions: np.ascontiguousarray(transitions.tally.rates(name).T))

    def seconds(self, period: int) -> Array:
        """See `Solved`."""
        return self._totals(period, lambda transitions: np.ones((transitions.states, 1)))[:, 0] / self.title.hazard

    def period_key(self, period: int) -> object:
        """See `Solved`: no two periods are alike, since points are counted."""
        return period


def score_board(title: Title, *, recalls_leader: bool = False) -> ScoreBoard:
    """The scoreboard of a contest to N points."""
    goal = title.first_to
    if goal is None:
        raise ValueError("not a contest to N points")
    gains = tuple(sorted({attempt.points for attempt in title.attempts.values()}))
    return ScoreBoard(goal.points, goal.win_by, gains, recalls_leader=recalls_leader)
