"""Many equal steps at once: powers of a small step matrix by squaring, or of a large sparse one attack by attack.

Both do the same three things: `push` carries distributions forward, `pull` carries values back, `collect` adds up
rates over the steps.
"""

from __future__ import annotations

from functools import cache
from typing import Protocol

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

Array = NDArray[np.float64]

# Chances so small that they change no digit.
_NOTHING = 1e-17


class Steps(Protocol):
    """Powers of one step matrix P."""

    def push(self, rows: Array, steps: int) -> Array:
        """Rows of distributions carried forward: rows @ P**steps."""

    def pull(self, columns: Array, steps: int) -> Array:
        """Columns of values carried back: P**steps @ columns."""

    def collect(self, rates: Array, steps: int) -> Array:
        """Sum of P**t @ rates over t = 0 … steps - 1: what rates per step add up to."""


class DensePowers:
    """Powers by squaring, kept: few steps are taken for many states."""

    def __init__(self, step: Array) -> None:
        self._ladder = [step]

    def _level(self, level: int) -> Array:
        while len(self._ladder) <= level:
            self._ladder.append(self._ladder[-1] @ self._ladder[-1])
        return self._ladder[level]

    def push(self, rows: Array, steps: int) -> Array:
        """See `Steps`."""
        for level in range(steps.bit_length()):
            if steps >> level & 1:
                rows = rows @ self._level(level)
        return rows

    def pull(self, columns: Array, steps: int) -> Array:
        """See `Steps`."""
        for level in range(steps.bit_length()):
            if steps >> level & 1:
                columns = self._level(level) @ columns
        return columns

    def collect(self, rates: Array, steps: int) -> Array:
        """See `Steps`."""
        doubled, total = rates, np.zeros_like(rates)
        for level in range(steps.bit_length()):
            power = self._level(level)
            if steps >> level & 1:
                total = doubled + power @ total
            doubled = doubled + power @ doubled
        return total


class SparseSteps:
    """Many seconds of a contest with much to remember, taken from one resolved attack to the next.

    Of n seconds N bring a resolved attack, N being binomial, and all other seconds change nothing: so n steps of
    P = (1 - q) I + q R are the powers of R weighed by the chances of N (uniformisation; Jensen 1953). With an attack
    every eight seconds there are three times fewer products than seconds, of a sparser matrix.

    Parameters
    ----------
    resolved
        R, what a resolved attack does.
    hazard
        q, the chance of one in a second.
    """

    def __init__(self, resolved: sparse.csr_array, hazard: float) -> None:
        self._resolved, self._hazard = resolved, hazard
        self._turned = resolved.T

    def push(self, rows: Array, steps: int) -> Array:
        """See `Steps`."""
        return self.follow(rows.T, steps)[0].T

    def follow(self, columns: Array, steps: int) -> tuple[Array, Array]:
        """Columns of distributions carried forward, and the expected resolved attacks from each state on the way."""
        chances, beyond = attacks_in(steps, self._hazard)
        after, seen = np.zeros_like(columns), np.zeros_like(columns)
        for number, (chance, more) in enumerate(zip(chances, beyond, strict=True)):
            if number:
                columns = self._turned @ columns
            if chance:
                after += chance * columns
            seen += more * columns
        return after, seen

    def pull(self, columns: Array, steps: int) -> Array:
        """See `Steps`."""
        chances, _ = attacks_in(steps, self._hazard)
        return self._weighed(columns, chances)

    def collect(self, rates: Array, steps: int) -> Array:
        """See `Steps`."""
        _, beyond = attacks_in(steps, self._hazard)
        # The (k + 1)th attack is resolved in second t + 1 when k were so in t seconds and one is then.
        return self._weighed(rates / self._hazard, beyond)

    def _weighed(self, columns: Array, weights: Array) -> Array:
        total = np.zeros_like(columns)
        for number, weight in enumerate(weights):
            if number:
                columns = self._resolved @ columns
            if weight:
                total += weight * columns
        return total


@cache
def attacks_in(seconds: int, hazard: float) -> tuple[Array, Array]:
    """Chances that so many attacks are resolved in some seconds, from none on, and that more are; the binomial
    distribution, ended where less than 1e-17 is left."""
    if hazard >= 1.0:
        chances = np.zeros(seconds + 1)
        chances[-1] = 1.0
        return chances, np.append(np.ones(seconds), 0.0)
    # From the likeliest number both ways, so that nothing is too small to be told from nothing.
    odds = hazard / (1.0 - hazard)
    middle = min(seconds, int((seconds + 1) * hazard))
    up = np.arange(middle, seconds)
    down = np.arange(middle, 0, -1)
    chances = np.ones(seconds + 1)
    chances[middle + 1 :] = np.cumprod((seconds - up) / (up + 1) * odds)
    chances[:middle] = np.cumprod(down / (seconds - down + 1) / odds)[::-1]
    chances /= chances.sum()
    beyond = np.append(np.cumsum(chances[:0:-1])[::-1], 0.0)
    most = len(beyond) - int(np.searchsorted(beyond[::-1], _NOTHING, side="right")) + 1
    chances = np.where(chances < _NOTHING, 0.0, chances)[:most]
    return chances / chances.sum(), beyond[:most]
