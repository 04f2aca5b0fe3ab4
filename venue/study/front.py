"""The trade-off between take and fairness: which settings no other beats in both, and what fairness costs along them.

A setting is on the front if no other has both a greater take and more contests won by the better side. How sure that
is: the share of joint draws of all means in which it holds (`venue.study.posterior`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from venue.study.intervals import LEVEL
from venue.study.point import Point
from venue.study.posterior import draw_means

POINT = 0.01
_FEWEST_DRAWS = 500
_MOST_COMPARISONS = 20_000_000


@dataclass(frozen=True)
class FrontPoint:
    """One setting of the trade-off.

    Attributes
    ----------
    place
        Its place among the points.
    fair, earned
        Execution of `better_side_wins` and `credits_per_hour`.
    on_front
        Whether no other setting has greater means in both.
    chance
        The chance of that.
    price
        Credits per open hour that each further percentage point of fairness costs, from here to the next fairer setting
        of the front: middle and ends of its 95 % interval; None where the front ends, or where it is not sure that the
        next one is fairer.
    """

    place: int
    fair: float
    earned: float
    on_front: bool
    chance: float | None
    price: tuple[float, float, float] | None

    def to_dict(self) -> dict[str, Any]:
        """Plain data."""
        return {
            "place": self.place,
            "better_side_wins": self.fair,
            "credits_per_hour": self.earned,
            "on_front": self.on_front,
            "chance": self.chance,
            "price_of_a_point": None
            if self.price is None
            else dict(zip(("mean", "low", "high"), self.price, strict=True)),
        }


def front(points: Sequence[Point], seed: int) -> tuple[FrontPoint, ...]:
    """The trade-off, the fairest setting first; empty where fairness is unknown."""
    common = min(len(point.replications) for point in points)
    names = ("credits_per_hour", "better_side_wins")
    rows = np.array([[point.values(name)[:common] for name in names] for point in points])
    rows = rows[:, :, ~np.isnan(rows).any(axis=(0, 1))]
    if rows.shape[2] == 0:
        return ()
    means = rows.mean(axis=2)
    draws = draw_means(rows, seed) if rows.shape[2] > 1 else None
    on_front = _unbeaten(means[None])[0]
    # Comparing each with each is costly where there are very many; fewer draws will do for a chance.
    enough = max(_FEWEST_DRAWS, _MOST_COMPARISONS // len(points) ** 2)
    chances = None if draws is None else _unbeaten(draws[:enough]).mean(axis=0)
    order = sorted(range(len(points)), key=lambda place: (-means[place, 1], -means[place, 0]))
    members = [place for place in order if on_front[place]]
    fairer = dict(zip(members[1:], members, strict=False))
    return tuple(
        FrontPoint(
            place, float(means[place, 1]), float(means[place, 0]), bool(on_front[place]),
            None if chances is None else float(chances[place]),
            None if draws is None or place not in fairer else _price(draws, place, fairer[place]),
        )
        for place in order
    )  # fmt: skip


def _unbeaten(means: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Which settings no other beats: shape (draws, points, 2) to (draws, points)."""
    found = np.ones(means.shape[:2], dtype=bool)
    for place in range(means.shape[1]):
        mine = means[:, place : place + 1]
        beaten = np.all(means >= mine, axis=2) & np.any(means > mine, axis=2)
        found[:, place] = ~np.any(beaten, axis=1)
    return found


def _price(draws: NDArray[np.float64], place: int, fairer: int) -> tuple[float, float, float] | None:
    lost = draws[:, place, 0] - draws[:, fairer, 0]
    gained = (draws[:, fairer, 1] - draws[:, place, 1]) / POINT
    if np.mean(gained > 0) < (1 + LEVEL) / 2:
        return None
    low, middle, high = np.quantile(lost / gained, [(1 - LEVEL) / 2, 0.5, (1 + LEVEL) / 2]).tolist()
    return middle, low, high
