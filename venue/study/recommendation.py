"""The recommendation: the setting that earns most among those that surely enough keep the requirements, what choosing
it gives up, and how sure it is.

All of that comes from the same joint draws of all means (`venue.study.posterior`): the chance that a setting keeps the
requirements, what the best setting of a draw that keeps them earns more than the recommended one, and the share of
draws in which the two are the same.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from venue.study.findings import Doubt, Reason
from venue.study.intervals import LEVEL, Estimate, paired
from venue.study.point import Point, difference
from venue.study.posterior import draw_means, losses, shares_of_best
from venue.study.ranking_selection import Selection
from venue.study.registry import TAKE
from venue.study.requirements import Requirement, Requirements

# Above this chance the choice needs no word on its rivals. Invented.
SURE = 0.9
# Invented: a part of what is earned that nobody would change anything for.
_WORTH = 0.01


@dataclass(frozen=True)
class Judged:
    """One requirement as settings keep it.

    Attributes
    ----------
    requirement
        The bound.
    means
        Mean of its measure at each setting, over the replications that tell every measure that is judged; empty where
        no replication could tell it, so that it was not judged.
    chance
        The chance that the recommended setting keeps it; None where that cannot be said.
    """

    requirement: Requirement
    means: tuple[float, ...] = ()
    chance: float | None = None


@dataclass(frozen=True)
class GivenUp:
    """What the choice gives up against whichever setting is truly best, in the unit of the aim.

    Attributes
    ----------
    expected
        Its mean, over the joint draws of all means.
    worth
        A difference that is worth having.
    chance_within
        The chance that the choice gives up no more than that.
    """

    expected: float
    worth: float
    chance_within: float


@dataclass(frozen=True)
class Rival:
    """What speaks against the recommended setting most.

    Attributes
    ----------
    doubt
        What it is.
    place
        The likeliest other setting; None where no other could be right.
    behind
        By how much it takes less, in pairs.
    """

    doubt: Doubt
    place: int | None = None
    behind: Estimate | None = None


@dataclass(frozen=True)
class Best:
    """The recommended setting.

    Attributes
    ----------
    place
        Its place among the points; None where none is recommended.
    strength
        Its strength.
    reason
        Why it is recommended, or why none is.
    chance_right
        The chance that it is the right one; None where that cannot be said.
    rivals
        Places of those that keep the requirements and cannot be told apart from it in take.
    refused
        Places of those that do not keep the requirements surely enough.
    judged
        Every requirement, as settings keep it.
    rival
        What speaks against it, if it is not sure.
    given_up
        What choosing it gives up; None where that cannot be said.
    """

    place: int | None
    strength: float | None
    reason: Reason
    chance_right: float | None = None
    rivals: tuple[int, ...] = ()
    refused: tuple[int, ...] = ()
    judged: tuple[Judged, ...] = ()
    rival: Rival | None = None
    given_up: GivenUp | None = None


def choose(
    points: Sequence[Point], requirements: Requirements, seed: int, *, aim: str = TAKE, worth: float | None = None
) -> Best:  # fmt: skip
    """Recommend one of the settings studied, by the replications that all of them have.

    Parameters
    ----------
    aim
        The measure that is to be as great as can be.
    worth
        A difference in it that is worth having; a hundredth of what the recommended setting earns if unsaid.
    """
    every = requirements.all()
    names = (aim, *(item.measure for item in every))
    common = min(len(point.replications) for point in points)
    values = np.array([[point.values(name)[:common] for name in names] for point in points])
    told = ~np.isnan(values).all(axis=2).any(axis=0)
    known = [item for index, item in enumerate(every, 1) if told[index]]
    rows = values[:, told]
    rows = rows[:, :, ~np.isnan(rows).any(axis=(0, 1))]  # what one replication could not tell is left out of all
    if rows.shape[2] == 0 or not told[0]:
        return Best(None, None, "nothing to judge by", judged=tuple(map(Judged, every)))
    means = rows.mean(axis=2)
    draws = draw_means(rows, seed) if rows.shape[2] > 1 else means[None]
    kept = _keeps(draws, known)
    judged = tuple(
        Judged(item, tuple(means[:, 1 + known.index(item)].tolist()) if item in known else ()) for item in every
    )
    allowed = kept.all(axis=0).mean(axis=0) >= requirements.surely
    refused = tuple(np.flatnonzero(~allowed).tolist())
    if not allowed.any():
        return Best(None, None, "none keeps the requirements", refused=refused, judged=judged)
    pick = int(np.argmax(np.where(allowed, means[:, 0], -np.inf)))
    same = len(points) > 1 and np.ptp(rows[:, 0], axis=0).max() == 0.0
    best = Best(
        pick, points[pick].strength, "same take everywhere" if same else "most take", refused=refused, judged=judged
    )
    if rows.shape[2] == 1:
        return best
    chances = shares_of_best(np.where(kept.all(axis=0), draws[..., 0], -np.inf))
    sure = [float(share) for share in kept[:, :, pick].mean(axis=1)]
    judged = tuple(replace(item, chance=sure[known.index(item.requirement)]) if item.means else item for item in judged)
    doubtful = len(points) > 1 and chances[pick] < SURE
    worth = _WORTH * abs(float(means[pick, 0])) if worth is None else worth
    lost = losses(draws[..., 0], np.logical_and.reduce(kept), pick)
    return replace(
        best,
        chance_right=float(chances[pick]),
        given_up=GivenUp(float(lost.mean()), worth, float(np.mean(lost <= worth))),
        rivals=rivals_of(points, pick, np.flatnonzero(allowed).tolist(), aim),
        judged=judged,
        rival=_rival(rows, allowed, chances, pick) if doubtful else None,
    )


def simultaneous(others: int) -> float:
    """Level of each of so many intervals that hold together at 95 % (Bonferroni; multiple comparisons with the best,
    Nelson & Matejcik 1995, Management Science 41(12))."""
    return 1 - (1 - LEVEL) / max(others, 1)


def rivals_of(points: Sequence[Point], pick: int, allowed: Sequence[int], aim: str = TAKE) -> tuple[int, ...]:
    """Those allowed whose paired interval does not say that they earn less than the one picked; the intervals hold
    together for all settings, though the one picked is the best of the same replications."""
    level = simultaneous(len(points) - 1)
    found = []
    for place in allowed:
        ahead = None if place == pick else difference(points[pick], points[place], aim, level)
        if ahead is not None and not ahead.low > 0:
            found.append(place)
    return tuple(found)


def fairer_tie(ties: Mapping[int, tuple[Estimate | None, Estimate | None]]) -> int | None:
    """Of rivals of the recommended setting the one nearest to it in take that is surely fairer; None if none is.

    A rival whose own interval says that it takes less does not count, though those for all together may not say so.

    Parameters
    ----------
    ties
        By place: take, and share of contests that the better side wins, less the recommended setting's.
    """
    found = [
        (take.mean, place)
        for place, (take, fair) in ties.items()
        if take is not None and fair is not None and fair.low > 0 and take.high >= 0
    ]
    return max(found)[1] if found else None


def allowed_places(points: Sequence[Point], requirements: Requirements) -> list[int]:
    """Places of the settings whose means keep every requirement that could be judged, and whose take is known."""
    found = []
    for place, point in enumerate(points):
        measures = point.measures()
        judged = [item for item in requirements.all() if item.measure in measures]
        if TAKE in measures and all(bool(item.kept(np.array(measures[item.measure].mean))) for item in judged):
            found.append(place)
    return found


def assured(points: Sequence[Point], best: Best, selection: Selection) -> Best:
    """The recommendation of a selection, which says how sure it is by its own right."""
    place = selection.chosen
    if place is None:
        return best
    return Best(
        place, points[place].strength, "assured", selection.assurance.sure, refused=best.refused, judged=best.judged
    )


def _rival(
    rows: NDArray[np.float64], allowed: NDArray[np.bool_], chances: NDArray[np.float64], pick: int
) -> Rival | None:
    """The likeliest other setting, and by how much it takes less."""
    others = np.where(np.arange(len(rows)) == pick, -1.0, chances)
    place = int(np.argmax(others))
    if others[place] <= 0.0:
        return Rival("requirement only just kept")
    behind = paired(rows[pick, 0].tolist(), rows[place, 0].tolist())
    if behind is None:
        return None
    if not allowed[place]:
        return Rival("rival only just misses", place, behind)
    return Rival("take less but surer" if behind.mean > behind.half_width else "not told apart", place, behind)


def _keeps(means: NDArray[np.float64], known: Sequence[Requirement]) -> NDArray[np.bool_]:
    """Which points keep which requirement; from shape (..., points, measures), take first, to (known, ..., points)."""
    found = [item.kept(means[..., index]) for index, item in enumerate(known, 1)]
    return np.array(found) if found else np.ones((1, *means.shape[:-1]), dtype=bool)
