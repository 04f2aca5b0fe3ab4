"""What may be said of a study's results, decided from its replications.

Settings of a sweep are told apart by one rule: the Student t interval of their paired differences from one reference,
wide enough that the intervals of all settings hold together at 95 % (Bonferroni). The reference is the recommended
setting; where none is recommended, today's, or else the first.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any, Literal

import numpy as np

from venue.study.findings import (
    Against,
    Changed,
    Course,
    Direction,
    Drift,
    GivenUp,
    Kept,
    Over,
    SensitivityFindings,
    Settled,
    Settling,
    Stake,
    SweepFindings,
    Tie,
    Today,
)
from venue.study.horizons import drift, horizons
from venue.study.intervals import Estimate, estimate_of
from venue.study.plain import Interval
from venue.study.point import Point, difference
from venue.study.recommendation import SURE, Best, fairer_tie, simultaneous
from venue.study.registry import FAIR, MEASURES, TAKE

# Invented: a change of the take that nobody would call a change.
_STEADY = 0.05
# The measures that a change is judged by, the most important first; the others follow by the size of their change.
IMPORTANCE = (TAKE, "profit_per_week", FAIR, "return_28d", "empty_wallets", "close_finishes")
# What a choice is counted in: what is left to the operator, the take in money, or credits.
_MONEY = ("profit_per_week", "take_per_week", TAKE)
# With fewer replications intervals are wide, and reach beyond what can be. Invented.
FEW = 5
KNOWN_ORIGINS = ("measured", "fitted")


class Weeks:
    """Credits per open hour in the whole weeks of a run.

    What is left of a week at the end is left out: days of the week differ, so that it would speak of them.

    Parameters
    ----------
    rows
        Weeks as plain data; see `venue.study.weeks.gathered`.
    days
        Length of the run.
    """

    def __init__(self, rows: Sequence[Mapping[str, Any]], days: int) -> None:
        whole = [row for row in rows if 7 * row["week"] <= days]
        self.take: list[tuple[float, Estimate]] = [
            (float(row["week"]), found) for row in whole if (found := estimate_of(row.get(TAKE)))
        ]
        self.warm_up = [float(row["week"]) for row in whole if row.get("warm_up")]

    @property
    def counted(self) -> list[Estimate]:
        """The weeks that measures are taken over."""
        return [item for _, item in self.take[len(self.warm_up) :] or self.take]

    @property
    def settling(self) -> Settling:
        """What the weeks say: moving where the intervals of the first and last counted do not meet, settled where they
        do and the means are within 5 % of each other."""
        if len(self.take) < 2:
            return Settling(state="too short")
        first, last = self.counted[0], self.counted[-1]
        state: Settled
        if math.isnan(first.low) or math.isnan(last.low):
            state = "too short"
        elif first.high < last.low or last.high < first.low:
            state = "moving"
        else:
            state = "settled" if abs(last.mean - first.mean) <= _STEADY * abs(first.mean) else "unclear"
        return Settling(state=state, first=Interval.of(first), last=Interval.of(last))


def settling_of(point: Point, days: int) -> Settling:
    """Whether the take of a setting has settled within a run of so many days."""
    return Weeks(point.weeks(), days).settling


def sweep_findings(
    points: Sequence[Point], best: Best, *, today: int | None, days: int, front: Sequence[int], surely: float,
    before: int = 0, aim: str = TAKE,
) -> SweepFindings:  # fmt: skip
    """What may be said of a sweep.

    Parameters
    ----------
    points
        Its settings.
    best
        The recommendation.
    today
        Place of the setting that the scenario stands at, if it was run.
    days
        Length of a run.
    front
        Places on the front of take and fairness.
    before
        Days that the venue has run before.
    surely
        The chance with which a setting had to keep the requirements.
    aim
        What settings are ranked by.
    """
    reference = best.place if best.place is not None else today or 0
    level = simultaneous(len(points) - 1)
    allowed = [place for place in range(len(points)) if place not in best.refused]
    lost = best.given_up
    return SweepFindings(
        aim=aim,
        recommended=best.place,
        reason=best.reason,
        given_up=lost and GivenUp(expected=lost.expected, worth=lost.worth, chance_within=lost.chance_within),
        chance_right=best.chance_right,
        requirements=_requirements(best),
        surely=surely,
        refused=best.refused,
        rival=_against(best),
        reference=reference,
        tie=_tie(points, best, level, aim),
        fairer=_fairer(points, best, aim),
        today=None if today is None else _today(points, best, today, level, aim),
        unaided=_unaided(points, best),
        stake=_stake(points, best, today),
        run_on=len(points) > 1 and (best.chance_right is None or best.chance_right < SURE),
        at_end=_at_end(points, best),
        measures={name: _course(points, reference, name, level) for name in MEASURES},
        settled=tuple(settling_of(point, days) for point in points),
        front=tuple(front),
        horizons=horizons(points, allowed, best.place, days=days, level=level, measure=aim) if before else (),
        drifts=tuple(
            None if place == reference else drift(point, points[reference], days=days, level=level, measure=aim)
            for place, point in enumerate(points)
        ),
    )


def _interval(item: Estimate | None) -> Interval | None:
    return None if item is None else Interval.of(item)


def _requirements(best: Best) -> tuple[Kept, ...]:
    found = []
    for item in best.judged:
        means, bound = np.array(item.means), item.requirement
        near = None if not item.means else int(np.argmin(means) if bound.most else np.argmax(means))
        found.append(
            Kept(
                measure=bound.measure,
                bound=bound.bound,
                most=bound.most,
                places=tuple(np.flatnonzero(bound.kept(means)).tolist()) if item.means else None,
                nearest=near,
                reached=math.nan if near is None else item.means[near],
                chance=item.chance,
            )
        )
    return tuple(found)


def _against(best: Best) -> Against | None:
    item = best.rival
    return None if item is None else Against(doubt=item.doubt, place=item.place, behind=_interval(item.behind))


def numbers_along(points: Sequence[Point]) -> list[float] | None:
    """Where settings stand on the one axis that is swept; None where there are two, or it has no numbers."""
    if any(len(point.where) != 1 or isinstance(point.where[0][1], str) for point in points):
        return None
    return [float(point.where[0][1]) for point in points]


def _tie(points: Sequence[Point], best: Best, level: float, aim: str) -> Tie | None:
    if best.place is None:
        return None
    places = sorted({best.place, *best.rivals})
    lost = [difference(points[best.place], points[place], aim, level) for place in best.rivals]
    most = max((item.high for item in lost if item is not None), default=math.nan)
    ends: tuple[int, int] | tuple[None, None] = (None, None)
    at = numbers_along(points)
    if at is not None and len(places) > 1:
        order = sorted(range(len(points)), key=lambda place: at[place])
        turns = [order.index(place) for place in places]
        if max(turns) - min(turns) == len(turns) - 1:
            ends = (order[min(turns)], order[max(turns)])
    return Tie(places=tuple(places), lowest=ends[0], highest=ends[1], most_lost=most)


def _fairer(points: Sequence[Point], best: Best, aim: str) -> int | None:
    if best.place is None:
        return None
    base = points[best.place]
    return fairer_tie(
        {place: (difference(points[place], base, aim), difference(points[place], base, FAIR)) for place in best.rivals}
    )


def _today(points: Sequence[Point], best: Best, today: int, level: float, aim: str) -> Today:
    standing: Literal["recommended", "tied", "behind", "refused", "alone"]
    gain = None
    if best.place is None:
        standing = "alone"
    elif today == best.place:
        standing = "recommended"
    else:
        standing = "tied" if today in best.rivals else "refused" if today in best.refused else "behind"
        gain = _interval(difference(points[best.place], points[today], aim, level))
    return Today(place=today, standing=standing, gain=gain)


def _unaided(points: Sequence[Point], best: Best) -> int | None:
    """Catch-up off where the strength alone is swept and 0 was run; or else the first setting."""
    off = [place for place, point in enumerate(points) if point.where == (("strength", 0),)]
    base = off[0] if off else 0
    return None if best.place is None or base == best.place else base


def _stake(points: Sequence[Point], best: Best, today: int | None) -> Stake | None:
    """What moving from today's setting brings; where that will do, what the worst of the others would lose."""
    if best.place is None or len(points) < 2:
        return None
    base = points[best.place]
    found = {name: {place: item for place, point in enumerate(points)
                    if place != best.place and (item := difference(point, base, name)) is not None}
             for name in _MONEY}  # fmt: skip
    known = [name for name in _MONEY if found[name]]
    moved = [name for name in known if any(item.mean for item in found[name].values())]
    if not known:
        return None
    measure = (moved or known)[0]
    against, tied = found[measure], {best.place, *best.rivals}
    kind: Literal["move", "worst", "worst tie"]
    if today is not None and today not in tied and today in against:
        kind, place = "move", today
    else:
        others = [place for place in against if place not in tied]
        rivals = [place for place in best.rivals if place in against and not math.isnan(against[place].low)]
        if not others and not rivals:
            return None
        kind, place = "worst" if others else "worst tie", min(others or rivals, key=lambda item: against[item].mean)
    return Stake(kind=kind, measure=measure, place=place, difference=Interval.of(against[place].turned))


