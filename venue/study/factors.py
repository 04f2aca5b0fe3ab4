"""The numbers of a scenario that may be wrong, and how far: what a sensitivity study moves."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from venue import units
from venue.errors import InputError, ScenarioError
from venue.scenario.load import Loaded, to_raw
from venue.scenario.numbers import Number, numbers_of
from venue.scenario.slots import Slot, slot_at
from venue.scenario.words import shown

# Our choice: what is measured may still be off a little, what is only assumed a good deal.
SPREADS = {"measured": 0.05, "fitted": 0.10, "common practice": 0.20, "assumed": 0.30}
_UNSAID = 0.30
# Decisions of the designer or operator, not things that could turn out otherwise; and shares, which must sum to one.
_MOVED = ("people", "titles")
_DECIDED = ("share", "minimum_chance", "maximum_chance", "weight", "strength")


@dataclass(frozen=True)
class Factor:
    """One number that is moved between two ends.

    Attributes
    ----------
    key
        Its key path, as `--set` takes it.
    value, low, high
        The scenario's own value and the ends, in the code's unit.
    unit
        That unit.
    source
        Where the number came from.
    """

    key: str
    value: float
    low: float
    high: float
    unit: str
    source: str

    def change(self, value: float) -> str:
        """The change that sets it."""
        text = units.plain(float(f"{value:.12g}"))
        return f'{self.key}="{text} s"' if self.unit == "s" else f"{self.key}={text}"


def factors_of(loaded: Loaded, keys: Sequence[str], spread: float | None) -> tuple[list[Factor], list[str]]:
    """The numbers that can be moved, and key paths of those that cannot: zeros, and those that others leave no room.

    Raises
    ------
    InputError
        If nothing is left to move.
    """
    if spread is not None and not 0 < spread < 1:
        raise InputError(f"--spread {spread:g}: must lie between 0 and 1, a share of each number; write it like 0.2")
    found, left_out = [], []
    for number in numbers_of(loaded):
        key = shown(number.path)
        if number.path[0] not in _MOVED or number.path[-1] in _DECIDED:
            continue
        if keys and not any(key == start or key.startswith(f"{start}.") for start in keys):
            continue
        factor = _factor(loaded, number, key, spread)
        if factor is None:
            continue
        if factor.low < factor.high and _fits(loaded, factor):
            found.append(factor)
        else:
            left_out.append(key)
    if not found:
        named = f" under {', '.join(keys)}" if keys else ""
        raise InputError(f"sensitivity: there is no number to move{named}; name other keys, see venue check")
    return found, left_out


def _factor(loaded: Loaded, number: Number, key: str, spread: float | None) -> Factor | None:
    """The number as a factor; None if it is whole, a list, or without bound."""
    slot = slot_at(number.path, to_raw(loaded.scenario))
    if slot is None or slot.type is not float:
        return None
    try:
        value = units.seconds(number.value) if slot.unit == "s" else float(number.value)
    except (TypeError, ValueError):
        return None
    if not math.isfinite(value):
        return None
    share = SPREADS.get(number.source, _UNSAID) if spread is None else spread
    low, high = sorted((value * (1 - share), value * (1 + share)))
    return Factor(key, value, _bound(low, slot), _bound(high, slot), slot.unit, number.source)


def _bound(value: float, slot: Slot) -> float:
    low, _, high = slot.bounds()
    value = value if low is None else max(value, low)
    return value if high is None else min(value, high)


def _fits(loaded: Loaded, factor: Factor) -> bool:
    """Whether the scenario is sound at both ends."""
    try:
        for value in (factor.low, factor.high):
            loaded.vary([factor.change(value)])
    except ScenarioError:
        return False
    return True
