"""The front of two aims of a title: designs of which none is better in both, from the best in one to the best in the
other.

Each design between the ends is the best in the second aim among those that have at least so much of the first (the
constraint method: Miettinen 1999, Nonlinear Multiobjective Optimization, ch. 3.2), found by SciPy's SLSQP.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy import optimize

from venue import __version__
from venue.errors import InputError
from venue.scenario.load import Loaded
from venue.study.line_ups import NEWCOMERS, Against
from venue.study.observer import Observer
from venue.study.redesign import Array, Bench, bench_of
from venue.study.strengths import STRENGTH
from venue.study.title_figures import Aim
from venue.study.title_records import DesignFrontRecord
from venue.study.tunable import lines_of

POINTS = 5
# Figures nearer than this are the same; what an end may give up of its own aim for the other's sake.
_SAME = 1e-6
_TOLERANCE = 1e-10
# Digits of a number against its present size that are worth writing down.
_DIGITS = 4
# Designs that a search takes most often, for each number and one more.
_MOST_OFTEN = 12


@dataclass(frozen=True)
class Wish:
    """A figure of which more is better, or less."""

    name: str
    more: bool

    def __str__(self) -> str:
        return f"{'more' if self.more else 'less'} {self.name}"

    @property
    def sign(self) -> float:
        """1 where more is better, -1 where less is."""
        return 1.0 if self.more else -1.0


@dataclass(frozen=True)
class FrontDesign:
    """One design of the front.

    Attributes
    ----------
    values
        Its numbers, in the order of the keys.
    figures
        The two figures, in the order of the wishes.
    lines
        What to put into the scenario for it.
    changes
        The same as `--set` texts.
    """

    values: tuple[float, ...]
    figures: tuple[float, float]
    lines: str
    changes: tuple[str, ...]


@dataclass(frozen=True)
class DesignFront:
    """Designs of which none is better in both wishes, from the one that has least of the first.

    Attributes
    ----------
    keys, before
        The numbers that were turned, and what they are.
    today
        The two figures as the scenario stands.
    gain
        What could be had more of each figure without losing any of the other; as improvements, never below 0.
    """

    loaded: Loaded
    title: str
    wishes: tuple[Wish, Wish]
    keep: tuple[Aim, ...]
    keys: tuple[str, ...]
    before: tuple[float, ...]
    today: tuple[float, float]
    gain: tuple[float, float]
    designs: tuple[FrontDesign, ...]

    @property
    def record(self) -> DesignFrontRecord:
        """All of it as plain data, typed."""
        return DesignFrontRecord.model_validate(
            {
                "kind": "design front",
                "scenario": self.loaded.source,
                "version": __version__,
                "title": self.title,
                "wishes": [{"figure": wish.name, "more": wish.more} for wish in self.wishes],
                "keep": [str(aim) for aim in self.keep],
                "keys": list(self.keys),
                "before": list(self.before),
                "today": list(self.today),
                "gain": list(self.gain),
                "designs": [
                    {"values": list(item.values), "figures": list(item.figures), "lines": item.lines,
                     "changes": list(item.changes)}
                    for item in self.designs
                ],
            }
        )  # fmt: skip

    def to_dict(self) -> dict[str, Any]:
        """Plain data, as `venue tune --json` prints it."""
        return self.record.plain()


def design_front(
    loaded: Loaded, title: str | None, wishes: Sequence[Wish], by: Sequence[str] = (STRENGTH,), *,
    keep: Sequence[Aim] = (), between: Sequence[str] = (), against: Against = NEWCOMERS,
    observer: Observer | None = None,
) -> DesignFront:  # fmt: skip
    """The front of two wishes over the numbers that may be turned.

    Raises
    ------
    InputError
        As `redesign`; if there are not two wishes; or if the bounds cannot be kept.
    """
    if len(wishes) != 2 or wishes[0].name == wishes[1].name:
        raise InputError("--more, --less: a front is of two results; name two, like --more close_finishes --more "
                         "skill_edge")  # fmt: skip
    first, second = wishes
    names = [first.name, second.name, *(aim.name for aim in keep)]
    bench = bench_of(loaded, title, by, names, between=between, against=against, observer=observer)
    bench.expected = _MOST_OFTEN * (POINTS + 2) * (len(bench.tunables) + 1)
    start = np.zeros(len(bench.tunables))
    here = bench.figures(start)
    undefined = [name for name, value in zip(bench.names, here.tolist(), strict=True) if math.isnan(value)]
    if undefined:
        raise InputError(f"{undefined[0]} is not defined for this title; choose another result")
    search = _Search(bench, keep)
    ends = [search.end(second, first, start), search.end(first, second, start)]
    low, high = (first.sign * search.figure(first, u) for u in ends)
    found = [ends[0]]
    if high - low > _SAME:
        for share in np.linspace(0.0, 1.0, POINTS)[1:-1].tolist():
            least = Aim(first.name, ">=" if first.more else "<=", first.sign * (low + share * (high - low)))
            found.append(search.best(second, (1.0 - share) * ends[0] + share * ends[1], least))
        found.append(ends[1])
    gain = []
    for mine, other in ((first, second), (second, first)):
        held = Aim(other.name, ">=" if other.more else "<=", search.figure(other, start))
        more = mine.sign * (search.figure(mine, search.best(mine, start, held)) - search.figure(mine, start))
        gain.append(max(0.0, more))
    bench.observer.ended()
    return DesignFront(
        loaded, bench.title, (first, second), tuple(keep), tuple(item.key for item in bench.tunables),
        tuple(bench.before.tolist()), (search.figure(first, start), search.figure(second, start)),
        (gain[0], gain[1]), tuple(_design(bench, search, first, second, search.rounded(u)) for u in found),
    )  # fmt: skip


def _design(bench: Bench, search: _Search, first: Wish, second: Wish, u: Array) -> FrontDesign:
    values = bench.values(u)
    figures = search.figure(first, u), search.figure(second, u)
    return FrontDesign(tuple(values), figures, *lines_of(bench.tunables, values))


class _Search:
    """The best design for a wish, bounds kept."""

    def __init__(self, bench: Bench, keep: Sequence[Aim]) -> None:
        self._bench, self._keep = bench, tuple(keep)

    def figure(self, wish: Wish, u: Array) -> float:
        """A wish's figure at scaled values."""
        return float(self._bench.figures(u)[self._bench.names.index(wish.name)])

    def end(self, wish: Wish, other: Wish, start: Array) -> Array:
        """The best design for one wish; of those that are as good, the best for the other."""
        u = self.best(wish, start)
        held = Aim(wish.name, ">=" if wish.more else "<=", self.figure(wish, u) - wish.sign * _SAME)
        return self.best(other, u, held)

    def rounded(self, u: Array) -> Array:
        """Scaled values with fewer digits, where the bounds are kept with them too."""
        short: Array = np.clip(np.round(u, _DIGITS), self._bench.low, self._bench.high)
        return short if all(self._room(aim, short) >= 0.0 for aim in self._keep) else u

    def best(self, wish: Wish, start: Array, *more: Aim) -> Array:
        """The best design for a wish from a start on.

        Raises
        ------
        InputError
            If no design near keeps the bounds.
        """
        bench, place = self._bench, self._bench.names.index(wish.name)
        aims = (*self._keep, *more)
        limits = [
            {
                "type": "ineq",
                "fun": lambda u, aim=aim: self._room(aim, u),
                "jac": lambda u, aim=aim: (
                    (1.0 if aim.sign == ">=" else -1.0) * bench.slopes(u)[bench.names.index(aim.name)]
                ),
            }
            for aim in aims
        ]
        found = optimize.minimize(
            lambda u: -wish.sign * bench.figures(u)[place], start, jac=lambda u: -wish.sign * bench.slopes(u)[place],
            bounds=list(zip(bench.low.tolist(), bench.high.tolist(), strict=True)), constraints=limits, method="SLSQP",
            options={"ftol": _TOLERANCE, "maxiter": 40},
        )  # fmt: skip
        u: Array = np.clip(found.x, bench.low, bench.high)
        kept = {id(aim): self._room(aim, u) >= -1e-6 for aim in aims}
        for aim in self._keep:
            if not kept[id(aim)]:
                raise InputError(f"--keep {aim}: no values of {', '.join(item.key for item in bench.tunables)} keep it "
                                 "that were found; give a wider bound, or more numbers")  # fmt: skip
        better = wish.sign * (bench.figures(u)[place] - bench.figures(start)[place]) >= 0.0
        start_kept = all(self._room(aim, start) >= 0.0 for aim in aims)
        return start if start_kept and not (better and all(kept.values())) else u

    def _room(self, aim: Aim, u: Array) -> float:
        off = float(self._bench.figures(u)[self._bench.names.index(aim.name)]) - aim.value
        return off if aim.sign == ">=" else -off
