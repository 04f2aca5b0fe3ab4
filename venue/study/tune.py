"""Tuning: the strength, or any one number of a title, that reaches a stated result exactly.

The exact contest is solved at a range of values; where the result passes the target between two of them, the value is
closed in on by bracketing (Brent 1973, Algorithms for Minimization without Derivatives, ch. 4, as scipy has it).
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy import optimize

from venue.contest.results import Headline, field, headline, unaided_edge
from venue.errors import InputError, ScenarioError
from venue.scenario.load import Loaded
from venue.scenario.words import nearest
from venue.study.findings import TuneFindings
from venue.study.line_ups import NEWCOMERS, Against, design_of, match_ups_of
from venue.study.registry import TITLE_MEASURES
from venue.study.requirements import Requirement, requirements_of
from venue.study.strengths import STRENGTH
from venue.study.title import the_title
from venue.study.title_records import TuneRecord
from venue.study.tunable import Tunable

_EXACT = 1e-9
# A result this near the target has reached it; farther off, the number moves it in transitions.
_REACHED = 1e-7
_BESIDE = 1e-6
_TARGET = re.compile(r"\s*([A-Za-z_]+)\s*=\s*(.+?)\s*")


@dataclass(frozen=True)
class Target:
    """A headline result and the value it should take."""

    measure: str
    value: float

    def __str__(self) -> str:
        return f"{self.measure}={self.value:g}"


@dataclass(frozen=True)
class Tuned:
    """A value that reaches the target.

    Attributes
    ----------
    key
        Key path of the number that was solved for.
    before, value
        What it was, and what reaches the target.
    exact
        Whether the target is reached to rounding; a number that moves the result in transitions can only come near.
    result, was
        Headline results with that value, and as the scenario stands.
    others
        Further values that reach the target but lie farther from the present one.
    line
        What to put into the scenario: a table's name and the line in it.
    change
        The same as a `--set` text.
    """

    loaded: Loaded
    title: str
    goal: Target
    keep: tuple[Requirement, ...]
    key: str
    before: float
    value: float
    exact: bool
    result: Headline
    was: Headline
    others: tuple[float, ...]
    line: str
    change: str

    @property
    def measures(self) -> tuple[str, ...]:
        """Headline results that can be a target."""
        return tuple(TITLE_MEASURES)

    @property
    def record(self) -> TuneRecord:
        """All of it as plain data, typed."""
        plain = {
            "kind": "tune",
            "scenario": self.loaded.source,
            "title": self.title,
            "goal": {"measure": self.goal.measure, "value": self.goal.value},
            "keep": [str(goal) for goal in self.keep],
            "key": self.key,
            "before": self.before,
            "value": self.value,
            "exact": self.exact,
            "result": {name: _plain(getattr(self.result, name)) for name in TITLE_MEASURES},
            "was": {name: _plain(getattr(self.was, name)) for name in TITLE_MEASURES},
            "others": list(self.others),
            "line": self.line,
            "change": self.change,
            "findings": TuneFindings(exact=self.exact, only=not self.others),
        }
        return TuneRecord.model_validate(plain)

    def to_dict(self) -> dict[str, Any]:
        """Plain data, as `venue tune --json` prints it."""
        return self.record.plain()


def _plain(value: float) -> float | None:
    return None if math.isnan(value) else value


def read_target(text: str) -> Target:
    """A target from a text like `close_finishes=0.6` or `close_finishes=60 %`.

    Raises
    ------
    InputError
        If it is not of that form, or names no headline result.
    """
    example = "write it like --reach close_finishes=0.6"
    found = _TARGET.fullmatch(text)
    if found is None:
        raise InputError(f'--reach "{text}": is not of the right form; {example}')
    measure, number = _result("--reach", found[1]), found[2]
    share = number.endswith("%") and TITLE_MEASURES[measure].is_share
    try:
        value = float(number.rstrip("% ") if share else number)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise InputError(f'--reach {measure}: "{number}" is not a number; {example}')
    value = value / 100 if share else value
    _check_share(f"--reach {measure}={number}", measure, value)
    return Target(measure, value)


def read_bounds(texts: Sequence[str]) -> tuple[Requirement, ...]:
    """Bounds on headline results, from texts like `better_side_wins>=65 %`; `InputError` if they are none."""
    found = requirements_of(texts, _result)
    for keep in found:
        _check_share(f"--keep {keep}", keep.measure, keep.bound)
    return found


def _result(option: str, measure: str) -> str:
    if measure not in TITLE_MEASURES:
        raise InputError(f"{option} {measure}: no such result; {nearest(measure, TITLE_MEASURES)}")
    return measure


def _check_share(where: str, measure: str, value: float) -> None:
    if TITLE_MEASURES[measure].is_share and measure != "skill_edge" and not 0 <= value <= 1:
        raise InputError(f'{where}: must lie between 0 and 1; did you mean "{value:g} %"?')


def tune(
    loaded: Loaded, title: str | None, goal: Target, by: str = STRENGTH, *, keep: Sequence[Requirement] = (),
    against: Against = NEWCOMERS,
) -> Tuned:  # fmt: skip
    """Solve for the number that reaches a goal, under bounds to keep.

    Parameters
    ----------
    title
        Key of the title; may be left out where there is only one.
    by
        "strength", or the key path of a number in the title.
    keep
        Bounds that the solution must keep.
    against
        Whom it is played against, if not what the first machines make of it.

    Raises
    ------
    InputError
        If no value reaches the goal (with the nearest that can be had), or none that does keeps the bounds.
    """
    key = the_title(loaded, title)
    knob = Tunable(loaded, key, by)
    asked = [goal.measure, *(bound.measure for bound in keep)]
    known: dict[float, Headline | None] = {}

    def at(value: float) -> Headline | None:
        if value not in known:
            try:
                known[value] = _solve(knob.set(value), key, against, asked)
            except (ScenarioError, InputError):
                known[value] = None  # contradicts the rest of the scenario
        return known[value]

    def miss(value: float) -> float:
        item = at(value)
        return math.nan if item is None else getattr(item, goal.measure) - goal.value

    was = _solve(loaded, key, against, list(TITLE_MEASURES))
    values = [value for value in knob.values() if not math.isnan(miss(value))]
    if not values:
        raise InputError(f"--reach {goal}: {goal.measure} is not defined for any {knob.key}; choose another result")
    crossings = _crossings(values, miss, knob.whole)
    found = [value for value in crossings if abs(miss(value)) <= _REACHED]
    exact = bool(found)
    found = found or crossings
    if not found:
        raise InputError(_out_of_reach(goal, knob, values, miss))
    kept = [value for value in found if all(_is_kept(bound, _known(at(value))) for bound in keep)]
    if not kept:
        raise InputError(_not_kept(goal, keep, knob, found, lambda value: _known(at(value))))
    kept.sort(key=lambda value: abs(value - knob.before))
    line, change = knob.line(kept[0])
    result = _solve(knob.set(kept[0]), key, against, list(TITLE_MEASURES))
    return Tuned(
        loaded,
        key,
        goal,
        tuple(keep),
        knob.key,
        knob.before,
        kept[0],
        exact,
        result,
        was,
        tuple(kept[1:]),
        line,
        change,
    )


def _is_kept(bound: Requirement, item: Headline) -> bool:
    """Whether a bound is kept, to rounding."""
    room = _EXACT if bound.most else -_EXACT
    return bool(bound.kept(np.array(getattr(item, bound.measure) - room)))


def _known(item: Headline | None) -> Headline:
    if item is None:
        raise ValueError("not solved")
    return item


def _solve(loaded: Loaded, title: str, against: Against, measures: Sequence[str]) -> Headline:
    """Headline results of a title as a scenario has it; the yardstick of `skill_edge` only where it is asked for."""
    design, study = design_of(loaded, title, against), loaded.scenario.study
    match_ups, off = match_ups_of(loaded, title, against), frozenset(study.switches_off)
    edge = 0.0
    if "skill_edge" in measures:
        edge = unaided_edge(design, match_ups, off)
    return headline(design, field(design, match_ups, study.strength, off), edge)


def _crossings(values: Sequence[float], miss: Callable[[float], float], whole: bool) -> list[float]:
    """Values at which the target is met, or between which it is jumped over (then the nearer side), rising."""
    found = [value for value in values if abs(miss(value)) <= _EXACT]
    for low, high in zip(values, values[1:], strict=False):
        if miss(low) * miss(high) >= 0 or min(abs(miss(low)), abs(miss(high))) <= _EXACT:
            continue
        if whole:
            found.append(_nearer_whole(low, high, miss))
            continue
        root = float(optimize.brentq(miss, low, high, xtol=1e-12, rtol=1e-12))
        beside = [min(max(root + step * (high - low), low), high) for step in (-_BESIDE, 0.0, _BESIDE)]
        found.append(root if abs(miss(root)) <= _REACHED else min(beside, key=lambda value: abs(miss(value))))
    return sorted(found)


def _nearer_whole(low: float, high: float, miss: Callable[[float], float]) -> float:
    """Of two whole numbers next to each other between which the target lies, the one nearer to it."""
    while high - low > 1:
        middle = float((low + high) // 2)
        low, high = (middle, high) if miss(low) * miss(middle) > 0 else (low, middle)
    return min((low, high), key=lambda value: abs(miss(value)))


def _out_of_reach(goal: Target, knob: Tunable, values: Sequence[float], miss: Callable[[float], float]) -> str:
    """How near the target one can get, and where."""
    place = min(range(len(values)), key=lambda index: abs(miss(values[index])))
    best = values[place]
    low, high = values[max(place - 1, 0)], values[min(place + 1, len(values) - 1)]
    if not knob.whole and low < best < high:
        closer = optimize.minimize_scalar(lambda value: abs(miss(float(value))), bounds=(low, high), method="bounded")
        best = float(closer.x) if closer.fun < abs(miss(best)) else best
    if len(values) > 1 and max(map(miss, values)) - min(map(miss, values)) <= _EXACT:
        return f"--reach {goal}: {goal.measure} does not depend on {knob.key}; choose another number"
    if len(values) == 1:
        alone = f"any other {knob.key} than {knob.text(best)} contradicts the scenario"
        return f"--reach {goal}: {alone}; choose another number"
    return (
        f"--reach {goal}: no {knob.key} from {knob.text(values[0])} to {knob.text(values[-1])} reaches it; the nearest "
        f"is {goal.value + miss(best):.6g}, at {knob.key} = {knob.text(best)}"
    )


def _not_kept(
    goal: Target, keep: Sequence[Requirement], knob: Tunable, found: Sequence[float], at: Callable[[float], Headline]
) -> str:
    value = min(found, key=lambda each: abs(each - knob.before))
    broken = [
        f"{bound.measure} is {getattr(at(value), bound.measure):.6g} there, must be {bound.sign} {bound.bound:g}"
        for bound in keep
        if not _is_kept(bound, at(value))
    ]
    return f"--reach {goal}: {knob.key} = {knob.text(value)} reaches it, but {'; '.join(broken)}"
