"""A contest against the clock second by second, from the last to the first, with what is remembered at each of them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from venue.contest.chain import Chain
from venue.contest.clock_segments import Stretch
from venue.contest.effects import Array


@dataclass(frozen=True)
class Seconds:
    """One stretch of the clock.

    Attributes
    ----------
    period
        The period it is in; the first is 0.
    opens, closes
        Whether a period begins, or ends, with it.
    here
        Chance of each state just before each of its seconds is played: shape (seconds, modes, places).
    """

    period: int
    stretch: Stretch
    opens: bool
    closes: bool
    here: Array


def from_the_end(chain: Chain) -> Iterator[Seconds]:
    """All stretches of a contest, the last first. Only one of them is laid out at a time, which saves memory."""
    begun = []
    for period, rows in enumerate(chain.distributions[:-1]):
        rows = chain.into_modes(period, rows)
        stretches = chain.stretches(period)
        for number, stretch in enumerate(stretches):
            begun.append((period, stretch, number == 0, number == len(stretches) - 1, rows))
            if number < len(stretches) - 1:
                rows = chain.steps(stretch).push(rows, stretch.seconds)
    for period, stretch, opens, closes, rows in reversed(begun):
        turned = chain.transitions(stretch).quick().T
        here = np.empty((stretch.seconds, len(rows)))
        for second in range(stretch.seconds):
            here[second] = rows
            rows = (1.0 - chain.hazard) * rows + chain.hazard * (turned @ rows)
        yield Seconds(period, stretch, opens, closes, here.reshape(stretch.seconds, chain.modes, -1))
