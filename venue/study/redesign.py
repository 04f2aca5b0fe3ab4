"""Several numbers of a title solved for at once: the least change of the present design that reaches what is asked.

Numbers are scaled by their present size. Each step is a bounded linear least-squares problem (SciPy's): what the aims
miss, linearised, weighs much, the change from the present design weighs little, and its weight is taken down in stages
(Nocedal & Wright, Numerical Optimization, 2nd ed., ch. 10.3 and 17.1: Gauss-Newton and the quadratic penalty). Where
everything can be reached what remains is the smallest change; where it cannot, the best compromise.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import optimize

from venue import __version__
from venue.errors import InputError, ScenarioError
from venue.scenario.load import Loaded
from venue.study.line_ups import NEWCOMERS, Against
from venue.study.observer import Observer
from venue.study.strengths import STRENGTH
from venue.study.title import the_title
from venue.study.title_figures import EFFECTIVE, HOLDING_BACK, Aim, Figures, is_share
from venue.study.title_records import RedesignRecord
from venue.study.tunable import Tunable, lines_of, set_all

Array = NDArray[np.float64]

# A figure this near what is asked has reached it.
REACHED = 1e-7
# What counts as a miss of one: a point of a percentage, or this share of any other figure.
_POINT, _SHARE = 0.01, 0.02
# Weights of the change against the misses, one stage after the other, and how many steps a stage may take.
_STAGES = (1e-2, 1e-5, 1e-8, 1e-11)
_STEPS = 12
_FIRST_STEP, _SHORTEST, _LEAST_STEP = 0.5, 1e-5, 1e-10
# A step that gains less than this share of the cost is the last.
_GAIN = 1e-7
# Unless it is said what a number may be: within so many times what it is.
_TIMES = 4.0
# Designs that most problems take, for each number and one more.
_MOST_OFTEN = 12
# Distance over which slopes are taken, as a share of a number's scale.
_APART = 1e-4


@dataclass(frozen=True)
class Redesign:
    """New values of several numbers.

    Attributes
    ----------
    keys, before, values
        The numbers, what they were, and what is proposed.
    lows, highs
        What they may be.
    was, will_be
        Figures by name: every one that was asked for, as the scenario stands and with the new values.
    reached
        Whether every target is reached and every bound kept, to rounding.
    fight
        Where they are not: the targets and bounds without one of which the others can be had.
    lines
        What to put into the scenario.
    changes
        The same as `--set` texts.
    """

    loaded: Loaded
    title: str
    reach: tuple[Aim, ...]
    keep: tuple[Aim, ...]
    keys: tuple[str, ...]
    before: tuple[float, ...]
    values: tuple[float, ...]
    lows: tuple[float, ...]
    highs: tuple[float, ...]
    was: dict[str, float]
    will_be: dict[str, float]
    reached: bool
    fight: tuple[Aim, ...]
    lines: str
    changes: tuple[str, ...]

    @property
    def at_bound(self) -> tuple[str, ...]:
        """Numbers that stand at the end of what they may be."""
        ends = zip(self.keys, self.values, self.lows, self.highs, strict=True)
        return tuple(key for key, value, low, high in ends if min(value - low, high - value) <= 1e-9 * (high - low))

    def missed(self, aim: Aim) -> float:
        """By how much the new values miss an aim."""
        return aim.missed(self.will_be[aim.name])

    @property
    def record(self) -> RedesignRecord:
        """All of it as plain data, typed."""
        numbers = zip(self.keys, self.before, self.values, self.lows, self.highs, strict=True)
        return RedesignRecord.model_validate(
            {
                "kind": "redesign",
                "scenario": self.loaded.source,
                "version": __version__,
                "title": self.title,
                "reached": self.reached,
                "aims": [
                    {"figure": aim.name, "sign": aim.sign, "value": aim.value, "was": _plain(self.was[aim.name]),
                     "will_be": _plain(self.will_be[aim.name]), "missed_by": _plain(self.missed(aim)),
                     "fights": aim in self.fight}
                    for aim in (*self.reach, *self.keep)
                ],
                "numbers": [
                    {"key": key, "before": before, "value": value, "low": low, "high": high}
                    for key, before, value, low, high in numbers
                ],
                "was": {name: _plain(value) for name, value in self.was.items()},
                "will_be": {name: _plain(value) for name, value in self.will_be.items()},
                "lines": self.lines,
                "changes": list(self.changes),
            }
        )  # fmt: skip

    def to_dict(self) -> dict[str, Any]:
        """Plain data, as `venue tune --json` prints it."""
        return self.record.plain()


def _plain(value: float) -> float | None:
    return None if math.isnan(value) else value


@dataclass
class Bench:
    """A title on the bench: numbers that may be changed, and its figures at any values of them.

    Scaled values u stand for number = before + scale · u, so that u = 0 is the present design. `expected` is about how
    many designs will be solved.
    """

    loaded: Loaded
    title: str
    tunables: tuple[Tunable, ...]
    names: tuple[str, ...]
    against: Against
    observer: Observer
    expected: int = 0
    _known: dict[tuple[float, ...], Array] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.before = np.array([item.before for item in self.tunables])
        ranges = np.array([item.high - item.low for item in self.tunables])
        self.scale = np.where(self.before == 0.0, ranges / 4, np.abs(self.before))
        self.low = (np.array([item.low for item in self.tunables]) - self.before) / self.scale
        self.high = (np.array([item.high for item in self.tunables]) - self.before) / self.scale

    def values(self, u: Array) -> list[float]:
        """The numbers at scaled values, held within their bounds."""
        found = self.before + self.scale * u
        lows, highs = ([getattr(item, end) for item in self.tunables] for end in ("low", "high"))
        return np.clip(found, lows, highs).tolist()  # type: ignore[no-any-return]

    def figures(self, u: Array) -> Array:
        """The figures by `names`; NaN for values that contradict the rest of the scenario."""
        values = tuple(self.values(u))
        if values not in self._known:
            try:
                there = Figures(set_all(self.tunables, values), self.title, self.against)
                self._known[values] = np.array([there[name] for name in self.names])
            except (ScenarioError, InputError):
                self._known[values] = np.full(len(self.names), np.nan)
            self.observer.done(len(self._known), max(self.expected, len(self._known) + len(self.tunables)))
        return self._known[values]

    def slopes(self, u: Array) -> Array:
        """Change of each figure with each scaled value, shape (figures, numbers)."""
        here = self.figures(u)
        found = np.zeros((len(here), len(u)))
        for place in range(len(u)):
            step = _APART if u[place] + _APART <= self.high[place] else -_APART
            there = u.copy()
            there[place] += step
            found[:, place] = (self.figures(there) - here) / step
        return np.nan_to_num(found)


def bench_of(
    loaded: Loaded, title: str | None, by: Sequence[str], names: Sequence[str], *,
    between: Sequence[str] = (), against: Against = NEWCOMERS, observer: Observer | None = None,
) -> Bench:  # fmt: skip
    """A title on the bench.

    Parameters
    ----------
    by
        "strength" or key paths of numbers in the title.
    names
        Figures that will be asked for.
    between
        Texts like "rules.undertow.per_point=0:0.05": what a number may be. If unsaid, a rule's number lies from 0 to
        four times what it is, and any other within four times its size (or 1) of what it is; as the scenario allows.

    Raises
    ------
    InputError
        If a key names no number, a whole number, the same twice, or bounds do not fit.
    """
    key = the_title(loaded, title)
    tunables = tuple(Tunable(loaded, key, item) for item in by)
    whole = [item.key for item in tunables if item.whole]
    if whole:
        raise InputError(f"--by {whole[0]}: is a whole number, which cannot be changed little by little; leave it out, "
                         "or tune it alone")  # fmt: skip
    keys = [item.key for item in tunables]
    twice = next((item for place, item in enumerate(keys) if item in keys[:place]), None)
    if twice is not None:
        raise InputError(f"--by {twice}: is named twice; name it once")
    bounded = {_narrow(loaded, key, tunables, text) for text in between}
    for item in tunables:
        if item not in bounded:
            item.between(*_usual(item))
    return Bench(loaded, key, tunables, tuple(dict.fromkeys(names)), against, observer or Observer())


def _usual(item: Tunable) -> tuple[float, float]:
    """What a number may be if nothing is said. What a rule gives keeps its sign; anything else may change it."""
    far = _TIMES * abs(item.before)
    if "rules" in item.path and item.before:
        return (0.0, far) if item.before > 0 else (-far, 0.0)
    return item.before - max(far, 1.0), item.before + max(far, 1.0)


def _narrow(loaded: Loaded, title: str, tunables: Sequence[Tunable], text: str) -> Tunable:
    """The number that a text like KEY=LOW:HIGH names, so bounded."""
    name, equals, ends = (part.strip() for part in text.rpartition("="))
    low, colon, high = (part.strip() for part in ends.partition(":"))
    try:
        bounds = float(low), float(high)
    except ValueError:
        bounds = (math.nan, math.nan)
    if not equals or not colon or not all(map(math.isfinite, bounds)):
        raise InputError(f'--between "{text}": is not KEY=LOW:HIGH; write it like rules.NAME.per_point=0:0.05')
    path = Tunable(loaded, title, name).path
    item = next((item for item in tunables if item.path == path), None)
    if item is None:
        raise InputError(f"--between {name}: bounds a number that is not tuned; name it with --by as well")
    item.between(*bounds)
    return item


def redesign(
    loaded: Loaded, title: str | None, reach: Sequence[Aim], by: Sequence[str] = (STRENGTH,), *,
    keep: Sequence[Aim] = (), between: Sequence[str] = (), against: Against = NEWCOMERS,
    observer: Observer | None = None, shown: Sequence[str] = (),
) -> Redesign:  # fmt: skip
    """The least change of several numbers that reaches every target and keeps every bound; or the best compromise.

    Parameters
    ----------
    shown
        Further figures to tell, before and after.

    Raises
    ------
    InputError
        As `bench_of`; or if a figure is not defined for the present design.
    """
    aims = (*reach, *keep)
    bench = bench_of(loaded, title, by, [aim.name for aim in aims], between=between, against=against, observer=observer)
    here = bench.figures(np.zeros(len(bench.tunables)))
    for aim in aims:
        if math.isnan(here[bench.names.index(aim.name)]):
            raise InputError(f"{aim}: {aim.name} is not defined for this title; choose another result")
    bench.expected = _MOST_OFTEN * (len(bench.tunables) + 1)
    u = _least_change(bench, aims)
    reached = _reached(bench, aims, u)
    fight: tuple[Aim, ...] = ()
    if not reached and len(aims) > 1:
        others = {aim: tuple(other for other in aims if other is not aim) for aim in aims}
        fight = tuple(aim for aim, rest in others.items() if _reached(bench, rest, _least_change(bench, rest, u, 2)))
    bench.observer.ended()
    values = bench.values(u)
    lines, changes = lines_of(bench.tunables, values)
    told = tuple(dict.fromkeys((*bench.names, *shown)))
    was, will_be = (Figures(item, bench.title, against) for item in (loaded, set_all(bench.tunables, values)))
    return Redesign(
        loaded, bench.title, tuple(reach), tuple(keep), tuple(item.key for item in bench.tunables),
        tuple(bench.before.tolist()), tuple(values), tuple(item.low for item in bench.tunables),
        tuple(item.high for item in bench.tunables), dict(was.items(told)), dict(will_be.items(told)), reached, fight,
        lines, changes,
    )  # fmt: skip


def is_for_one(
    reach: Sequence[str], by: Sequence[str], keep: Sequence[str] = (), between: Sequence[str] = ()
) -> bool:  # fmt: skip
    """Whether one number and one headline result are asked for, which is solved to the last digit (see `tune`)."""
    headline = all(re.split(r"[<>=]", text)[0].strip().partition(".")[0] not in (EFFECTIVE, HOLDING_BACK)
                   for text in (*reach, *keep))  # fmt: skip
    return len(reach) == len(by) == 1 and not between and headline


def _missed(bench: Bench, aims: Sequence[Aim], u: Array) -> Array:
    found = dict(zip(bench.names, bench.figures(u).tolist(), strict=True))
    return np.array([aim.missed(found[aim.name]) for aim in aims])


def _reached(bench: Bench, aims: Sequence[Aim], u: Array) -> bool:
    return bool(np.all(np.abs(_missed(bench, aims, u)) <= REACHED))


def _least_change(bench: Bench, aims: Sequence[Aim], begin: Array | None = None, first: int = 0) -> Array:
    """Scaled values that miss the aims least, and among those the ones nearest to the present design."""
    size = np.array([_POINT if is_share(aim.name) else _SHARE * max(abs(aim.value), 1.0) for aim in aims])
    u = np.zeros(len(bench.tunables)) if begin is None else begin
    for weight in _STAGES[first:]:
        u = _settle(bench, aims, u, weight, 1.0 / size)
    return u


def _settle(bench: Bench, aims: Sequence[Aim], u: Array, weight: float, worth: Array) -> Array:
    """Steps of bounded linear least squares until nothing is gained, for one weight of the change."""

    def cost(u: Array) -> float:
        found = worth * _missed(bench, aims, u)
        return math.inf if np.isnan(found).any() else float(found @ found + weight * (u @ u))

    now, longest = cost(u), _FIRST_STEP
    for _ in range(_STEPS):
        step_of = _linear(bench, aims, u, weight, worth)
        while True:
            step = step_of(longest)
            after = cost(u + step)
            if after < now or longest < _SHORTEST or float(np.abs(step).max()) < _LEAST_STEP:
                break
            longest /= 4.0
        if not after < now:
            return u
        gained = now - after
        u, now, longest = u + step, after, min(2.0 * longest, 4.0)
        if gained <= _GAIN * now or float(np.abs(step).max()) < _LEAST_STEP:
            break
    return u


def _linear(
    bench: Bench, aims: Sequence[Aim], u: Array, weight: float, worth: Array
) -> Callable[[float], Array]:  # fmt: skip
    """The step that the linearised problem asks for, no number moved by more than a given distance."""
    places = [bench.names.index(aim.name) for aim in aims]
    slopes = worth[:, None] * bench.slopes(u)[places]
    off = worth * (bench.figures(u)[places] - np.array([aim.value for aim in aims]))
    # A bound that is kept with room to spare has a slack of its own, which cannot be negative.
    bounds = [place for place, aim in enumerate(aims) if aim.sign != "="]
    slack = np.zeros((len(aims), len(bounds)))
    for column, place in enumerate(bounds):
        slack[place, column] = -1.0 if aims[place].sign == ">=" else 1.0
    numbers, root = len(u), math.sqrt(weight)
    matrix = np.block([[slopes, slack], [root * np.eye(numbers), np.zeros((numbers, len(bounds)))]])
    wanted = np.concatenate([-off, -root * u])

    def step(longest: float) -> Array:
        low, high = np.maximum(bench.low - u, -longest), np.minimum(bench.high - u, longest)
        low, high = np.minimum(low, -1e-300), np.maximum(high, 1e-300)
        found = optimize.lsq_linear(
            matrix, wanted, (np.concatenate([low, np.zeros(len(bounds))]),
                             np.concatenate([high, np.full(len(bounds), np.inf)])), method="bvls", tol=1e-15,
        )  # fmt: skip
        moved: Array = np.clip(found.x[:numbers], bench.low - u, bench.high - u)
        return moved

    return step
