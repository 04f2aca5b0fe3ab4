"""The contest as an exact Markov chain, one step a second.

A state is a margin (points by which side A leads) and a mode: which side attacks, or, in open play, who scored last.
Each second the attack is resolved with hazard q = 1 / mean attack; what then happens is one row of the jump matrix R,
so a step is P = (1 - q) I + q R. A stretch of n equal steps is a power of P, built by squaring; a period is the product
of its stretches. `docs/model.md` has every equation.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit, logit

from venue.contest import effects
from venue.contest.effects import Array
from venue.contest.setting import Setting
from venue.contest.stretches import Stretch, period_stretches
from venue.errors import InputError
from venue.scenario.rules import RuleBase, Turnover
from venue.scenario.title import Title

# Mass allowed at the two ends of the range of margins, where the chain is cut.
EDGE_MASS = 1e-9
_MOST_STATES = 6000


def with_skill(chance: float | None, gap: float) -> float:
    """A chance moved by a skill gap in log-odds. Open play, which has no base chance of its own, starts from 1/2."""
    return float(expit(logit(0.5 if chance is None else chance) + gap))


def _settle(base: Array, parts: effects.Parts, low: float, high: float) -> tuple[Array, Array, effects.Parts]:
    """Base chance and chance within bounds, and what the bounds leave of each rule's part, in proportion."""
    change = effects.total(parts.values(), base)
    unaided = np.clip(base, low, high)
    chance = np.clip(base + change, low, high)
    with np.errstate(divide="ignore", invalid="ignore"):
        kept = np.where(np.abs(change) > 1e-15, (chance - unaided) / change, 1.0)
    return unaided, chance, {name: part * kept for name, part in parts.items()}


@dataclass(frozen=True)
class Jumps:
    """What happens when an attack is resolved, for every state (mode-major: index = mode * margins + margin).

    Attributes
    ----------
    matrix
        R, states by states; rows sum to one.
    assisted
        Expected scores that would have failed unaided, by side that scores: shape (2, states).
    noticeable
        The same, each weighed by the share of its chance that is owed to the rules: a score made at 52 % rather than
        50 % passes for luck, one made at 90 % rather than 30 % does not.
    points
        Expected points, by side: shape (2, states).
    owed
        Expected points beyond the base chances, by side, for each rule: arrays of shape (2, states).
    """

    matrix: Array
    assisted: Array
    noticeable: Array
    points: Array
    owed: dict[str, Array]


def _count_assisted(jumps: Jumps, side: int, here: slice, tried: Array | float, chance: Array, base: Array) -> None:
    assisted = tried * np.maximum(0.0, chance - base)
    jumps.assisted[side, here] += assisted
    jumps.noticeable[side, here] += assisted * (chance - base) / np.maximum(chance, 1e-300)


