"""Many equal steps at once: powers of a small step matrix by squaring, or a large sparse one applied step by step.

Both do the same three things: `push` carries distributions forward, `pull` carries values back, `collect` adds up
rates over the steps.
"""

from __future__ import annotations

from typing import Protocol

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

Array = NDArray[np.float64]


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
    """One step after another of a matrix that is mostly zeros: contests with much to remember."""

    def __init__(self, step: sparse.csr_array) -> None:
        self._step = step
        self._turned = step.T.tocsr()

    def push(self, rows: Array, steps: int) -> Array:
        """See `Steps`."""
        columns = rows.T
        for _ in range(steps):
            columns = self._turned @ columns
        return columns.T

    def pull(self, columns: Array, steps: int) -> Array:
        """See `Steps`."""
        for _ in range(steps):
            columns = self._step @ columns
        return columns

    def collect(self, rates: Array, steps: int) -> Array:
        """See `Steps`."""
        total = np.zeros_like(rates)
        for _ in range(steps):
            total = rates + self._step @ total
        return total
