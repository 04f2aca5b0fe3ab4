"""What the replications leave open about the true means of all settings, drawn jointly.

Replications are shared between settings, so their results form rows of paired values. The means are drawn so that each
mean and each difference of two has the Student t distribution of its paired replications, its posterior under the usual
reference prior (Gelman et al., Bayesian Data Analysis, 3rd ed., section 3.2).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

DRAWS = 20_000
_MOST_NUMBERS = 4_000_000


def draw_means(rows: NDArray[np.float64], seed: int) -> NDArray[np.float64]:
    """Draws of the true means.

    Parameters
    ----------
    rows
        Shape (points, measures, replications), at least two replications.
    seed
        Root of the draws.

    Returns
    -------
    array
        Shape (draws, points, measures); DRAWS, or fewer where very many settings would take too much memory.
    """
    count = rows.shape[2]
    draws = min(DRAWS, max(1000, _MOST_NUMBERS // (rows.shape[0] * rows.shape[1])))
    generator = np.random.default_rng([seed, count])
    means = rows.mean(axis=2)
    centred = rows - means[..., None]
    normals = generator.standard_normal((draws, count)) @ np.moveaxis(centred, 2, 0).reshape(count, -1)
    # sum of z_i (x_i - mean) has covariance (n - 1) S; over sqrt(n (n - 1)) and a chi it is a t of scale S / n.
    chi = np.sqrt(generator.chisquare(count - 1, draws) / (count - 1))
    drawn: NDArray[np.float64] = means + (normals / math.sqrt(count * (count - 1)) / chi[:, None]).reshape(
        draws, *means.shape
    )
    return drawn


def losses(earned: NDArray[np.float64], kept: NDArray[np.bool_], pick: int) -> NDArray[np.float64]:
    """What a choice gives up in each draw: how much more the best of those that keep the requirements there earns.

    The mean over draws is the expected opportunity cost of the choice (Chick & Inoue 2001, "New two-stage and
    sequential procedures for selecting the best simulated system", Operations Research 49(5)).

    Parameters
    ----------
    earned
        Shape (draws, points).
    kept
        Which points keep every requirement, of the same shape.
    pick
        Place of the choice.
    """
    best = np.where(kept, earned, -np.inf).max(axis=1)
    found: NDArray[np.float64] = np.maximum(best - earned[:, pick], 0.0)
    return found


def shares_of_best(earned: NDArray[np.float64]) -> NDArray[np.float64]:
    """Share of draws in which each point earns most; ties are shared, a draw without any finite value is nobody's.

    `earned` has shape (draws, points).
    """
    best = (earned == earned.max(axis=1, keepdims=True)) & np.isfinite(earned)
    shares: NDArray[np.float64] = np.mean(best / np.maximum(best.sum(axis=1, keepdims=True), 1), axis=0)
    return shares
