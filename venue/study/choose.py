"""The recommendation: the strength that earns most among those that keep fairness and retention, and how sure it is.

How sure: replications are shared between strengths, so their results form rows of paired values. The means of all
settings are drawn jointly, so that each mean and each difference of two has the Student t distribution of its paired
replications, its posterior under the usual reference prior; the chance that the choice is right is the share of draws
in which the same strength earns most among those that keep the floors.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from venue.study.intervals import paired
from venue.study.point import Point

_DRAWS = 20_000
# Above this chance the choice needs no word on its rivals.
_SURE = 0.9


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
    names = ("credits_per_hour", *judged)
    every = np.array([[point.values(name) for name in names] for point in points])
    told = ~np.isnan(every).all(axis=2).any(axis=0)
    known = {name: floor for index, (name, floor) in enumerate(judged.items(), 1) if told[index]}
    aside = "".join(f" ({name} could not be judged: no replication could tell)" for name in judged if name not in known)
    rows = every[:, told]
    rows = rows[:, :, ~np.isnan(rows).any(axis=(0, 1))]  # what one replication could not tell is left out of all
    if rows.shape[2] == 0:
        return Best(None, None, "no replication could tell enough of every strength to judge it")
    means = rows.mean(axis=2)
    allowed = _allowed(means, list(known.values()))
    if not allowed.any():
        return Best(None, None, _nothing(points, means, known) + aside)
    earned = np.where(allowed, means[:, 0], -np.inf)
    pick = int(np.argmax(earned))
    why = f"most credits per open hour ({means[pick, 0]:.2f})"
    if len(points) > 1 and np.ptp(rows[:, 0], axis=0).max() == 0.0:
        why = f"the same credits per open hour at every strength ({means[pick, 0]:.2f}): strength makes no difference"
    refused = [point.strength for point, ok in zip(points, allowed, strict=True) if not ok]
    if refused:
        why += f" of the strengths that keep the floors; {_listed(refused)} {'do' if len(refused) > 1 else 'does'} not"
    elif known:
        why += "; every strength keeps the floors"
    kept = ", ".join(
        f"{name} {means[pick, 1 + index]:.3f} (floor {floor:g})" for index, (name, floor) in enumerate(known.items())
    )
    why += f": {kept}{aside}" if kept else aside
    if rows.shape[2] == 1:
        return Best(points[pick].strength, None, why + "; one replication cannot say how sure this is")
    chances = _chances(rows, list(known.values()), seed)
    sure = float(chances[pick])
    if len(points) > 1:
        why += f"; the chance that this is the right one of the {len(points)} is {sure:.2f}"
        if sure < _SURE:
            why += _doubt(points, rows, allowed, chances, pick)
    return Best(points[pick].strength, sure, why)


def _doubt(
    points: Sequence[Point],
    rows: NDArray[np.float64],
    allowed: NDArray[np.bool_],
    chances: NDArray[np.float64],
    pick: int,
) -> str:
    """What speaks for another strength: the likeliest rival, and by how much it earns less."""
    others = np.where(np.arange(len(points)) == pick, -1.0, chances)
    rival = int(np.argmax(others))
    if others[rival] <= 0.0:
        return ", the floors being only just kept"
    ahead = paired(rows[pick, 0].tolist(), rows[rival, 0].tolist())
    if ahead is None:
        return ""
    name = f"{points[rival].strength:g}"
    if not allowed[rival]:
        return f"; {name} misses a floor by so little that more replications might let it in"
    if ahead.mean > ahead.half_width:
        return f"; {name} earns {ahead.mean:.2f} less, but a floor is only just kept here"
    return (
        f"; {name} earns {ahead.mean:.2f} ± {ahead.half_width:.2f} less, so that either will do, or more replications "
        "tell them apart"
    )


def _allowed(means: NDArray[np.float64], floors: Sequence[float]) -> NDArray[np.bool_]:
    """Which points keep every floor; `means` has shape (..., points, measures), credits first."""
    ok: NDArray[np.bool_] = np.all(means[..., 1:] >= np.asarray(floors), axis=-1)
    return ok


def _chances(rows: NDArray[np.float64], floors: Sequence[float], seed: int) -> NDArray[np.float64]:
    """Share of draws in which each point would be picked; ties are shared. `rows`: (points, measures, replications)."""
    count = rows.shape[2]
    generator = np.random.default_rng([seed, count])
    means = rows.mean(axis=2)
    centred = rows - means[..., None]
    normals = generator.standard_normal((_DRAWS, count)) @ np.moveaxis(centred, 2, 0).reshape(count, -1)
    # sum of z_i (x_i - mean) has covariance (n - 1) S; over sqrt(n (n - 1)) and a chi it is a t of scale S / n.
    chi = np.sqrt(generator.chisquare(count - 1, _DRAWS) / (count - 1))
    draws = means + (normals / math.sqrt(count * (count - 1)) / chi[:, None]).reshape(_DRAWS, *means.shape)
    earned = np.where(_allowed(draws, floors), draws[..., 0], -np.inf)
    best = (earned == earned.max(axis=1, keepdims=True)) & np.isfinite(earned)
    shares: NDArray[np.float64] = np.mean(best / np.maximum(best.sum(axis=1, keepdims=True), 1), axis=0)
    return shares


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
