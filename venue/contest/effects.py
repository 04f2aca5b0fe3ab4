"""What each kind of catch-up rule does to a chance. One small function a kind; `SHIFTS` lists them.

A shift takes the rule, the array of points behind `d` (of the side whose chance it is; negative when it leads) and the
time left in the contest in seconds, and returns the change of chance at strength 1, of the shape of `d`.
Closing chances are not shifts: they lift a chance to a stated least value, so they need the chance itself (`lift`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from venue.contest.setting import Player, Setting
from venue.scenario.rules import ClockedSlope, ClosingChance, RuleBase, Slope, Table, Turnover

Array = NDArray[np.float64]
Shift = Callable[[Any, Array, float], Array]


def _capped(d: Array, cap: int | None) -> Array:
    return d if cap is None else np.minimum(np.maximum(d, -cap), cap)


def slope(rule: Slope, d: Array, left: float) -> Array:
    """`per_point` for each point behind, capped."""
    return np.multiply(rule.per_point, _capped(d, rule.cap))


def table(rule: Table, d: Array, left: float) -> Array:
    """Straight between the written points, flat beyond the ends."""
    behind, shift = zip(*rule.shift, strict=True)
    change: Array = np.interp(d, behind, shift)
    return change


def clocked_slope(rule: ClockedSlope, d: Array, left: float) -> Array:
    """A slope with the steepness of the last step that the clock has reached."""
    steepness = 0.0
    for step in rule.steps:
        if left <= step.left:
            steepness = step.per_point
    return np.multiply(steepness, _capped(d, rule.cap))


def turnover(rule: Turnover, d: Array, left: float) -> Array:
    """Change of the chance to take the attack away, in the lead of the defence (which is behind by `d`)."""
    ahead, shift = zip(*rule.shift, strict=True)
    change: Array = np.interp(-d, ahead, shift)
    return change


SHIFTS: dict[type[RuleBase], Shift] = {Slope: slope, Table: table, ClockedSlope: clocked_slope}


def strength_of(rule: RuleBase, setting: Setting) -> float:
    """How strongly a rule acts: the strength if it is scalable, 1 if not, 0 if its switch is off."""
    if rule.switch is not None and rule.switch in setting.switches_off:
        return 0.0
    return setting.strength if rule.scalable else 1.0


def serves(rule: RuleBase, player: Player) -> bool:
    """Whether a rule moves the chances of this player."""
    return rule.serves == "both" or rule.serves.rstrip("s") == player


def holds(rule: RuleBase, d: Array, attempt: str | None) -> NDArray[np.bool_]:
    """Where, over points behind, a rule holds for an attempt kind (None: whatever the kind)."""
    if attempt is not None and rule.attempts is not None and attempt not in rule.attempts:
        return np.zeros(d.shape, dtype=bool)
    inside = np.ones(d.shape, dtype=bool)
    if rule.behind_from is not None:
        inside &= d >= rule.behind_from
    if rule.behind_to is not None:
        inside &= d <= rule.behind_to
    return inside


def matters(rule: ClosingChance, d: Array, points: int) -> NDArray[np.bool_]:
    """Where an attempt worth `points`, made when trailing by `d`, is one that a closing chance covers."""
    if rule.when == "would tie":
        return np.equal(d, points)
    if rule.when == "would lead":
        return np.logical_and(d >= 0, d < points)
    if rule.when == "would come within":
        # Whoever leads or is level needs no way back.
        return np.logical_and(d > 0, d - points <= rule.points)
    return np.greater_equal(d, rule.points)


def lift(rule: ClosingChance, chance: Array, d: Array, points: int) -> Array:
    """How far a closing chance lifts a chance, at strength 1: up to `at_least` where the attempt matters."""
    return np.where(matters(rule, d, points), np.maximum(0.0, rule.at_least - chance), 0.0)


Parts = dict[str, Array]


def total(parts: Iterable[Array], like: Array) -> Array:
    """Sum of the parts, zeros when there are none."""
    result = np.zeros_like(like)
    for part in parts:
        result = result + part
    return result


def side_shifts(
    rules: Mapping[str, RuleBase], setting: Setting, side: int, d: Array, left: float, attempt: str
) -> Parts:
    """Change of chance by each ordinary rule that serves a side, strength applied."""
    parts: Parts = {}
    for name, rule in rules.items():
        how = SHIFTS.get(type(rule))
        weight = strength_of(rule, setting)
        if how is not None and weight and serves(rule, setting.player(side)):
            parts[name] = np.where(holds(rule, d, attempt), weight * how(rule, d, left), 0.0)
    return parts


def side_lift(
    rules: Mapping[str, RuleBase],
    setting: Setting,
    side: int,
    chance: Array,
    d: Array,
    attempt: str,
    points: int,
) -> Parts:
    """Change of chance by closing chances that serve a side; where several cover one attempt the greatest acts."""
    lifts: Parts = {}
    for name, rule in rules.items():
        weight = strength_of(rule, setting)
        if isinstance(rule, ClosingChance) and weight and serves(rule, setting.player(side)):
            lifts[name] = np.where(holds(rule, d, attempt), weight * lift(rule, chance, d, points), 0.0)
    if len(lifts) > 1:
        greatest = np.argmax(np.stack(list(lifts.values())), axis=0)
        lifts = {name: np.where(greatest == i, part, 0.0) for i, (name, part) in enumerate(lifts.items())}
    return lifts
