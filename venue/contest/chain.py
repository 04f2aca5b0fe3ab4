"""The contest against the clock as an exact Markov chain, one step a second; a race is one too.

Each second the attack is resolved with hazard q = 1 / mean attack; what then happens is one row of the matrix R
(`transitions`), so a step is P = (1 - q) I + q R. A stretch of n equal steps is a power
of P (`repeated_steps`), and a period the product of its stretches. `docs/model.md` has every equation.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from functools import cached_property

import numpy as np
from scipy import sparse

from venue.contest.automaton import Automaton, Mode
from venue.contest.clock_segments import Stretch, period_stretches
from venue.contest.effects import Array
from venue.contest.match import Match
from venue.contest.repeated_steps import DensePowers, SparseSteps, Steps
from venue.contest.scoreboard import MarginBoard
from venue.contest.skills import attack_gap, even_gap
from venue.contest.solved import Keep, Solved
from venue.contest.transitions import Chances, Transitions, with_skill
from venue.scenario.rules import RuleBase
from venue.scenario.title import Title

# Mass allowed at the two ends of the range of margins, where the chain is cut.
EDGE_MASS = 1e-9


class Chain(Solved):
    """A clocked title, or a race, for one match.

    Parameters
    ----------
    board
        Scoreboard to use; if left out its range of margins is chosen so that the mass beyond it is under 1e-9.
    automaton, gaps
        See `Solved`.
    """

    def __init__(
        self, title: Title, match: Match, *, board: MarginBoard | None = None, automaton: Automaton | None = None,
        gaps: Sequence[float] = (),
    ) -> None:  # fmt: skip
        super().__init__(title, match, automaton, gaps)
        self.hazard = title.hazard
        self._stretches: dict[int, list[Stretch]] = {}
        low, high = first_span(title, match)
        self._lay_out(board or MarginBoard(low, high))
        while board is None and (wider := wider_span(low, high, self.final_margin)):
            low, high = wider
            self._lay_out(MarginBoard(low, high))

    def _lay_out(self, board: MarginBoard) -> None:
        self.board = board
        self.check_size()
        self.builder = self.new_builder()
        self._built: dict[tuple[object, ...], Transitions] = {}
        self._steps: dict[tuple[object, ...], Steps] = {}
        for name in ("start", "margins", "distributions", "final_margin", "win", "tie_values", "_transitions"):
            self.__dict__.pop(name, None)

    def stretches(self, period: int) -> list[Stretch]:
        """The clock of a period (the first is 0), cut where the rules change."""
        if period not in self._stretches:
            self._stretches[period] = period_stretches(self.title, period)
        return self._stretches[period]

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
                stay = sparse.eye_array(self.states, format="csr")
                self._steps[stretch.signature] = SparseSteps(
                    (self.hazard * transitions.sparse() + (1.0 - self.hazard) * stay).tocsr()
                )
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
        """See `Solved`: the clock's own time."""
        return np.full(self.break_modes * self.places, float(self.title.seconds))

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

    # -- the whole contest -----------------------------------------------------------------------------------------

    @cached_property
    def tie_values(self) -> Array:
        """Chance that side A wins a contest that ends level: one half, or that it makes the next score from a toss."""
        if self.title.tie == "draw":
            return np.full(self.copies, 0.5)
        matrix = self.transitions(self.stretches(self.title.periods - 1)[-1]).sparse()
        ahead = np.tile(self.board.margins > 0, self.modes).astype(float)
        return np.array([self._next_score(matrix, ahead, copy) for copy in range(self.copies)])

    def _next_score(self, matrix: sparse.csr_array, ahead: Array, copy: int) -> float:
        level = np.arange(self.modes) * self.places + copy * (self.places // self.copies) + self.board.start
        rows = matrix[level]
        stays, wins = rows[:, level].toarray(), rows @ ahead
        # Where nobody can ever score the equations have no single answer; the least one leaves it at a half.
        chances = np.linalg.lstsq(np.eye(self.modes) - stays, wins, rcond=None)[0]
        losses = np.linalg.lstsq(np.eye(self.modes) - stays, 1.0 - stays.sum(axis=1) - wins, rcond=None)[0]
        toss = self.automaton.fresh()
        won, lost = float(toss @ chances), float(toss @ losses)
        return won / (won + lost) if won + lost > 1e-9 else 0.5


def first_span(title: Title, match: Match) -> tuple[int, int]:
    """A first guess at the range of margins, from the unaided drift and spread of the score."""
    seconds, gap = title.periods * title.seconds, match.gap
    drift = variance = 0.0
    if title.race is not None:
        faster = title.race.pace_per_skill * float(even_gap(title, match, gap, title.race.skill))
        drift = title.race.pace * faster
        variance = title.race.wander**2
    for name, attempt in title.attempts.items():
        if title.play == "turns":
            gaps = [attack_gap(title, match, gap, side, name) for side in (0, 1)]
            chances = [float(with_skill(attempt.chance, each)) for each in gaps]
            drift += attempt.share * attempt.points * (chances[0] - chances[1]) / 2
            variance += attempt.share * attempt.points**2 * sum(chances) / 2
        else:
            lead = 2 * float(with_skill(0.5, even_gap(title, match, gap, attempt.skill))) - 1
            drift += attempt.share * attempt.points * lead
            variance += attempt.share * attempt.points**2
    mean = seconds * title.hazard * drift
    reach = 6.1 * math.sqrt(seconds * title.hazard * max(variance, 1e-3)) + 2 * title.most_points
    # Nobody can score more often than once a second.
    limit = seconds * title.most_points + 1 if title.race is None else 10**6
    return max(math.floor(min(0.0, mean) - reach), -limit), min(math.ceil(max(0.0, mean) + reach), limit)


def wider_span(low: int, high: int, final_margin: Array) -> tuple[int, int] | None:
    """A wider range of margins where too much of the mass has come to its ends; None where it will do."""
    grow_low, grow_high = final_margin[0] > EDGE_MASS / 2, final_margin[-1] > EDGE_MASS / 2
    if not (grow_low or grow_high):
        return None
    extra = max(8, (high - low) // 4)
    return low - extra * int(grow_low), high + extra * int(grow_high)
