"""Scenarios compared in pairs: what one changes against another, measure by measure, on the same visitors."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from venue import __version__
from venue.errors import InputError
from venue.scenario.load import Loaded
from venue.study.before import with_time_before
from venue.study.display import Displayed
from venue.study.findings import CompareFindings
from venue.study.floor_records import CompareRecord
from venue.study.horizons import drift, over_weeks
from venue.study.intervals import LEVEL, Estimate, estimate, finite_or_none, paired
from venue.study.judgement import changed, settling_of
from venue.study.point import Point
from venue.study.precision import Goal, Reached, gather
from venue.study.registry import MEASURES
from venue.study.results import measures_of
from venue.study.series import Execution, Series, Variant

_MOST = 50


@dataclass(frozen=True)
class Difference:
    """One measure of a scenario less the same of the first.

    Attributes
    ----------
    measure, unit
        Which one, and its unit.
    base, other
        Mean in the first scenario and in this one, over replications that tell both.
    estimate
        The difference, other less base, with its paired interval.
    variance_ratio
        Variance of the difference if the two were run on visitors of their own, over its variance on common visitors:
        so many times more independent replications would be as precise. Infinite where the difference never varies,
        NaN with one replication.
    """

    measure: str
    unit: str
    base: float
    other: float
    estimate: Estimate
    variance_ratio: float

    @property
    def told_apart(self) -> bool:
        """Whether the interval leaves no doubt about the sign."""
        return self.estimate.low > 0 or self.estimate.high < 0

    @property
    def change(self) -> float:
        """The difference as a share of the first scenario's mean; NaN where that is nil."""
        return self.estimate.mean / abs(self.base) if self.base else math.nan


@dataclass(frozen=True)
class Comparison:
    """One scenario against the first: its name and differences, those told apart before the others, largest first."""

    name: str
    differences: tuple[Difference, ...]


@dataclass(frozen=True)
class CompareResult(Displayed):
    """Scenarios compared on the same visitors.

    Attributes
    ----------
    variants
        The scenarios as they were run.
    names
        What they are called, in the same order.
    points
        Their replications.
    reached
        What came of the precisions asked for.
    """

    variants: tuple[Loaded, ...]
    names: tuple[str, ...]
    points: tuple[Point, ...]
    reached: tuple[Reached, ...] = ()

    @property
    def loaded(self) -> Loaded:
        """The first scenario, which the others are compared with."""
        return self.variants[0]

    @cached_property
    def comparisons(self) -> tuple[Comparison, ...]:
        """Each other scenario against the first."""
        return tuple(
            Comparison(name, differences(self.points[0], point, self.loaded.scenario.venue.money))
            for name, point in zip(self.names[1:], self.points[1:], strict=True)
        )

    @cached_property
    def differences(self) -> pd.DataFrame:
        """Differences from the first scenario, a row a scenario and measure, largest first."""
        rows = [
            {"scenario": item["name"], **row} for item in self.to_dict()["comparisons"] for row in item["differences"]
        ]
        return pd.DataFrame(rows).set_index(["scenario", "measure"])

    @cached_property
    def measures(self) -> pd.DataFrame:
        """Measures of each scenario: mean, 95 % interval (low, high) and unit."""
        rows = [
            {"scenario": item["name"], "measure": measure, **row}
            for item in self.to_dict()["scenarios"]
            for measure, row in item["measures"].items()
        ]
        return pd.DataFrame(rows).set_index(["scenario", "measure"])

    @cached_property
    def findings(self) -> CompareFindings:
        """What may be said of it."""
        first, *others = (settling_of(point, self.loaded.scenario.study.days) for point in self.points)
        changes = tuple(
            changed(item.name, [_plain(row) for row in item.differences], settled, **self._after(point))
            for item, settled, point in zip(self.comparisons, others, self.points[1:], strict=True)
        )
        return CompareFindings(settled=first, changes=changes)

    def _after(self, point: Point) -> dict[str, Any]:
        """What a change brings over the first weeks after it, and whether that still changes."""
        study = self.loaded.scenario.study
        if not study.days_before:
            return {}
        return {
            "over": over_weeks(point, self.points[0], days=study.days),
            "drift": drift(point, self.points[0], days=study.days, level=LEVEL),
        }

    @cached_property
    def record(self) -> CompareRecord:
        """All of it as plain data, typed."""
        study, money = self.loaded.scenario.study, self.loaded.scenario.venue.money
        plain = {
            "kind": "compare",
            "version": __version__,
            "seed": study.seed,
            "before": study.days_before or 0,
            "days": study.days,
            "warm_up": study.warm_up,
            "replications": study.replications,
            "precision": [item.to_dict() for item in self.reached],
            "scenarios": [
                {
                    "name": name,
                    "scenario": loaded.source,
                    "changes": list(loaded.changes),
                    "strength": point.strength,
                    "measures": measures_of(point.measures(), MEASURES, money),
                }
                for name, loaded, point in zip(self.names, self.variants, self.points, strict=True)
            ],
            "comparisons": [
                {
                    "name": item.name,
                    "against": self.names[0],
                    "differences": [_plain(difference) for difference in item.differences],
                }
                for item in self.comparisons
            ],
            "findings": self.findings,
        }
        return CompareRecord.model_validate(plain)

    def to_dict(self) -> dict[str, Any]:
        """Plain data, as `venue compare --json` prints it."""
        return self.record.plain()


