"""The contest as an exact Markov chain, one step a second.

A state is a margin (points by which side A leads) and a mode: what play remembers besides (`modes`), the side on the
attack first of all. Each second the attack is resolved with hazard q = 1 / mean attack; what then happens is one row
of the jump matrix R (`jumps`), so a step is P = (1 - q) I + q R. A stretch of n equal steps is a power of P (`powers`);
a period is the product of its stretches. `docs/model.md` has every equation.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from venue.contest.effects import Array
from venue.contest.jumps import Chances, JumpBuilder, Jumps, with_skill
from venue.contest.modes import Automaton, Mode
from venue.contest.powers import DensePowers, SparseSteps, Steps
from venue.contest.setting import Setting
from venue.contest.stretches import Stretch, period_stretches
from venue.errors import InputError
from venue.scenario.rules import RuleBase
from venue.scenario.title import Title

# Mass allowed at the two ends of the range of margins, where the chain is cut.
EDGE_MASS = 1e-9
# Up to so many states powers by squaring are quicker than sparse steps.
_DENSE = 700
_MOST_STATES = 60_000


class Chain:
    """A title in one setting, solved exactly.

    Parameters
    ----------
    title
        The title; its rules are scaled and switched as the setting says.
    setting
        Strength, skill gap, who plays, switches.

    Notes
    -----
    At a period break the state is a margin and a break mode; titles whose periods start afresh have one break mode.
    Break states are indexed `break_mode * len(margins) + margin index`.
    The range of margins is chosen so that the mass beyond it is under 1e-9.
    """

    def __init__(self, title: Title, setting: Setting) -> None:
        self.title = title
        self.setting = setting
        self.hazard = 1.0 / title.mean_attack
        self.automaton = Automaton(title, setting)
        low, high = self._first_range()
        while True:
            self._lay_out(low, high)
            final = self.final_margin
            grow_low, grow_high = final[0] > EDGE_MASS / 2, final[-1] > EDGE_MASS / 2
            if not (grow_low or grow_high):
                break
            extra = max(8, (high - low) // 4)
            low, high = low - extra * grow_low, high + extra * grow_high

    # -- the state space -------------------------------------------------------------------------------------------

    def _lay_out(self, low: int, high: int) -> None:
        self.margins: NDArray[np.int64] = np.arange(low, high + 1)
        self.zero = -low
        if self.states > _MOST_STATES:
            raise InputError(
                f"the contest needs {self.states} states ({len(self.margins)} margins times {self.modes} things to "
                f"remember), the limit is {_MOST_STATES}; shorter runs or droughts, or fewer points, would do"
            )
        self._builder = JumpBuilder(self.title, self.setting, self.automaton, self.margins)
        self._jumps: dict[tuple[object, ...], Jumps] = {}
        self._steps: dict[tuple[object, ...], Steps] = {}
        self._periods: dict[object, Array] = {}
        for name in ("start", "distributions", "final_margin", "win", "tie_value"):
            self.__dict__.pop(name, None)

    @property
    def modes(self) -> int:
        """Number of modes within a period."""
        return len(self.automaton.modes)

    @property
    def break_modes(self) -> int:
        """Number of modes told apart at a period break."""
        return self.automaton.breaks

    @property
    def states(self) -> int:
        """Number of states within a period."""
        return self.modes * len(self.margins)

    @property
    def is_dense(self) -> bool:
        """Whether the chain is small enough for full matrices."""
        return self.states <= _DENSE

    @cached_property
    def start(self) -> Array:
        """Distribution over break states when a contest begins."""
        share = np.zeros((self.break_modes, len(self.margins)))
        share[:, self.zero] = self.automaton.start()
        return share.ravel()

    def _first_range(self) -> tuple[int, int]:
        """A first guess at the range of margins, from the unaided drift and spread of the score."""
        title = self.title
        attacks = title.periods * title.period_length * self.hazard
        drift = variance = 0.0
        for attempt in title.attempts.values():
            if title.play == "turns":
                chances = [with_skill(attempt.chance, sign * self.setting.gap) for sign in (1, -1)]
                drift += attempt.share * attempt.points * (chances[0] - chances[1]) / 2
                variance += attempt.share * attempt.points**2 * sum(chances) / 2
            else:
                lead = 2 * with_skill(0.5, self.setting.gap) - 1
                drift += attempt.share * attempt.points * lead
                variance += attempt.share * attempt.points**2
        most = max(attempt.points for attempt in title.attempts.values())
        reach = 6.1 * math.sqrt(attacks * max(variance, 1e-3)) + 2 * most
        # Nobody can score more often than once a second.
        limit = round(title.periods * title.period_length) * most + 1
        low = min(0.0, attacks * drift) - reach
        high = max(0.0, attacks * drift) + reach
        return max(math.floor(low), -limit), min(math.ceil(high), limit)

    # -- one step --------------------------------------------------------------------------------------------------

    def jumps(self, stretch: Stretch) -> Jumps:
        """What a resolved attack does, under the rules of a stretch."""
        if stretch.signature not in self._jumps:
            rules = {name: self.title.rules[name] for name in stretch.active}
            self._jumps[stretch.signature] = self._builder.build(rules, float(stretch.left))
        return self._jumps[stretch.signature]

    def chances(
        self, rules: Mapping[str, RuleBase], left: float, side: int, attempt: str, mode: Mode | None = None
    ) -> Chances:
        """Chances of an attempt over the margins, under the given rules with `left` seconds to go in the contest.

        By turns that an attempt of `side` (0 for A, 1 for B) succeeds; in open play that side A makes the next score.
        `mode` is what play remembers; nothing if unsaid.
        """
        if self.title.play == "turns":
            return self._builder.attempt(rules, left, mode or Mode(side), side, attempt)
        return self._builder.next_score(rules, left, mode or Mode(-1), attempt)

    def steps(self, stretch: Stretch) -> Steps:
        """Powers of the one-second step under the rules of a stretch."""
        if stretch.signature not in self._steps:
            jumps = self.jumps(stretch)
            if self.is_dense:
                step = self.hazard * jumps.dense()
                step[np.diag_indices_from(step)] += 1.0 - self.hazard
                self._steps[stretch.signature] = DensePowers(step)
            else:
                stay = sparse.eye_array(self.states, format="csr")
                self._steps[stretch.signature] = SparseSteps(
                    (self.hazard * jumps.sparse() + (1.0 - self.hazard) * stay).tocsr()
                )
        return self._steps[stretch.signature]

    # -- one period ------------------------------------------------------------------------------------------------

    def _into_modes(self, period: int, rows: Array) -> Array:
        """Distributions over break states (last axis) spread over the states in which a period begins."""
        shape = rows.shape[:-1]
        blocks = rows.reshape(*shape, self.break_modes, len(self.margins))
        spread: Array = np.einsum("...bm,bu->...um", blocks, self.automaton.entry(period)).reshape(*shape, -1)
        return spread

    def _out_of_modes(self, rows: Array) -> Array:
        """Distributions over states gathered into break states."""
        shape = rows.shape[:-1]
        blocks = rows.reshape(*shape, self.modes, len(self.margins))
        gathered = np.zeros((*shape, self.break_modes, len(self.margins)))
        for mode, place in enumerate(self.automaton.exits):
            gathered[..., place, :] += blocks[..., mode, :]
        return gathered.reshape(*shape, -1)

    def values_at_start(self, period: int, values: Array) -> Array:
        """Values of states averaged to break states; `values` has shape (states, columns)."""
        blocks = values.reshape(self.modes, len(self.margins), -1)
        averaged: Array = np.einsum("bu,umc->bmc", self.automaton.entry(period), blocks)
        return averaged.reshape(-1, blocks.shape[-1])

    def values_at_end(self, values: Array) -> Array:
        """Values of break states seen from the states in which a period ends; shape (states, columns)."""
        blocks = values.reshape(self.break_modes, len(self.margins), -1)
        return blocks[self.automaton.exits].reshape(-1, blocks.shape[-1])

    def push(self, period: int, rows: Array) -> Array:
        """Distributions over break states (last axis) carried through one period (the first is 0)."""
        rows = self._into_modes(period, rows)
        for stretch in period_stretches(self.title, period):
            rows = self.steps(stretch).push(rows, stretch.seconds)
        return self._out_of_modes(rows)

    def period_key(self, period: int) -> object:
        """Equal for periods that are played alike."""
        stretches = period_stretches(self.title, period)
        return tuple((s.signature, s.seconds) for s in stretches), self.automaton.entry(period).tobytes()

    def transition(self, period: int) -> Array:
        """Transition matrix of one period (the first is 0) between break states; rows sum to one."""
        key = self.period_key(period)
        if key not in self._periods:
            self._periods[key] = self.push(period, np.eye(self.break_modes * len(self.margins)))
        return self._periods[key]

    def pull(self, period: int, values: Array) -> Array:
        """Expected end-of-period value from each break state at its start; both of shape (break states, columns)."""
        values = self.values_at_end(values)
        for stretch in reversed(period_stretches(self.title, period)):
            values = self.steps(stretch).pull(values, stretch.seconds)
        return self.values_at_start(period, values)

    def collect(self, period: int, name: str) -> Array:
        """Expected total over one period from each break state: `points`, `assisted`, `noticeable`, or owed to a rule.

        Shape (break states, 2), a column for each side. `assisted` and `noticeable` count scores.
        """
        values = np.zeros((self.states, 2))
        for stretch in reversed(period_stretches(self.title, period)):
            rates = self.jumps(stretch).tally.rates(name)
            powers = self.steps(stretch)
            values = powers.pull(values, stretch.seconds)
            values = values + powers.collect(self.hazard * rates.T, stretch.seconds)
        return self.values_at_start(period, values)

    # -- the whole contest -----------------------------------------------------------------------------------------

    @cached_property
    def distributions(self) -> list[Array]:
        """Distribution over break states before each period and after the last: periods + 1 arrays."""
        found = [self.start]
        for period in range(self.title.periods):
            found.append(self.push(period, found[-1]))
        return found

    @cached_property
    def final_margin(self) -> Array:
        """Distribution of the final margin over `margins`."""
        final: Array = self.distributions[-1].reshape(self.break_modes, -1).sum(axis=0)
        return final

    @cached_property
    def tie_value(self) -> float:
        """Chance that side A wins a contest that ends level: one half, or that it makes the next score from a toss."""
        if self.title.tie == "draw":
            return 0.5
        last = period_stretches(self.title, self.title.periods - 1)[-1]
        matrix = self.jumps(last).sparse()
        size = len(self.margins)
        level = np.arange(self.modes) * size + self.zero
        stays = matrix[level][:, level].toarray()
        ahead = np.flatnonzero(np.tile(self.margins > 0, self.modes))
        wins = matrix[level][:, ahead].sum(axis=1)
        # Where nobody can ever score the equations have no single answer; the least one leaves it at a half.
        chances = np.linalg.lstsq(np.eye(self.modes) - stays, wins, rcond=None)[0]
        losses = np.linalg.lstsq(np.eye(self.modes) - stays, 1.0 - stays.sum(axis=1) - wins, rcond=None)[0]
        toss = self.automaton.fresh()
        won, lost = float(toss @ chances), float(toss @ losses)
        return won / (won + lost) if won + lost > 1e-9 else 0.5

    def end_values(self) -> Array:
        """Worth of each final break state to side A: 1 a win, 0 a loss, level as the title says. Shape (states, 1)."""
        worth = np.where(self.margins > 0, 1.0, np.where(self.margins < 0, 0.0, self.tie_value))
        return np.tile(worth, self.break_modes)[:, None]

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
        close = (np.abs(self.margins) <= self.title.close).astype(float)
        return self.backward(np.tile(close, self.break_modes)[:, None])

    def expected(self, name: str) -> Array:
        """Expected total over the contest: `points`, `assisted`, `noticeable` or owed to a rule."""
        total = np.zeros(2)
        for period in range(self.title.periods):
            total += self.distributions[period] @ self.collect(period, name)
        return total


def unaided(title: Title) -> Title:
    """The title without any rule."""
    return title.model_copy(update={"rules": {}})


def unaided_spread(title: Title) -> float:
    """Standard deviation of the final margin between equal sides with no catch-up, in points."""
    chain = Chain(unaided(title), Setting(strength=0.0))
    mean = chain.final_margin @ chain.margins
    return float(np.sqrt(chain.final_margin @ (chain.margins - mean) ** 2))
