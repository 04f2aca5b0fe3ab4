"""Which inputs a function of several numbers depends on: elementary effects and shares of the variance.

Elementary effects: Morris 1991, Technometrics 33(2), with the mean of absolute effects of Campolongo, Cariboni &
Saltelli 2007, Environmental Modelling & Software 22(10). Variance shares: Sobol' 2001, Mathematics and Computers in
Simulation 55, by the estimators of Saltelli et al. 2010, Computer Physics Communications 181(2). Both as SALib computes
them.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from SALib.analyze import morris as analyze_morris
from SALib.analyze import sobol as analyze_sobol
from SALib.sample import morris as sample_morris
from SALib.sample import sobol as sample_sobol

Array = NDArray[np.float64]
Bounds = Sequence[tuple[float, float]]
# Points, shape (runs, numbers), to results, shape (runs, outputs).
Evaluate = Callable[[Array], Array]

_LEVELS = 4


@dataclass(frozen=True)
class Effects:
    """Effect of moving a number over its whole range, for each output and number: shape (outputs, numbers).

    Attributes
    ----------
    mean
        Mean effect, with its sign.
    size
        Mean of the effects' absolute values.
    half_width
        Half of the 95 % interval of `size`, by resampling trajectories.
    spread
        Standard deviation of the effects: how much they depend on where the other numbers stand.
    """

    mean: Array
    size: Array
    half_width: Array
    spread: Array


@dataclass(frozen=True)
class Shares:
    """Shares of the variance of one output, by number: alone, with all its interplay, and half of their intervals."""

    first: Array
    total: Array
    first_half_width: Array
    total_half_width: Array


def _problem(bounds: Bounds) -> dict[str, Any]:
    return {
        "num_vars": len(bounds),
        "names": [f"x{place}" for place in range(len(bounds))],
        "bounds": [list(pair) for pair in bounds],
    }


def elementary_effects(bounds: Bounds, evaluate: Evaluate, *, trajectories: int, seed: int) -> Effects:
    """Elementary effects of each number on each output; takes trajectories x (numbers + 1) runs."""
    problem = _problem(bounds)
    points = sample_morris.sample(problem, N=trajectories, num_levels=_LEVELS, seed=seed)
    results = evaluate(points)
    found = []
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # unknown outputs are NaN throughout
        for output in results.T:
            answer = analyze_morris.analyze(problem, points, output, num_levels=_LEVELS, seed=seed)
            found.append([np.asarray(answer[name], dtype=float) for name in ("mu", "mu_star", "mu_star_conf", "sigma")])
    return Effects(*np.moveaxis(np.array(found), 1, 0))


def variance_shares(bounds: Bounds, evaluate: Evaluate, *, samples: int, seed: int) -> list[Shares]:
    """Shares of the variance of each output; takes samples x (numbers + 2) runs, `samples` a power of 2."""
    problem = _problem(bounds)
    points = sample_sobol.sample(problem, samples, calc_second_order=False, seed=seed)
    results = evaluate(points)
    found = []
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        for output in results.T:
            answer = analyze_sobol.analyze(problem, output, calc_second_order=False, seed=seed)
            found.append(
                Shares(*(np.asarray(answer[name], dtype=float) for name in ("S1", "ST", "S1_conf", "ST_conf")))
            )
    return found