class Powers:
    """Powers of one step matrix, built by squaring and kept."""

    def __init__(self, step: Array) -> None:
        self._ladder = [step]

    def _level(self, level: int) -> Array:
        while len(self._ladder) <= level:
            self._ladder.append(self._ladder[-1] @ self._ladder[-1])
        return self._ladder[level]

    def push(self, rows: Array, steps: int) -> Array:
        """Rows of distributions carried forward `steps` steps: rows @ P**steps."""
        for level in range(steps.bit_length()):
            if steps >> level & 1:
                rows = rows @ self._level(level)
        return rows

    def pull(self, columns: Array, steps: int) -> Array:
        """Columns of values carried back `steps` steps: P**steps @ columns."""
        for level in range(steps.bit_length()):
            if steps >> level & 1:
                columns = self._level(level) @ columns
        return columns

    def collect(self, rates: Array, steps: int) -> Array:
        """Sum of P**t @ rates over t = 0 … steps - 1: what rates per step add up to over the stretch."""
        doubled, total = rates, np.zeros_like(rates)
        for level in range(steps.bit_length()):
            power = self._level(level)
            if steps >> level & 1:
                total = doubled + power @ total
            doubled = doubled + power @ doubled
        return total


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
        if self.modes * len(self.margins) > _MOST_STATES:
            raise InputError(
                f"the contest needs {self.modes * len(self.margins)} states, the limit is {_MOST_STATES}; "
                "fewer points an attempt, fewer or shorter periods would do"
            )
        self._jumps: dict[tuple[object, ...], Jumps] = {}
        self._powers: dict[tuple[object, ...], Powers] = {}
        self._periods: dict[object, Array] = {}
        for name in ("start", "distributions", "final_margin", "win", "tie_value"):
            self.__dict__.pop(name, None)

    @property
    def modes(self) -> int:
        """Number of modes within a period."""
        if self.title.play == "turns":
            return 2
        return 1 if self.title.scores_again is None else 3

    @property
    def break_modes(self) -> int:
        """Number of modes told apart at a period break."""
        return self.modes if self.title.period_start == "carry on" else 1

    def _entry(self, period: int) -> Array:
        """How a period begins: share of each mode, for each break mode. Shape (break_modes, modes)."""
        if self.break_modes > 1:
            return np.eye(self.modes)
        if self.modes == 1:
            return np.ones((1, 1))
        if self.modes == 3:
            return np.array([[1.0, 0.0, 0.0]])
        if self.title.period_start == "alternate":
            return np.eye(2)[[period % 2]]
        return np.full((1, 2), 0.5)

    @cached_property
    def start(self) -> Array:
        """Distribution over break states when a contest begins."""
        share = np.zeros((self.break_modes, len(self.margins)))
        if self.break_modes == 2:
            share[:, self.zero] = 0.5
        else:
            share[0, self.zero] = 1.0
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
            by_turns = self.title.play == "turns"
            build = self._jumps_by_turns if by_turns else self._jumps_in_open_play
            self._jumps[stretch.signature] = build(rules, float(stretch.left))
        return self._jumps[stretch.signature]

    def _blank(self, rules: Mapping[str, RuleBase]) -> Jumps:
        states = self.modes * len(self.margins)
        owed = {name: np.zeros((2, states)) for name in rules}
        assisted, noticeable, points = np.zeros((3, 2, states))
        return Jumps(np.zeros((states, states)), assisted, noticeable, points, owed)

    def _add(self, matrix: Array, mode: int, chance: Array, step: int, next_mode: int) -> None:
        """Add an outcome that moves the margin by `step`; what would leave the range stays at its end."""
        size = len(self.margins)
        rows = np.arange(size)
        np.add.at(matrix, (mode * size + rows, next_mode * size + np.clip(rows + step, 0, size - 1)), chance)

    def chances(
        self, rules: Mapping[str, RuleBase], left: float, side: int, attempt: str
    ) -> tuple[Array, Array, effects.Parts]:
        """Base chance, chance with the rules, and each rule's part of the difference, over the margins.

        For play by turns: the chance is that an attempt of `side` (0 for A, 1 for B) succeeds.
        """
        kind = self.title.attempts[attempt]
        d = (-self.margins if side == 0 else self.margins).astype(float)
        gap = self.setting.gap if side == 0 else -self.setting.gap
        base = np.full(d.shape, with_skill(kind.chance, gap))
        parts = effects.side_shifts(rules, self.setting, side, d, left, attempt)
        shifted = base + effects.total(parts.values(), base)
        parts |= effects.side_lift(rules, self.setting, side, shifted, d, attempt, kind.points)
        return _settle(base, parts, self.title.floor, self.title.ceiling)

    def _lost(self, rules: Mapping[str, RuleBase], left: float, attacker: int) -> tuple[Array, Array, effects.Parts]:
        """Chance that an attack is lost: unaided, with the rules, and each rule's part."""
        defender = 1 - attacker
        d = (-self.margins if defender == 0 else self.margins).astype(float)
        base = np.full(d.shape, self.title.turnover)
        parts: effects.Parts = {}
        for name, rule in rules.items():
            weight = effects.strength_of(rule, self.setting)
            if isinstance(rule, Turnover) and weight and effects.serves(rule, self.setting.player(defender)):
                parts[name] = np.where(effects.holds(rule, d, None), weight * effects.turnover(rule, d, left), 0.0)
        return _settle(base, parts, 0.0, 1.0)

    def _jumps_by_turns(self, rules: Mapping[str, RuleBase], left: float) -> Jumps:
        jumps = self._blank(rules)
        size = len(self.margins)
        for side in (0, 1):
            here = slice(side * size, (side + 1) * size)
            base_lost, lost, lost_parts = self._lost(rules, left, side)
            other = 1 - side
            self._add(jumps.matrix, side, lost, 0, other)
            for name, kind in self.title.attempts.items():
                base, chance, parts = self.chances(rules, left, side, name)
                tried = (1.0 - lost) * kind.share
                gain = kind.points if side == 0 else -kind.points
                self._add(jumps.matrix, side, tried * chance, gain, side if self.title.scorer_keeps else other)
                self._add(jumps.matrix, side, tried * (1.0 - chance), 0, other)
                jumps.points[side, here] += tried * chance * kind.points
                _count_assisted(jumps, side, here, tried, chance, base)
                for rule, part in parts.items():
                    jumps.owed[rule][side, here] += tried * part * kind.points
                for rule, part in lost_parts.items():
                    jumps.owed[rule][side, here] -= part * kind.share * base * kind.points
        return jumps

    def _open_chance(
        self, rules: Mapping[str, RuleBase], left: float, mode: int, attempt: str
    ) -> tuple[Array, Array, effects.Parts]:
        """Chance that side A makes the next score. A rule for both sides acts for whoever trails."""
        kind = self.title.attempts[attempt]
        again = self.title.scores_again
        scorer = 0.5 if again is None or mode == 0 else again if mode == 1 else 1.0 - again
        base = np.full(self.margins.shape, with_skill(scorer, self.setting.gap))
        parts: effects.Parts = {}
        for lifting in (False, True):
            chance_a = base + effects.total(parts.values(), base)
            found: effects.Parts = {}
            for side, sign in ((0, 1.0), (1, -1.0)):
                d = (-self.margins if side == 0 else self.margins).astype(float)
                if lifting:
                    chance = chance_a if side == 0 else 1.0 - chance_a
                    new = effects.side_lift(rules, self.setting, side, chance, d, attempt, kind.points)
                else:
                    new = effects.side_shifts(rules, self.setting, side, d, left, attempt)
                for name, part in new.items():
                    # One chance serves both sides: the side that trails has the rule, level sides cancel.
                    both = all(effects.serves(rules[name], self.setting.player(s)) for s in (0, 1))
                    weight = (d > 0).astype(float) if both else 1.0
                    found[name] = found.get(name, np.zeros_like(base)) + sign * weight * part
            parts |= found
        # Floor and ceiling bound the chances of both sides, which share one.
        low, high = self.title.floor, self.title.ceiling
        return _settle(base, parts, max(low, 1.0 - high), min(high, 1.0 - low))

    def _jumps_in_open_play(self, rules: Mapping[str, RuleBase], left: float) -> Jumps:
        jumps = self._blank(rules)
        size = len(self.margins)
        for mode in range(self.modes):
            here = slice(mode * size, (mode + 1) * size)
            for name, kind in self.title.attempts.items():
                base, chance, parts = self._open_chance(rules, left, mode, name)
                last_a, last_b = (1, 2) if self.modes == 3 else (0, 0)
                self._add(jumps.matrix, mode, kind.share * chance, kind.points, last_a)
                self._add(jumps.matrix, mode, kind.share * (1.0 - chance), -kind.points, last_b)
                for side, won, unaided in ((0, chance, base), (1, 1.0 - chance, 1.0 - base)):
                    jumps.points[side, here] += kind.share * won * kind.points
                    _count_assisted(jumps, side, here, kind.share, won, unaided)
                for rule, part in parts.items():
                    jumps.owed[rule][0, here] += kind.share * part * kind.points
                    jumps.owed[rule][1, here] -= kind.share * part * kind.points
        return jumps

    def _stretch_powers(self, stretch: Stretch) -> Powers:
        if stretch.signature not in self._powers:
            matrix = self.jumps(stretch).matrix
            step = self.hazard * matrix
            step[np.diag_indices_from(step)] += 1.0 - self.hazard
            self._powers[stretch.signature] = Powers(step)
        return self._powers[stretch.signature]

    # -- one period ------------------------------------------------------------------------------------------------

    def _into_modes(self, period: int, rows: Array) -> Array:
        """Distributions over break states (last axis) spread over the states in which a period begins."""
        shape = rows.shape[:-1]
        blocks = rows.reshape(*shape, self.break_modes, len(self.margins))
        spread: Array = np.einsum("...bm,bu->...um", blocks, self._entry(period)).reshape(*shape, -1)
        return spread

    def _out_of_modes(self, rows: Array) -> Array:
        """Distributions over states gathered into break states."""
        if self.break_modes == self.modes:
            return rows
        shape = rows.shape[:-1]
        gathered: Array = rows.reshape(*shape, self.modes, len(self.margins)).sum(axis=-2)
        return gathered

    def _values_at_start(self, period: int, values: Array) -> Array:
        """Values of states averaged to break states; `values` has shape (states, columns)."""
        blocks = values.reshape(self.modes, len(self.margins), -1)
        averaged: Array = np.einsum("bu,umc->bmc", self._entry(period), blocks).reshape(-1, blocks.shape[-1])
        return averaged

    def _values_at_end(self, values: Array) -> Array:
        """Values of break states seen from the states in which a period ends; shape (states, columns)."""
        if self.break_modes == self.modes:
            return values
        return np.tile(values, (self.modes, 1))

    def transition(self, period: int) -> Array:
        """Transition matrix of one period (the first is 0) between break states; rows sum to one."""
        stretches = period_stretches(self.title, period)
        key = (tuple((s.signature, s.seconds) for s in stretches), self._entry(period).tobytes())
        if key not in self._periods:
            rows = self._into_modes(period, np.eye(self.break_modes * len(self.margins)))
            for stretch in stretches:
                rows = self._stretch_powers(stretch).push(rows, stretch.seconds)
            self._periods[key] = self._out_of_modes(rows)
        return self._periods[key]

    def pull(self, period: int, values: Array) -> Array:
        """Expected end-of-period value from each break state at its start; both of shape (break states, columns)."""
        values = self._values_at_end(values)
        for stretch in reversed(period_stretches(self.title, period)):
            values = self._stretch_powers(stretch).pull(values, stretch.seconds)
        return self._values_at_start(period, values)

    def collect(self, period: int, name: str) -> Array:
        """Expected total over one period from each break state: `points`, `assisted`, `noticeable`, or owed to a rule.

        Shape (break states, 2), a column for each side. `assisted` and `noticeable` count scores.
        """
        states = self.modes * len(self.margins)
        values = np.zeros((states, 2))
        for stretch in reversed(period_stretches(self.title, period)):
            jumps = self.jumps(stretch)
            if name in ("points", "assisted", "noticeable"):
                rates = getattr(jumps, name)
            else:
                rates = jumps.owed.get(name, np.zeros((2, states)))
            powers = self._stretch_powers(stretch)
            values = powers.pull(values, stretch.seconds)
            values = values + powers.collect(self.hazard * rates.T, stretch.seconds)
        return self._values_at_start(period, values)

    # -- the whole contest -----------------------------------------------------------------------------------------

    @cached_property
    def distributions(self) -> list[Array]:
        """Distribution over break states before each period and after the last: periods + 1 arrays."""
        found = [self.start]
        for period in range(self.title.periods):
            rows = self._into_modes(period, found[-1])
            for stretch in period_stretches(self.title, period):
                rows = self._stretch_powers(stretch).push(rows, stretch.seconds)
            found.append(self._out_of_modes(rows))
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
        matrix = self.jumps(last).matrix
        size = len(self.margins)
        level = np.arange(self.modes) * size + self.zero
        stays = matrix[np.ix_(level, level)]
        ahead = np.tile(self.margins > 0, self.modes)
        wins = matrix[np.ix_(level, ahead)].sum(axis=1)
        try:
            chances = np.linalg.solve(np.eye(self.modes) - stays, wins)
        except np.linalg.LinAlgError:
            return 0.5  # nobody can ever score
        toss = np.full(2, 0.5) if self.modes == 2 else np.eye(self.modes)[0]
        return float(np.clip(toss @ chances, 0.0, 1.0))

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
