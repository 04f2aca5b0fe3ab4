"""A contest solved exactly, whatever decides it: what clocked contests, contests to N points and races have in common.

A state is a place of the scoreboard (`board`) and a mode: what play remembers besides (`modes`), the side on the attack
first of all. Forms differ in how they carry states through a period; all results of the whole contest stand here.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Sequence
from functools import cached_property
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

from venue.contest.automaton import Automaton
from venue.contest.effects import Array
from venue.contest.match import Match
from venue.contest.scoreboard import Board
from venue.contest.soundness import check_certain
from venue.contest.transitions import TransitionBuilder, Transitions
from venue.errors import InputError
from venue.scenario.title import Title

# Which entries of a jump matrix count.
Keep = Callable[[Transitions], NDArray[np.bool_]]


class Solved(ABC):
    """A title for one match, solved exactly.

    Parameters
    ----------
    title
        The title; its rules are scaled and switched as the match says.
    match
        Strength, skill gap, who plays, switches.
    automaton
        What play remembers, if it is known already: it does not depend on the skill gap.
    gaps
        Skill gaps of many contests that are solved as one; the board then has its places once for each of them.

    Attributes
    ----------
    board
        The scoreboard: its places and their margins.
    builder
        Chances and transitions over those places.
    copies
        How many contests are solved as one.

    Notes
    -----
    At a period break the state is a place and a break mode; titles whose periods start afresh have one break mode.
    Break states are indexed `break_mode * places + place`, states within a period `mode * places + place`.
    """

    board: Board
    builder: TransitionBuilder
    # Up to so many states full matrices are quicker than sparse ones.
    _DENSE: ClassVar[int] = 700
    _MOST_STATES: ClassVar[int] = 60_000

    def __init__(
        self, title: Title, match: Match, automaton: Automaton | None = None, gaps: Sequence[float] = ()
    ) -> None:
        self.title = title
        self.match = match
        self.automaton = automaton or Automaton(title, match)
        self._gaps = gaps
        self.copies = max(1, len(gaps))

    def new_builder(self) -> TransitionBuilder:
        """What builds transitions over the places of the board."""
        gap = np.repeat(self._gaps, self.places // self.copies) if len(self._gaps) else None
        return TransitionBuilder(self.title, self.match, self.automaton, self.board, gap=gap)

    # -- the state space -------------------------------------------------------------------------------------------

    @abstractmethod
    def forget(self) -> None:
        """Let go of the transitions, which take most of the memory; what has been worked out stays."""

    @property
    def modes(self) -> int:
        """Number of modes within a period."""
        return len(self.automaton.modes)

    @property
    def break_modes(self) -> int:
        """Number of modes told apart at a period break."""
        return self.automaton.breaks

    @property
    def places(self) -> int:
        """Number of places of the scoreboard."""
        return len(self.board.margins)

    @property
    def states(self) -> int:
        """Number of states within a period."""
        return self.modes * self.places

    @property
    def is_dense(self) -> bool:
        """Whether the contest is small enough for full matrices."""
        return self.states <= self._DENSE

    def check_size(self) -> None:
        """Raise `InputError` if there are more states than a machine can hold."""
        states = self.states // self.copies
        if states > self._MOST_STATES:
            raise InputError(
                f"the contest needs {states} states ({self.places // self.copies} scores times {self.modes} things to "
                f"remember), the limit is {self._MOST_STATES}; shorter runs or droughts, or fewer points, would do"
            )

    @cached_property
    def start(self) -> Array:
        """Distribution over break states when a contest begins."""
        share = np.zeros((self.break_modes, self.places))
        share[:, self.board.start] = self.automaton.start()
        return share.ravel()

    @cached_property
    def margins(self) -> NDArray[np.int64]:
        """Margins that can be, one by one upward."""
        return np.arange(self.board.margins.min(), self.board.margins.max() + 1)

    @property
    def zero(self) -> int:
        """Place of the level score in `margins`."""
        return -int(self.margins[0])

    # -- one period ------------------------------------------------------------------------------------------------

    def into_modes(self, period: int, rows: Array) -> Array:
        """Distributions over break states (last axis) spread over the states in which a period begins."""
        shape = rows.shape[:-1]
        blocks = rows.reshape(*shape, self.break_modes, self.places)
        spread: Array = np.einsum("...bm,bu->...um", blocks, self.automaton.entry(period)).reshape(*shape, -1)
        return spread

    def out_of_modes(self, rows: Array) -> Array:
        """Distributions over states gathered into break states."""
        shape = rows.shape[:-1]
        blocks = rows.reshape(*shape, self.modes, self.places)
        gathered = np.zeros((*shape, self.break_modes, self.places))
        for mode, place in enumerate(self.automaton.exits):
            gathered[..., place, :] += blocks[..., mode, :]
        return gathered.reshape(*shape, -1)

    def values_at_start(self, period: int, values: Array) -> Array:
        """Values of states averaged to break states; `values` has shape (states, columns)."""
        blocks = values.reshape(self.modes, self.places, -1)
        averaged: Array = np.einsum("bu,umc->bmc", self.automaton.entry(period), blocks)
        return averaged.reshape(-1, blocks.shape[-1])

    def values_at_end(self, values: Array) -> Array:
        """Values of break states seen from the states in which a period ends; shape (states, columns)."""
        blocks = values.reshape(self.break_modes, self.places, -1)
        return blocks[self.automaton.exits].reshape(-1, blocks.shape[-1])

    @abstractmethod
    def push(self, period: int, rows: Array) -> Array:
        """Distributions over break states (last axis) carried through one period (the first is 0)."""

    @abstractmethod
    def pull(self, period: int, values: Array) -> Array:
        """Expected end-of-period value from each break state at its start; both of shape (break states, columns)."""

    @abstractmethod
    def collect(self, period: int, name: str) -> Array:
        """Expected total over one period from each break state: `points`, `assisted`, `noticeable`, or owed to a rule.

        Shape (break states, 2), a column for each side. `assisted` and `noticeable` count scores.
        """

    @abstractmethod
    def period_key(self, period: int) -> object:
        """Equal for periods that are played alike."""

    @abstractmethod
    def seconds(self, period: int) -> Array:
        """Mean playing time of a period in seconds, from each break state."""

    @cached_property
    def _transitions(self) -> dict[object, Array]:
        return {}

    def transition(self, period: int) -> Array:
        """Transition matrix of one period (the first is 0) between break states; rows sum to one."""
        key = self.period_key(period)
        if key not in self._transitions:
            self._transitions[key] = self.push(period, np.eye(self.break_modes * self.places))
        return self._transitions[key]

    # -- the whole contest -----------------------------------------------------------------------------------------

    @cached_property
    def distributions(self) -> list[Array]:
        """Distribution over break states before each period and after the last: periods + 1 arrays."""
        found = [self.start]
        for period in range(self.title.periods):
            found.append(self.push(period, found[-1]))
            check_certain(found[-1].sum() / self.start.sum(), "of all scores together")
        return found

    def margins_of(self, rows: Array) -> Array:
        """Distribution over break states as one over `margins`."""
        places = rows.reshape(self.break_modes, -1).sum(axis=0)
        return np.bincount(self.board.margins + self.zero, places, minlength=len(self.margins)).astype(np.float64)

    @cached_property
    def final_margin(self) -> Array:
        """Distribution of the final margin over `margins`."""
        return self.margins_of(self.distributions[-1])

    @cached_property
    def tie_values(self) -> Array:
        """Chance that side A wins a contest that ends level, for each gap: one half."""
        return np.full(self.copies, 0.5)

    @property
    def tie_value(self) -> float:
        """Chance that side A wins a contest that ends level."""
        return float(self.tie_values[0])

    def worth(self) -> Array:
        """Worth of each final place to side A: 1 a win, 0 a loss, level as the title says."""
        margins = self.board.margins
        level = np.repeat(self.tie_values, self.places // self.copies)
        return np.where(margins > 0, 1.0, np.where(margins < 0, 0.0, level))

    def end_values(self) -> Array:
        """Worth of each final break state to side A, shape (states, 1)."""
        return np.tile(self.worth(), self.break_modes)[:, None]

    @cached_property
    def win(self) -> list[Array]:
        """Chance that side A wins, from each break state before each period and after the last."""
        return self.backward(self.end_values())

    def backward(self, final: Array) -> list[Array]:
        """Expected final value from each break state, before each period and after the last.

        Parameters
        ----------
        final
            Value of each final break state, shape (break states, 1).
        """
        values = [final]
        for period in reversed(range(self.title.periods)):
            values.append(self.pull(period, values[-1]))
        return [value[:, 0] for value in reversed(values)]

    @property
    def win_chance(self) -> float:
        """Chance that side A wins, from the start; a tie counts as the title says."""
        return float(self.start @ self.win[0])

    def close_chance(self) -> list[Array]:
        """Chance of a close finish from each break state, before each period and after the last."""
        close = (np.abs(self.board.margins) <= self.title.close).astype(float)
        return self.backward(np.tile(close, self.break_modes)[:, None])

    def expected(self, name: str) -> Array:
        """Expected total over the contest: `points`, `assisted`, `noticeable` or owed to a rule."""
        total = np.zeros(2)
        for period in range(self.title.periods):
            total += self.distributions[period] @ self.collect(period, name)
        return total


def same_leader(board: Board, transitions: Transitions) -> NDArray[np.bool_]:
    """Which entries of a jump matrix leave the lead, which somebody has, where it is."""
    sign = np.sign(board.margins)
    size = len(sign)
    kept: NDArray[np.bool_] = sign[transitions.columns % size] * sign[transitions.rows % size] > 0
    return kept
