"""The contest against the clock as an exact Markov chain, one step a second; a race is one too.

Each second the attack is resolved with hazard q = 1 / mean attack; what then happens is one row of the matrix R
(`transitions`), so a step is P = (1 - q) I + q R. A stretch of n equal steps is a power
of P (`repeated_steps`), and a period the product of its stretches. `docs/model.md` has every equation.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cached_property
from typing import ClassVar

import numpy as np
from scipy import sparse

from venue.contest.automaton import Automaton, Mode
from venue.contest.clock_segments import Stretch, overtime_stretches, period_stretches
from venue.contest.effects import Array
from venue.contest.match import Match
from venue.contest.repeated_steps import DensePowers, SparseSteps, Steps
from venue.contest.scoreboard import MarginBoard
from venue.contest.solved import Keep, Solved
from venue.contest.span import Span, span_in_hand, unaided_span, wider_span
from venue.contest.tally import Chances
from venue.contest.transitions import Transitions
from venue.errors import InputError
from venue.scenario.rules import RuleBase
from venue.scenario.title import Title

# Least chance that one overtime decides a contest; fewer would take for ever.
_DECIDED = 1e-4


class Chain(Solved):
    """A clocked title, or a race, for one match.

    Parameters
    ----------
    board
        Scoreboard to use; if left out its range of margins is chosen for this match (`span`): less than 1e-10 of the
        mass ever leaves it.
    automaton, gaps
        See `Solved`.
    """

    # What a gigabyte of memory holds.
    _MOST_STATES: ClassVar[int] = 300_000

    def __init__(
        self, title: Title, match: Match, *, board: MarginBoard | None = None, automaton: Automaton | None = None,
        gaps: Sequence[float] = (),
    ) -> None:  # fmt: skip
        super().__init__(title, match, automaton, gaps)
        self.hazard = title.hazard
        self._stretches: dict[int, list[Stretch]] = {}
        low, high = (0, 0) if board else self._first_span()
        self._lay_out(board or MarginBoard(low, high))
        while board is None and (wider := wider_span(low, high, *self.cut())):
            low, high = wider
            self._lay_out(MarginBoard(low, high))

    def _first_span(self) -> Span:
        low, high = unaided_span(self.title, self.match, self.match.gap)
        # Where full matrices are quickest a narrower range is worth nothing.
        small = self.modes * (high - low + 1) <= self._DENSE
        return (low, high) if small else span_in_hand(self.title, self.match)

    def _lay_out(self, board: MarginBoard) -> None:
        self.board = board
        self.check_size()
        self.builder = self.new_builder()
        self._built: dict[tuple[object, ...], Transitions] = {}
        self._steps: dict[tuple[object, ...], Steps] = {}
        for name in (
            "start",
            "margins",
            "distributions",
            "final_margin",
            "win",
            "tie_values",
            "_overtime",
            "_transitions",
        ):
            self.__dict__.pop(name, None)

    def stretches(self, period: int) -> list[Stretch]:
        """The clock of a period (the first is 0), cut where the rules change."""
        if period not in self._stretches:
            self._stretches[period] = period_stretches(self.title, period)
        return self._stretches[period]

    def forget(self) -> None:
        """See `Solved`."""
        _ = self.tie_values
        self._built.clear()
        self._steps.clear()

    # -- one step --------------------------------------------------------------------------------------------------

    def transitions(self, stretch: Stretch) -> Transitions:
        """What a resolved attack does, under the rules of a stretch."""
        if stretch.signature not in self._built:
            rules = {name: self.title.rules[name] for name in stretch.active}
            self._built[stretch.signature] = self.builder.build(rules, float(stretch.left))
        return self._built[stretch.signature]

    def chances(
        self, rules: Mapping[str, RuleBase], left: float, side: int, attempt: str, mode: Mode | None = None
    ) -> Chances:
        """Chances of an attempt over the margins, under the given rules with `left` seconds to go in the contest.

        By turns that an attempt of `side` (0 for A, 1 for B) succeeds; in open play that side A makes the next score.
        `mode` is what play remembers; nothing if unsaid.
        """
        if self.title.play == "turns":
            return self.builder.attempt(rules, left, mode or Mode(side), side, attempt)
        return self.builder.next_score(rules, left, mode or Mode(-1), attempt)

    def steps(self, stretch: Stretch) -> Steps:
        """Powers of the one-second step under the rules of a stretch."""
        if stretch.signature not in self._steps:
            transitions = self.transitions(stretch)
            if self.is_dense:
                step = self.hazard * transitions.dense()
                step.flat[:: len(step) + 1] += 1.0 - self.hazard
                self._steps[stretch.signature] = DensePowers(step)
            else:
                self._steps[stretch.signature] = SparseSteps(transitions.quick(), self.hazard)
        return self._steps[stretch.signature]

    # -- one period ------------------------------------------------------------------------------------------------

    def push(self, period: int, rows: Array) -> Array:
        """Distributions over break states (last axis) carried through one period (the first is 0)."""
        rows = self.into_modes(period, rows)
        for stretch in self.stretches(period):
            rows = self.steps(stretch).push(rows, stretch.seconds)
        return self.out_of_modes(rows)

    def period_key(self, period: int) -> object:
        """Equal for periods that are played alike."""
        stretches = self.stretches(period)
        return tuple((s.signature, s.seconds) for s in stretches), self.automaton.entry(period).tobytes()

    def pull(self, period: int, values: Array) -> Array:
        """Expected end-of-period value from each break state at its start; both of shape (break states, columns)."""
        values = self.values_at_end(values)
        for stretch in reversed(self.stretches(period)):
            values = self.steps(stretch).pull(values, stretch.seconds)
        return self.values_at_start(period, values)

    def collect(self, period: int, name: str) -> Array:
        """Expected total over one period from each break state: `points`, `assisted`, `noticeable`, or owed to a rule.

        Shape (break states, 2), a column for each side. `assisted` and `noticeable` count scores.
        """
        values = np.zeros((self.states, 2))
        for stretch in reversed(self.stretches(period)):
            rates = self.transitions(stretch).tally.rates(name)
            powers = self.steps(stretch)
            values = powers.pull(values, stretch.seconds)
            values = values + powers.collect(self.hazard * rates.T, stretch.seconds)
        return self.values_at_start(period, values)

    def seconds(self, period: int) -> Array:
        """See `Solved`: the clock's own time; to the last period the overtime is added that is to be expected."""
        found = np.full(self.break_modes * self.places, float(self.title.seconds))
        if self.title.tie != "overtime" or period != self.title.periods - 1:
            return found
        level = np.where(self.board.margins == 0, np.repeat(self._overtime[1], self.places // self.copies), 0.0)
        extra: Array = self.pull(period, np.tile(level, self.break_modes)[:, None])[:, 0]
        return found + extra

    def by_second(self, final: Array, keep: Keep | None = None) -> dict[int, Array]:
        """Expected final value, by seconds left in the contest: arrays of shape (modes, places).

        Parameters
        ----------
        final
            Value of each final break state, shape (break states, 1).
        keep
            Entries of the jump matrix that count, the others lead to nothing; all if left out.
        """
        found: dict[int, Array] = {}
        left = 0
        for period in reversed(range(self.title.periods)):
            values = self.values_at_end(final)[:, 0]
            for stretch in reversed(self.stretches(period)):
                transitions = self.transitions(stretch)
                counts = transitions.values if keep is None else np.where(keep(transitions), transitions.values, 0.0)
                resolved = sparse.coo_array(
                    (counts, (transitions.rows, transitions.columns)), shape=(self.states,) * 2
                ).tocsr()
                for _ in range(stretch.seconds):
                    values = (1.0 - self.hazard) * values + self.hazard * (resolved @ values)
                    left += 1
                    found[left] = values.reshape(self.modes, -1)
            final = self.values_at_start(period, values[:, None])
        return found

    # -- the range of margins --------------------------------------------------------------------------------------

    def cut(self) -> tuple[float, float]:
        """Expected scores a contest that an end of the range cuts, the lower end first: no less than the chance that
        the margin ever leaves the range there."""
        total = np.zeros((self.break_modes * self.places, 2))
        for period in reversed(range(self.title.periods)):
            values = self.values_at_end(total)
            for stretch in reversed(self.stretches(period)):
                powers = self.steps(stretch)
                values = powers.pull(values, stretch.seconds)
                values = values + powers.collect(self.hazard * self.transitions(stretch).cut().T, stretch.seconds)
            total = self.values_at_start(period, values)
        low, high = (self.start @ total).tolist()
        return low, high

    # -- the whole contest -----------------------------------------------------------------------------------------

    @cached_property
    def tie_values(self) -> Array:
        """Chance that side A wins a contest that ends level: one half, or that it makes the next score from a toss, or
        that it is the first to lead at the end of an overtime."""
        if self.title.tie == "draw":
            return np.full(self.copies, 0.5)
        if self.title.tie == "overtime":
            return self._overtime[0]
        matrix = self.transitions(self.stretches(self.title.periods - 1)[-1]).sparse()
        ahead = np.tile(self.board.margins > 0, self.modes).astype(float)
        return np.array([self._next_score(matrix, ahead, copy) for copy in range(self.copies)])

    @cached_property
    def _overtime(self) -> tuple[Array, Array]:
        """For each copy: chance that side A wins in overtime, and the expected seconds of it, from a level score.

        One overtime leaves level with chance t; since each begins alike, n of them come with chance t^(n - 1), and the
        series of wins sums to w / (1 - t).
        """
        toss = self.automaton.fresh()
        rows = np.zeros((self.copies, self.modes, self.places))
        for copy, start in enumerate(self.board.starts):
            rows[copy, :, start] = toss
        ends = rows.reshape(self.copies, -1)
        stretches = overtime_stretches(self.title)
        for stretch in stretches:
            ends = self.steps(stretch).push(ends, stretch.seconds)
        margins = np.tile(self.board.margins, self.modes)
        won, lost = ends[:, margins > 0].sum(axis=1), ends[:, margins < 0].sum(axis=1)
        decided = won + lost
        if decided.min() < _DECIDED:
            raise InputError(
                "overtime would hardly ever be decided, since nobody scores in it; lengthen the title's "
                'overtime.length, or write tie = "draw"'
            )
        return won / decided, sum(stretch.seconds for stretch in stretches) / decided

    def _next_score(self, matrix: sparse.csr_array, ahead: Array, copy: int) -> float:
        level = np.arange(self.modes) * self.places + self.board.starts[copy]
        rows = matrix[level]
        stays, wins = rows[:, level].toarray(), rows @ ahead
        # Where nobody can ever score the equations have no single answer; the least one leaves it at a half.
        chances = np.linalg.lstsq(np.eye(self.modes) - stays, wins, rcond=None)[0]
        losses = np.linalg.lstsq(np.eye(self.modes) - stays, 1.0 - stays.sum(axis=1) - wins, rcond=None)[0]
        toss = self.automaton.fresh()
        won, lost = float(toss @ chances), float(toss @ losses)
        return won / (won + lost) if won + lost > 1e-9 else 0.5