def _plain(item: Difference) -> dict[str, Any]:
    return {
        "measure": item.measure,
        "unit": item.unit,
        "base": item.base,
        "other": item.other,
        "difference": item.estimate.mean,
        "low": finite_or_none(item.estimate.low),
        "high": finite_or_none(item.estimate.high),
        "change": finite_or_none(item.change),
        "told_apart": item.told_apart,
        "variance_ratio": finite_or_none(item.variance_ratio),
    }


def names_of(variants: Sequence[Loaded]) -> list[str]:
    """What scenarios are called: by what was changed in them where they are of one file, or else by their files."""
    sources = [loaded.source for loaded in variants]
    names = []
    for loaded in variants:
        stem = Path(loaded.source).stem
        name = stem if [Path(source).stem for source in set(sources)].count(stem) == 1 else loaded.source
        shared = variants[0].changes if loaded.source == sources[0] else ()
        own = loaded.changes[len(shared) :] if loaded.changes[: len(shared)] == shared else loaded.changes
        names.append("; ".join(own) if own and loaded.source == sources[0] else name)
    return names


def compare(
    variants: Sequence[Loaded], names: Sequence[str], execution: Execution | None = None, *, goal: Goal | None = None
) -> CompareResult:
    """Run scenarios on the same visitors. Seed, days, warm-up and replications of the first hold for all.

    A precision holds for the differences; a relative one is a share of the first scenario's mean.

    Raises
    ------
    InputError
        If there are fewer than two, or two that are the same.
    """
    if len(variants) < 2:
        raise InputError(
            "compare: there is one scenario, at least 2 are needed; name another file, or change it with "
            "--set KEY=VALUE"
        )
    if len(variants) > _MOST:
        raise InputError(f"compare: there are {len(variants)} scenarios, at most {_MOST} fit; leave some out")
    execution = execution or Execution()
    first, _ = with_time_before(variants[0], execution)
    study = first.scenario.study
    before = None if study.before is None else study.before.model_dump(exclude_none=True)
    alike = [
        loaded.change(
            seed=study.seed, days=study.days, warm_up=study.warm_up, replications=study.replications, before=before
        )
        for loaded in (first, *variants[1:])
    ]
    for place, loaded in enumerate(alike):
        twin = next((other for other in range(place) if alike[other].scenario == loaded.scenario), None)
        if twin is not None:
            raise InputError(
                f'compare: "{names[twin]}" and "{names[place]}" hold the same scenario; change one with --set KEY=VALUE'
            )
    goal = goal or Goal()
    compared = [
        Variant(loaded, (("scenario", name),), first.scenario) for loaded, name in zip(alike, names, strict=True)
    ]
    with Series(compared, execution, kind="compare") as series:
        points, reached = gather(
            series, goal.precisions, start=study.replications, ceiling=goal.at_most, intervals=_of_differences
        )
    run = tuple(loaded.change(replications=len(points[0].replications)) for loaded in alike)
    return CompareResult(run, tuple(names), tuple(points), reached)


def _of_differences(points: Sequence[Point], measure: str) -> list[tuple[str, Estimate | None, float]]:
    """A measure's paired intervals of differences from the first, with the first one's mean."""
    base = points[0].values(measure)
    first = estimate(base)
    mean = first.mean if first else math.nan
    return [(point.label, paired(point.values(measure), base), mean) for point in points[1:]]


def differences(base: Point, other: Point, money: str) -> tuple[Difference, ...]:
    """Every measure that both can tell, those told apart before the others, each group by size of the change."""
    found = []
    for name, measure in MEASURES.items():
        pairs = np.array([base.values(name), other.values(name)])
        known = pairs[:, ~np.isnan(pairs).any(axis=0)]
        estimate = paired(known[1].tolist(), known[0].tolist())
        if estimate is not None:
            before, after = known.mean(axis=1).tolist()
            unit, ratio = measure.unit_in(money), variance_ratio(known[0], known[1])
            found.append(Difference(name, unit, before, after, estimate, ratio))
    return tuple(sorted(found, key=lambda item: (not item.told_apart, -_size(item))))


def variance_ratio(first: np.ndarray[Any, Any], second: np.ndarray[Any, Any]) -> float:
    """How many times smaller common random numbers make the variance of a difference (Law, ch. 11).

    Run independently its variance would be the sum of the two; in pairs it is that of the differences.
    """
    if len(first) < 2:
        return math.nan
    apart, together = float(first.var(ddof=1) + second.var(ddof=1)), float((second - first).var(ddof=1))
    # Values that move in step leave rounding behind; where neither varies there is nothing to save.
    if together <= 1e-24 * max(apart, 1e-300):
        return math.inf if apart > 0 else math.nan
    return apart / together


def _size(item: Difference) -> float:
    return 0.0 if math.isnan(item.change) else abs(item.change)