def _at_end(points: Sequence[Point], best: Best) -> bool:
    if best.place is None or len(points) < 2 or len(points[0].where) != 1:
        return False
    return best.place in (0, len(points) - 1) and points[best.place].where[0][1] != 0


def _course(points: Sequence[Point], reference: int, measure: str, level: float) -> Course:
    """How a measure goes, by its differences from the reference."""
    signs: dict[int, int] = {}
    same = len(points) > 1
    for place, point in enumerate(points):
        found = None if place == reference else difference(point, points[reference], measure, level)
        sign = None if found is None else Interval.of(found).sign
        if found is not None and sign is not None:
            signs[place] = sign
            same &= found.low == found.high == 0.0
    more, less = (tuple(place for place, sign in signs.items() if sign == way) for way in (1, -1))
    return Course(direction=_direction(numbers_along(points), reference, signs, same), more=more, less=less)


def _direction(at: list[float] | None, reference: int, signs: Mapping[int, int], same: bool) -> Direction:
    if not signs:
        return "unknown"
    if same:
        return "same"
    if not any(signs.values()):
        return "flat"
    if at is None:
        return "differs"
    ways = {sign if at[place] > at[reference] else -sign for place, sign in signs.items() if sign}
    return "both" if len(ways) == 2 else "rises" if ways == {1} else "falls"


