"""The recommendation: the strength that earns most among those that keep fairness and retention, and how sure it is.

How sure: replications are shared between strengths, so their results form rows of paired values. With the usual
reference prior, what the rows say about the true means is a multivariate Student t (Gelman et al., Bayesian Data
Analysis, 3rd ed., section 3.6); the chance that the choice is right is the share of draws from it in which the chosen
strength again earns most among those that keep the floors.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from venue.study.point import Point

_DRAWS = 20_000


@dataclass(frozen=True)
class Floors:
    """What a setting must keep: least `better_side_wins` and least `return_28d`, as shares."""

    better_side_wins: float
    return_28d: float


@dataclass(frozen=True)
class Best:
    """The recommended strength, None when no strength keeps the floors; the chance that it is right; the reason."""

    strength: float | None
    chance_right: float | None
    why: str


def choose(points: Sequence[Point], floors: Floors, seed: int) -> Best:
    """Recommend one of the strengths studied."""
    judged = {"better_side_wins": floors.better_side_wins, "return_28d": floors.return_28d}
    known = {
        name: floor
        for name, floor in judged.items()
        if all(not math.isnan(value) for point in points for value in point.values(name))
    }
    unknown = [name for name in judged if name not in known]
    rows = np.array([[point.values(name) for name in ("credits_per_hour", *known)] for point in points])
    means = rows.mean(axis=2)
    allowed = _allowed(means, list(known.values()))
    aside = f" ({' and '.join(unknown)} could not be judged: no replication could tell)" if unknown else ""
    if not allowed.any():
        return Best(None, None, _nothing(points, means, known) + aside)
    earned = np.where(allowed, means[:, 0], -np.inf)
    pick = int(np.argmax(earned))
    sure = _chance_right(rows, list(known.values()), pick, seed) if rows.shape[2] > 1 else None
    kept = ", ".join(
        f"{name} {means[pick, 1 + index]:.3f} (floor {floor:g})" for index, (name, floor) in enumerate(known.items())
    )
    why = f"most credits per open hour ({means[pick, 0]:.2f})"
    refused = [point.strength for point, ok in zip(points, allowed, strict=True) if not ok]
    if refused:
        why += f" of the strengths that keep the floors; {_listed(refused)} {'do' if len(refused) > 1 else 'does'} not"
    else:
        why += "; every strength keeps the floors"
    why += f": {kept}{aside}" if kept else aside
    if sure is not None:
        why += f"; the chance that this is the right one of the {len(points)} is {sure:.2f}"
        rival = _rival(rows, allowed, pick)
        if sure < 0.9 and rival is not None:
            why += f", the closest rival being {points[rival].strength:g}; more replications would tell them apart"
    else:
        why += "; one replication cannot say how sure this is"
    return Best(points[pick].strength, sure, why)


def _allowed(means: NDArray[np.float64], floors: Sequence[float]) -> NDArray[np.bool_]:
    """Which points keep every floor; `means` has shape (..., points, measures), credits first."""
    ok: NDArray[np.bool_] = np.all(means[..., 1:] >= np.asarray(floors), axis=-1)
    return ok


def _chance_right(rows: NDArray[np.float64], floors: Sequence[float], pick: int, seed: int) -> float:
    """Share of posterior draws in which the same point would be picked. `rows`: (points, measures, replications)."""
    count = rows.shape[2]
    generator = np.random.default_rng([seed, count])
    means = rows.mean(axis=2)
    centred = rows - means[..., None]
    normals = generator.standard_normal((_DRAWS, count)) @ np.moveaxis(centred, 2, 0).reshape(count, -1)
    # sum of z_i (x_i - mean) has covariance (n - 1) S; divided by sqrt(n (n-1)) and by a chi it is a t of scale S/n.
    chi = np.sqrt(generator.chisquare(count - 1, _DRAWS) / (count - 1))
    draws = means + (normals / math.sqrt(count * (count - 1)) / chi[:, None]).reshape(_DRAWS, *means.shape)
    earned = np.where(_allowed(draws, floors), draws[..., 0], -np.inf)
    best = (earned == earned.max(axis=1, keepdims=True)) & np.isfinite(earned)
    # Settings that earn the same to the last bit are each as right as the others.
    return float(np.mean(best[:, pick] / np.maximum(best.sum(axis=1), 1)))


def _rival(rows: NDArray[np.float64], allowed: NDArray[np.bool_], pick: int) -> int | None:
    """The other allowed point whose paired difference from the pick is least against its noise."""
    best, found = math.inf, None
    for index in np.flatnonzero(allowed):
        if index != pick:
            difference = rows[pick, 0] - rows[index, 0]
            distance = difference.mean() / max(float(difference.std(ddof=1)), 1e-12)
            if distance < best:
                best, found = distance, int(index)
    return found


def _nothing(points: Sequence[Point], means: NDArray[np.float64], floors: dict[str, float]) -> str:
    parts = []
    for index, (name, floor) in enumerate(floors.items()):
        best = int(np.argmax(means[:, 1 + index]))
        if means[best, 1 + index] < floor:
            parts.append(
                f"{name} reaches {means[best, 1 + index]:.3f} at most, at strength {points[best].strength:g}, "
                f"below its floor {floor:g}"
            )
    if not parts:
        parts.append("each floor is kept by some strength, but no strength keeps all of them")
    return "no strength keeps the floors: " + "; ".join(parts)


def _listed(values: Sequence[float]) -> str:
    return ", ".join(f"{value:g}" for value in values)
