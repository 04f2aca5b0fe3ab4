"""Where trailing pays: states in which a side would do better to be one point further behind.

A good set of rules has none. Where there are some, a player can profit from losing on purpose; how much, is what
the best timing of holding back would add to the chance to win.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from venue.contest.apart import with_rules
from venue.contest.chain import Chain
from venue.contest.effects import Array
from venue.contest.setting import Setting
from venue.contest.stretches import period_stretches
from venue.scenario.title import Title

# Smaller differences are rounding; states rarer than this do not happen.
_LEAST_GAIN = 1e-9
_RAREST = 1e-9


@dataclass(frozen=True)
class Fault:
    """The worst second of one margin at which side A would rather be a point further behind.

    Attributes
    ----------
    margin
        Points by which side A leads.
    left
        Time left in the contest, in seconds.
    gain
        What one point less would add to side A's chance to win.
    blame
        Rules without which the fault at this margin and second is gone.
    """

    margin: int
    left: int
    gain: float
    blame: tuple[str, ...]


@dataclass(frozen=True)
class Trailing:
    """All margins at which trailing pays, worst first, and what holding back on purpose could gain from the start."""

    faults: tuple[Fault, ...]
    holding_back: float


def win_by_second(chain: Chain) -> dict[int, Array]:
    """Side A's chance to win, by seconds left in the contest: arrays of shape (modes, margins)."""
    found: dict[int, Array] = {}
    title = chain.title
    length = round(title.period_length)
    for period in reversed(range(title.periods)):
        values = chain.values_at_end(chain.win[period + 1][:, None])
        left = (title.periods - period - 1) * length
        for stretch in reversed(period_stretches(title, period)):
            steps = chain.steps(stretch)
            for _ in range(stretch.seconds):
                values = steps.pull(values, 1)
                left += 1
                found[left] = values[:, 0].reshape(chain.modes, -1)
    return found


def _gains(chain: Chain) -> dict[int, Array]:
    """By seconds left: what one point less adds to side A's chance, over margins, at the worst mode."""
    return {
        left: np.concatenate(([0.0], (values[:, :-1] - values[:, 1:]).max(axis=0)))
        for left, values in win_by_second(chain).items()
    }


def where_trailing_pays(title: Title, setting: Setting) -> Trailing:
    """Find every margin at which side A would rather be a point further behind, at its worst second."""
    chain = Chain(title, setting)
    gains = _gains(chain)
    reached = np.max([rows.reshape(chain.break_modes, -1).sum(axis=0) for rows in chain.distributions], axis=0)
    lefts = np.array(list(gains))
    table = np.array(list(gains.values()))
    table[:, reached < _RAREST] = 0.0
    worst = table.argmax(axis=0)
    places = [place for place in range(table.shape[1]) if table[worst[place], place] > _LEAST_GAIN]
    places.sort(key=lambda place: -float(table[worst[place], place]))
    without = {
        name: Chain(with_rules(title, {other: rule for other, rule in title.rules.items() if other != name}), setting)
        for name in (title.rules if places else ())
    }
    other_gains = {name: (other, _gains(other)) for name, other in without.items()}
    faults = []
    for place in places:
        margin, left = int(chain.margins[place]), int(lefts[worst[place]])
        blame = tuple(
            name for name, (other, found) in other_gains.items() if _at(other, found[left], margin) <= _LEAST_GAIN
        )
        faults.append(Fault(margin, left, float(table[worst[place], place]), blame))
    return Trailing(tuple(faults), holding_back(chain) - chain.win_chance if faults else 0.0)


def _at(chain: Chain, values: Array, margin: int) -> float:
    place = margin - int(chain.margins[0])
    return float(values[place]) if 0 <= place < len(values) else 0.0


def holding_back(chain: Chain) -> float:
    """Side A's chance to win if it may pass up any success at will, with perfect timing."""
    values = chain.end_values()
    for period in reversed(range(chain.title.periods)):
        inner = chain.values_at_end(values)[:, 0]
        for stretch in reversed(period_stretches(chain.title, period)):
            jumps = chain.jumps(stretch)
            size = len(chain.margins)
            mine = (jumps.columns % size) > (jumps.rows % size)
            # Passing up a success leaves the margin as it is, and play goes on as after the same event without points.
            instead = jumps.columns - (jumps.columns % size) + jumps.rows % size
            for _ in range(stretch.seconds):
                worth = inner[jumps.columns]
                worth = np.where(mine, np.maximum(worth, inner[instead]), worth)
                resolved = np.bincount(jumps.rows, jumps.values * worth, minlength=chain.states)
                inner = (1.0 - chain.hazard) * inner + chain.hazard * resolved
        values = chain.values_at_start(period, inner[:, None])
    return float(chain.start @ values[:, 0])
