"""What each kind of catch-up rule does to a chance. One small function a kind; `SHIFTS` and `LIFTS` list them.

A shift returns the change of chance at strength 1, over an array of points behind. A lift returns the least chance that
the rule gives an attempt, and where it does; the chance itself decides how far that lifts it. Both take the rule and a
`Moment`: what the side whose chance it is sees.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from venue.contest.match import Match, Player
from venue.scenario.rules import (
    Block,
    Change,
    ClockedSlope,
    ClosingChance,
    Drought,
    LeastChance,
    RuleBase,
    RunBoost,
    Slope,
    Table,
    Turnover,
)
from venue.scenario.title import Title

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]


@dataclass(frozen=True)
class Moment:
    """What rules may depend on, as the side whose chance it is sees it.

    Attributes
    ----------
    d
        Points behind, an array; negative when ahead.
    left
        Time left in the contest, in seconds; NaN where no clock runs.
    points_left
        In a contest to N points, points that the leader still needs, an array like `d`.
    run
        Its own unanswered scores.
    missed
        Its misses in a row.
    own_run, own_missed
        The same of the player who takes the attempt, where a rule counts by player.
    """

    d: Array
    left: float
    run: int = 0
    missed: int = 0
    points_left: Array | None = None
    own_run: int = 0
    own_missed: int = 0

    def reached(self, left: float | None, points_left: int | None) -> Mask | bool:
        """Where no more is left than so many seconds, or points."""
        if left is not None:
            return self.left <= left
        return self.points_left is not None and np.less_equal(self.points_left, float(points_left or 0))


Shift = Callable[[Any, Moment], Array]
Lift = Callable[[Any, Moment, int], tuple[float, Mask]]


def _capped(d: Array, cap: int | None) -> Array:
    return d if cap is None else np.minimum(np.maximum(d, -cap), cap)


def slope(rule: Slope, at: Moment) -> Array:
    """`per_point` for each point behind, capped."""
    return np.multiply(rule.per_point, _capped(at.d, rule.cap))


def table(rule: Table, at: Moment) -> Array:
    """Straight between the written points, flat beyond the ends."""
    behind, shift = zip(*rule.shift, strict=True)
    change: Array = np.interp(at.d, behind, shift)
    return change


def clocked_slope(rule: ClockedSlope, at: Moment) -> Array:
    """A slope with the steepness of the last step that the clock has reached."""
    steepness = np.zeros(at.d.shape)
    for step in rule.steps:
        steepness = np.where(at.reached(step.left, step.points_left), step.per_point, steepness)
    return np.multiply(steepness, _capped(at.d, rule.cap))


def run_boost(rule: RunBoost, at: Moment) -> Array:
    """`gain` after enough unanswered scores, whatever the margin: it pushes apart."""
    return np.full(at.d.shape, rule.gain if (at.own_run if rule.counts == "player" else at.run) >= rule.after else 0.0)


def defending(rule: Turnover | Block, at: Moment) -> Array:
    """Change of the chance to take the attack away, or to block, in the lead of the defence (behind by `d`)."""
    ahead, shift = zip(*rule.shift, strict=True)
    change: Array = np.interp(-at.d, ahead, shift)
    return change


def closing_chance(rule: ClosingChance, at: Moment, points: int) -> tuple[float, Mask]:
    """The chance that the rule states for an attempt worth `points` that matters."""
    where = matters(rule, at.d, points)
    # Seconds are the clock's business, which calls on the rule only while it holds.
    return rule.stated, where if rule.last_points is None else where & at.reached(None, rule.last_points)


def drought(rule: Drought, at: Moment, points: int) -> tuple[float, Mask]:
    """At least `at_least` after enough misses in a row, until a success."""
    missed = at.own_missed if rule.counts == "player" else at.missed
    return rule.at_least, np.full(at.d.shape, missed >= rule.after)


def least_chance(rule: LeastChance, at: Moment, points: int) -> tuple[float, Mask]:
    """At least `at_least` wherever the rule holds."""
    return rule.at_least, np.ones(at.d.shape, dtype=bool)


SHIFTS: dict[type[RuleBase], Shift] = {Slope: slope, Table: table, ClockedSlope: clocked_slope, RunBoost: run_boost}
LIFTS: dict[type[RuleBase], Lift] = {ClosingChance: closing_chance, Drought: drought, LeastChance: least_chance}


def weight_of(title: Title, match: Match, rule: RuleBase, side: int) -> float:
    """How much of a rule acts for a side: nothing where it does not serve it."""
    return dial_of(title, match, rule) if serves(title, match, rule, side) else 0.0


def dial_of(title: Title, match: Match, rule: RuleBase) -> float:
    """How much of a rule acts: its weight, times the strength if it is scalable; 0 if its switch is off."""
    if rule.switch is not None and rule.switch in match.switches_off:
        return 0.0
    return rule.weight * (title.strength * match.strength if rule.scalable else 1.0)


def serves(title: Title, match: Match, rule: RuleBase, side: int) -> bool:
    """Whether a rule moves the chances of a side, given who sits on it, which team they play and who sits opposite."""
    if rule.teams is not None and match.team(title, side) not in rule.teams:
        return False
    return _named(rule.serves, match.player(side)) and _named(rule.facing, match.player(1 - side))


def _named(whom: str, player: Player) -> bool:
    return whom in ("both", "anyone") or whom.rstrip("s") == player


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


def speaks_of_leaders(rule: RuleBase) -> bool:
    """Whether a rule says what becomes of a side that leads: by rows of a table, or by a band that reaches there.

    In open play and in a race a rule for both acts for whoever trails, unless it says that.
    """
    if isinstance(rule, Table) and rule.shift[0][0] < 0:
        return True
    return any(end is not None and end < 0 for end in (rule.behind_from, rule.behind_to))


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


Parts = dict[str, Array]


def total(parts: Iterable[Array], like: Array) -> Array:
    """Sum of the parts, zeros when there are none."""
    result = np.zeros_like(like)
    for part in parts:
        result = result + part
    return result


def side_shifts(
    rules: Mapping[str, RuleBase], title: Title, match: Match, side: int, base: Array, at: Moment, attempt: str | None
) -> Parts:
    """Change of the `base` chance (in a race: of pace) by each shift that serves a side, weights applied."""
    return {
        name: _change(rule, weight, SHIFTS[type(rule)](rule, at), base, holds(rule, at.d, attempt))
        for name, rule in rules.items()
        if type(rule) in SHIFTS and (weight := weight_of(title, match, rule, side))
    }


def _change(rule: RuleBase, weight: float, written: Array, base: Array, where: Mask) -> Array:
    """What a rule changes, from what it says: that itself, or a share of the base chance."""
    change = weight * written
    return np.where(where, change * base if isinstance(rule, Change) and rule.relative else change, 0.0)


# Comes before every lift where several rules cover one attempt.
_FIRST = 1e3


def side_lifts(
    rules: Mapping[str, RuleBase], title: Title, match: Match, side: int, chance: Array, at: Moment, attempt: str,
    points: int, acts: Callable[[RuleBase], Mask | bool] = lambda rule: True,
) -> Parts:  # fmt: skip
    """Change of `chance` by each lift that serves a side; where several cover one attempt the greatest acts alone.

    A rule that says a chance exactly goes before those that say a least one; of several, the one with the greatest
    chance acts. `acts` says where a rule may act for this side at all, so that one which may not takes nobody's place.
    """
    parts: Parts = {}
    ranks = []
    for name, rule in rules.items():
        how = LIFTS.get(type(rule))
        weight = weight_of(title, match, rule, side)
        if how is not None and weight:
            stated, where = how(rule, at, points)
            covered = where & holds(rule, at.d, attempt) & acts(rule)
            if isinstance(rule, ClosingChance) and rule.exactly is not None:
                parts[name] = np.where(covered, weight * (stated - chance), 0.0)
                ranks.append(np.where(covered, _FIRST + stated, -1.0))
            else:
                parts[name] = np.where(covered, weight * np.maximum(0.0, stated - chance), 0.0)
                ranks.append(parts[name])
    if len(parts) > 1:
        greatest = np.argmax(np.stack(ranks), axis=0)
        parts = {name: np.where(greatest == i, part, 0.0) for i, (name, part) in enumerate(parts.items())}
    return parts


def side_defences(
    rules: Mapping[str, RuleBase], title: Title, match: Match, side: int, base: Array, at: Moment,
    kind: type[Turnover] | type[Block], attempt: str | None = None,
) -> Parts:  # fmt: skip
    """Change of the chance that an attack is lost, or a success blocked, by each rule that serves the side that
    defends."""
    return {
        name: _change(rule, weight, defending(rule, at), base, holds(rule, at.d, attempt))
        for name, rule in rules.items()
        if isinstance(rule, kind) and (weight := weight_of(title, match, rule, side))
    }
