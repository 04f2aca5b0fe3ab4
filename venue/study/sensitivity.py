"""What the answer depends on: every uncertain number of a scenario is moved, always on the same visitors."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
import pandas as pd

from venue import __version__
from venue.errors import InputError, ScenarioError
from venue.scenario.load import Loaded
from venue.study.before import with_time_before
from venue.study.display import Displayed
from venue.study.factors import Factor, factors_of
from venue.study.findings import SensitivityFindings
from venue.study.floor_records import SensitivityRecord
from venue.study.indices import Array, Effects, Shares, elementary_effects, variance_shares
from venue.study.intervals import finite_or_none
from venue.study.judgement import sensitivity_findings
from venue.study.registry import MEASURES, check_measure
from venue.study.series import Execution, Series, Variant

_MOST_RUNS = 100_000


@dataclass(frozen=True)
class Plan:
    """What is moved and how often; see `venue.sensitivity`."""

    measure: str = "credits_per_hour"
    keys: tuple[str, ...] = ()
    spread: float | None = None
    trajectories: int = 4
    shares: int = 4
    samples: int = 32

    def __post_init__(self) -> None:
        check_measure("--measure", self.measure)
        if not 2 <= self.trajectories <= 1000:
            raise InputError(f"--trajectories {self.trajectories}: must lie between 2 and 1000; 4 to 10 are usual")
        if not 0 <= self.shares <= 50:
            raise InputError(f"--shares {self.shares}: must lie between 0 and 50; 0 for none")
        if not 8 <= self.samples <= 65_536 or self.samples & (self.samples - 1):
            raise InputError(f"--samples {self.samples}: must be a power of 2 from 8 to 65536; try 32 or 64")


@dataclass(frozen=True)
class SensitivityResult(Displayed):
    """Which numbers a venue's measures depend on.

    Attributes
    ----------
    loaded
        The scenario in the middle.
    plan
        What was asked for.
    factors
        The numbers moved, the one with the greatest effect on the plan's measure first.
    left_out
        Key paths of numbers that could not be moved.
    effects
        Elementary effects on every measure, in the order of `MEASURES` and of `factors`.
    shares
        Variance shares of the plan's measure for the foremost factors; None if none were asked for.
    runs
        Runs it took.
    """

    loaded: Loaded
    plan: Plan
    factors: tuple[Factor, ...]
    left_out: tuple[str, ...]
    effects: Effects
    shares: Shares | None
    runs: int

    def effects_on(self, measure: str) -> pd.DataFrame:
        """Elementary effects on a measure by number, the greatest first: origin, range, effect with its interval."""
        row = list(MEASURES).index(check_measure("measure", measure))
        frame = pd.DataFrame(
            {
                "number": [factor.key for factor in self.factors],
                "from": [factor.source for factor in self.factors],
                "value": [factor.value for factor in self.factors],
                "low": [factor.low for factor in self.factors],
                "high": [factor.high for factor in self.factors],
                "unit": [factor.unit for factor in self.factors],
                "effect": self.effects.size[row],
                "half_width": self.effects.half_width[row],
                "mean_effect": self.effects.mean[row],
                "spread": self.effects.spread[row],
            }
        )
        return frame.sort_values("effect", ascending=False, kind="stable").set_index("number")

    @cached_property
    def ranking(self) -> pd.DataFrame:
        """Effects on the plan's measure, with the variance shares of the foremost (NaN for the others)."""
        frame = self.effects_on(self.plan.measure)
        for name in ("first", "total", "first_half_width", "total_half_width"):
            known = [] if self.shares is None else getattr(self.shares, name).tolist()
            frame[f"share_{name}"] = known + [math.nan] * (len(self.factors) - len(known))
        return frame

    @cached_property
    def findings(self) -> SensitivityFindings:
        """What may be said of it."""
        return sensitivity_findings(self._numbers)

    @property
    def _numbers(self) -> list[dict[str, Any]]:
        return [
            {str(key): finite_or_none(value) if isinstance(value, float) else value for key, value in row.items()}
            for row in self.ranking.reset_index().to_dict(orient="records")
        ]

    @cached_property
    def record(self) -> SensitivityRecord:
        """All of it as plain data, typed."""
        study = self.loaded.scenario.study
        plain = {
            "kind": "sensitivity",
            "scenario": self.loaded.source,
            "version": __version__,
            "seed": study.seed,
            "strength": study.strength,
            "before": study.days_before or 0,
            "days": study.days,
            "warm_up": study.warm_up,
            "replications": study.replications,
            "measure": self.plan.measure,
            "unit": MEASURES[self.plan.measure].unit,
            "runs": self.runs,
            "numbers": self._numbers,
            "left_out": list(self.left_out),
            "findings": self.findings,
        }
        return SensitivityRecord.model_validate(plain)

    def to_dict(self) -> dict[str, Any]:
        """Plain data, as `venue sensitivity --json` prints it."""
        return self.record.plain()


