"""The recommendation: the setting that earns most among those that keep fairness and retention, and how sure it is.

How sure: the share of joint draws of all means (`venue.study.posterior`) in which the same setting earns most among
those that keep the floors.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from venue.study.floors import Floors, Keep
from venue.study.intervals import LEVEL, Estimate, paired
from venue.study.point import Point
from venue.study.posterior import draw_means, shares_of_best
from venue.study.ranking_selection import Selection

# Above this chance the choice needs no word on its rivals.
_SURE = 0.9
_MOST_LISTED = 6


@dataclass(frozen=True)
class Best:
    """The recommended setting.

    Attributes
    ----------
    strength
        Its strength; None when no setting keeps the floors.
    chance_right
        The chance that it is the right one; None where that cannot be said.
    why
        The reason.
    place
        Its place among the points.
    rivals
        Places of those that keep the floors and cannot be told apart from it in credits per open hour.
    """

    strength: float | None
    chance_right: float | None
    why: str
    place: int | None = None
    rivals: tuple[int, ...] = ()


def choose(points: Sequence[Point], floors: Floors, seed: int) -> Best:
    """Recommend one of the settings studied, by the replications that all of them have."""
    word = "strength" if not points[0].at else "setting"
    judged = floors.all()
    names = ("credits_per_hour", *(keep.measure for keep in judged))
    common = min(len(point.replications) for point in points)
    every = np.array([[point.values(name)[:common] for name in names] for point in points])
    told = ~np.isnan(every).all(axis=2).any(axis=0)
    known = [keep for index, keep in enumerate(judged, 1) if told[index]]
    aside = "".join(
        f" ({keep.measure} could not be judged: no replication could tell)" for keep in judged if keep not in known
    )
    rows = every[:, told]
    rows = rows[:, :, ~np.isnan(rows).any(axis=(0, 1))]  # what one replication could not tell is left out of all
    if rows.shape[2] == 0:
        return Best(None, None, f"no replication could tell enough of every {word} to judge it")
    means = rows.mean(axis=2)
    allowed = _allowed(means, known)
    if not allowed.any():
        return Best(None, None, _nothing(points, means, known, word) + aside)
    pick = int(np.argmax(np.where(allowed, means[:, 0], -np.inf)))
    best = points[pick]
    why = f"most credits per open hour ({means[pick, 0]:.2f})"
    if len(points) > 1 and np.ptp(rows[:, 0], axis=0).max() == 0.0:
        why = f"the same credits per open hour at every {word} ({means[pick, 0]:.2f}): it makes no difference"
        if word == "strength":
            why = why.replace("it makes", "strength makes")
    refused = [point.label for point, ok in zip(points, allowed, strict=True) if not ok]
    if refused:
        why += f" of the {word}s that keep the floors"
    elif known:
        why += f"; every {word} keeps the floors"
    kept = ", ".join(
        f"{keep.measure} {means[pick, 1 + index]:.3f} ({keep.word} {keep.bound:g})" for index, keep in enumerate(known)
    )
    why += f": {kept}{aside}" if kept else aside
    if refused:
        why += f"; {_listed(refused, word)} {'do' if len(refused) > 1 else 'does'} not keep them"
    if rows.shape[2] == 1:
        return Best(best.strength, None, why + "; one replication cannot say how sure this is", pick)
    draws = draw_means(rows, seed)
    chances = shares_of_best(np.where(_allowed(draws, known), draws[..., 0], -np.inf))
    sure = float(chances[pick])
    if len(points) > 1:
        why += f"; the chance that this is the right one of the {len(points)} is {sure:.2f}"
        if sure < _SURE:
            why += _doubt(points, rows, allowed, chances, pick)
    return Best(best.strength, sure, why, pick, _rivals(rows[:, 0], np.flatnonzero(allowed).tolist(), pick))


def _rivals(earned: NDArray[np.float64], allowed: Sequence[int], pick: int) -> tuple[int, ...]:
    """Those whose paired interval of the difference reaches over nought; the intervals hold together for all of them
    (Bonferroni; multiple comparisons with the best, Nelson & Matejcik 1995, Management Science 41(12))."""
    others = [place for place in allowed if place != pick]
    level = 1 - (1 - LEVEL) / max(len(others), 1)
    found = []
    for place in others:
        ahead = paired(earned[pick].tolist(), earned[place].tolist(), level)
        if ahead is not None and not ahead.low > 0:
            found.append(place)
    return tuple(found)


def fairer_tie(ties: Mapping[int, tuple[Estimate | None, Estimate | None]]) -> int | None:
    """Of rivals of the recommended setting the one nearest to it in take that is surely fairer; None if none is.

    A rival whose own interval says that it earns less does not count, though those for all together may not say so.

    Parameters
    ----------
    ties
        By place: what each earns, and what share of contests its better side wins, less the recommended setting's.
    """
    found = [
        (take.mean, place)
        for place, (take, fair) in ties.items()
        if take is not None and fair is not None and fair.low > 0 and take.high >= 0
    ]
    return max(found)[1] if found else None


def allowed_places(points: Sequence[Point], floors: Floors) -> list[int]:
    """Places of the settings whose means keep every floor that could be judged, and whose take could be told."""
    found = []
    for place, point in enumerate(points):
        measures = point.measures()
        judged = [keep for keep in floors.all() if keep.measure in measures]
        if "credits_per_hour" in measures and all(
            bool(keep.kept(np.array(measures[keep.measure].mean))) for keep in judged
        ):
            found.append(place)
    return found


def assured(points: Sequence[Point], best: Best, selection: Selection) -> Best:
    """The recommendation of a selection, which says how sure it is by its own right."""
    place = selection.chosen
    if place is None:
        return best
    earned = float(np.mean(points[place].values("credits_per_hour")))
    asked, count = selection.assurance, len(selection.candidates)
    among = "all settings" if count == len(points) else f"the {count} of {len(points)} settings that keep the floors"
    own = sum(selection.replications[candidate] for candidate in selection.candidates)
    why = (
        f"most credits per open hour ({earned:.2f}) of {among}; with a chance of at least {asked.sure:g} none of them "
        f"earns more by {asked.worth:g} or more (Kim and Nelson's procedure, {own} replications in all; Rinott's, on "
        f"visitors of their own, would have taken {sum(selection.rinott)})"
    )
    return Best(points[place].strength, asked.sure, why, place, ())


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
    name = points[rival].label
    if not allowed[rival]:
        return f"; {name} misses a floor by so little that more replications might let it in"
    if ahead.mean > ahead.half_width:
        return f"; {name} earns {ahead.mean:.2f} less, but a floor is only just kept here"
    return (
        f"; {name} earns {ahead.mean:.2f} ± {ahead.half_width:.2f} less, so that either will do, or more replications "
        "tell them apart"
    )


def _allowed(means: NDArray[np.float64], keeps: Sequence[Keep]) -> NDArray[np.bool_]:
    """Which points keep every floor; `means` has shape (..., points, measures), credits first."""
    ok = np.ones(means.shape[:-1], dtype=bool)
    for index, keep in enumerate(keeps, 1):
        ok &= keep.kept(means[..., index])
    return ok


def _nothing(points: Sequence[Point], means: NDArray[np.float64], keeps: Sequence[Keep], word: str) -> str:
    parts = []
    for index, keep in enumerate(keeps, 1):
        values = means[:, index]
        near = int(np.argmin(values) if keep.most else np.argmax(values))
        if not keep.kept(values).any():
            ends = ("least", "above") if keep.most else ("most", "below")
            parts.append(
                f"{keep.measure} reaches {values[near]:.3f} at {ends[0]}, at {points[near].name}, {ends[1]} its "
                f"{keep.word} {keep.bound:g}"
            )
    if not parts:
        parts.append(f"each floor is kept by some {word}, but no {word} keeps all of them")
    return f"no {word} keeps the floors: " + "; ".join(parts)


def _listed(labels: Sequence[str], word: str) -> str:
    if word != "strength" and len(labels) > _MOST_LISTED:
        return f"{len(labels)} of them"
    return (", " if word == "strength" else "; ").join(labels)
