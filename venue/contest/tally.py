"""What resolved attacks bring on average, from every state: points, help, and what each rule has to do with it.

Many modes share a chance, since a side's chances ask only what it remembers of itself. So chances are kept once for
each thing remembered, and laid out over all modes only when a figure asks for it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from venue.contest.effects import Array, Parts

Whole = NDArray[np.int64]


@dataclass(frozen=True)
class Chances:
    """Chances over the places of the board: unaided, with the rules, and what each rule has of the difference.

    `blocked` is the chance that it would have gone in, but was blocked; None where nobody blocks.
    """

    unaided: Array
    chance: Array
    parts: Parts
    blocked: Array | None = None

    def other(self) -> Chances:
        """The other side's view of a chance that both sides share."""
        return Chances(1.0 - self.unaided, 1.0 - self.chance, {name: -part for name, part in self.parts.items()})


class Known:
    """Chances kept once for each thing remembered, and which of them each of some modes has.

    Parameters
    ----------
    chances
        The chances, each over the places of the board.
    which
        Place in `chances` for each mode.
    """

    def __init__(self, chances: list[Chances], which: Whole) -> None:
        self._chances, self.which = chances, which
        self.chance = np.stack([one.chance for one in chances])[which]
        self.unaided = np.stack([one.unaided for one in chances])[which]

    @property
    def rules(self) -> set[str]:
        """Rules that have a part in any of the chances."""
        return {rule for one in self._chances for rule in one.parts}

    def part(self, rule: str) -> Array:
        """What a rule has of the chances, shape (modes, places)."""
        nothing = np.zeros_like(self._chances[0].chance)
        return np.stack([one.parts.get(rule, nothing) for one in self._chances])[self.which]


@dataclass(frozen=True)
class Tries:
    """Attempts of one kind by one side, from some modes.

    Attributes
    ----------
    modes
        The modes from which they are made.
    tried
        Chance that a resolved attack comes to such an attempt, shape (modes, places).
    known
        Chances that it succeeds.
    worth
        Points for a success (in a race: lengths).
    """

    side: int
    attempt: str
    worth: int
    modes: Whole
    tried: Array
    known: Known


@dataclass(frozen=True)
class Losses:
    """Attacks that a side may lose before an attempt, from some modes.

    Attributes
    ----------
    worth
        Points that an attack would have brought unaided, shape (modes, places).
    """

    side: int
    modes: Whole
    worth: Array
    known: Known


@dataclass(frozen=True)
class Tally:
    """What a resolved attack brings on average, from every state (index = mode * places + place of the board).

    In a race "points" are lengths run, a second after the other; those that are owed to rules are the assisted ones.
    """

    shape: tuple[int, int]
    tries: tuple[Tries, ...]
    losses: tuple[Losses, ...] = ()

    @property
    def figures(self) -> set[str]:
        """Names of the figures that are not zero throughout."""
        known = [one.known for one in self.tries] + [one.known for one in self.losses]
        return {"points", "assisted", "noticeable"}.union(*(one.rules for one in known))

    def rates(self, name: str) -> Array:
        """Expected figure of a resolved attack by the side it is for, shape (2, states).

        Parameters
        ----------
        name
            `points`; `assisted`, scores that would have failed unaided; `noticeable`, the same, each weighed by the
            share of its chance that is owed to the rules (a score made at 52 % rather than 50 % passes for luck, one
            made at 90 % rather than 30 % does not); or a rule: points that are owed to it beyond the base chances.
        """
        found = np.zeros((2, *self.shape))
        for tries in self.tries:
            figure = self._figure(tries, name)
            if figure is not None:
                found[tries.side, tries.modes] += tries.tried * figure
        for losses in self.losses:
            if name in losses.known.rules:
                found[losses.side, losses.modes] -= losses.known.part(name) * losses.worth
        return found.reshape(2, -1)

    @staticmethod
    def _figure(tries: Tries, name: str) -> Array | None:
        known = tries.known
        if name == "points":
            return known.chance * tries.worth
        if name in ("assisted", "noticeable"):
            helped = known.chance - known.unaided
            share = 1.0 if name == "assisted" else helped / np.maximum(known.chance, 1e-300)
            return np.asarray(np.maximum(0.0, helped) * share)
        return known.part(name) * tries.worth if name in known.rules else None

    def attempts(self, attempt: str) -> tuple[Array, Array]:
        """Expected attempts of a kind, and successes, by side; two arrays of shape (2, states). In a race: lengths at
        even pace, and lengths run."""
        tried, made = np.zeros((2, 2, *self.shape))
        for tries in self.tries:
            if tries.attempt == attempt:
                tried[tries.side, tries.modes] += tries.tried
                made[tries.side, tries.modes] += tries.tried * tries.known.chance
        return tried.reshape(2, -1), made.reshape(2, -1)