def changed(
    name: str, rows: Sequence[Mapping[str, Any]], settled: Settling, *, over: tuple[Over, ...] = (),
    drift: Drift | None = None,
) -> Changed:  # fmt: skip
    """What one scenario surely changes.

    Parameters
    ----------
    rows
        Its differences: `measure`, `difference`, `low` (NaN or None where unknown) and `told_apart`, the largest first.
    settled
        Whether its take has settled.
    over, drift
        What it brings over the first weeks, and whether that still changes, where the venue has run before.
    """
    sure = [row for row in rows if row["told_apart"]]
    ahead = sorted(
        sure, key=lambda row: IMPORTANCE.index(row["measure"]) if row["measure"] in IMPORTANCE else len(IMPORTANCE)
    )
    take = next((row for row in rows if row["measure"] == TAKE), None)
    way: Literal["more", "less", "not told apart", "same", "unknown"]
    if take is None or take["low"] is None or math.isnan(take["low"]):
        way = "unknown"
    elif take["low"] == take["high"] == 0.0:
        way = "same"
    else:
        way = "not told apart" if not take["told_apart"] else "more" if take["difference"] > 0 else "less"
    return Changed(
        name=name,
        take=way,
        by_importance=tuple(row["measure"] for row in ahead),
        settled=settled,
        over=over,
        drift=drift,
    )


def sensitivity_findings(numbers: Sequence[Mapping[str, Any]]) -> SensitivityFindings:
    """What moves a measure most, from the ranked numbers (`number`, `from`, `effect`), the greatest effect first."""
    ranked = [row for row in numbers if row["effect"] is not None and not math.isnan(row["effect"])]
    unknown = next((str(row["number"]) for row in ranked if row["from"] not in KNOWN_ORIGINS), None)
    return SensitivityFindings(
        foremost=str(ranked[0]["number"]) if ranked else None,
        known=bool(ranked) and ranked[0]["from"] in KNOWN_ORIGINS,
        next_to_measure=unknown,
    )