def sensitivity(loaded: Loaded, plan: Plan, execution: Execution | None = None) -> SensitivityResult:
    """Move every number of a scenario that may be wrong, and see what becomes of its measures.

    Raises
    ------
    InputError
        If there is nothing to move, too much is asked for, or no run can tell the measure.
    """
    factors, left_out = factors_of(loaded, plan.keys, plan.spread)
    foremost = min(plan.shares, len(factors))
    runs = plan.trajectories * (len(factors) + 1) + (plan.samples * (foremost + 2) if foremost else 0)
    if runs > _MOST_RUNS:
        raise InputError(f"sensitivity: would take {runs} runs, at most {_MOST_RUNS} are; name fewer keys or samples")
    row = list(MEASURES).index(plan.measure)
    execution = execution or Execution()
    loaded, _ = with_time_before(loaded, execution)
    seed = loaded.scenario.study.seed
    with Series([], replace(execution, rows=False), kind="sensitivity") as series:
        effects = elementary_effects(
            [(factor.low, factor.high) for factor in factors],
            lambda points: _run(series, loaded, factors, points, runs), trajectories=plan.trajectories, seed=seed,
        )  # fmt: skip
        if np.isnan(effects.size[row]).all():
            raise InputError(
                f"--measure {plan.measure}: could not be told in every run; allow more --days, or name another"
            )
        order = np.argsort(-effects.size[row], kind="stable")
        factors = [factors[place] for place in order]
        effects = Effects(*(getattr(effects, name)[:, order] for name in ("mean", "size", "half_width", "spread")))
        shares = None
        if foremost:
            head = factors[:foremost]
            shares = variance_shares(
                [(factor.low, factor.high) for factor in head],
                lambda points: _run(series, loaded, head, points, runs)[:, row : row + 1],
                samples=plan.samples, seed=seed,
            )[0]  # fmt: skip
    return SensitivityResult(loaded, plan, tuple(factors), tuple(left_out), effects, shares, runs)


def _run(series: Series, loaded: Loaded, factors: Sequence[Factor], points: Array, runs: int) -> Array:
    """Every measure at every further point of a study of so many: shape (points, measures), means over replications."""
    before, replications = len(series.variants), loaded.scenario.study.replications
    series.extend([_variant(loaded, factors, point) for point in points])
    series.reach([replications] * len(series.variants), expected=runs * replications)
    found = series.points()[before:]
    return np.array([[np.mean(point.values(name)) for name in MEASURES] for point in found])


def _variant(loaded: Loaded, factors: Sequence[Factor], point: Array) -> Variant:
    changes = [factor.change(float(value)) for factor, value in zip(factors, point, strict=True)]
    try:
        return Variant(loaded.vary(changes))
    except ScenarioError as error:
        first = error.problems[0]
        raise InputError(
            f"sensitivity: numbers moved together make no scenario: {first.path} {first.what}; try a smaller --spread"
        ) from None
