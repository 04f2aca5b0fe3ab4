"""The measures of one replication, computed from its rows after the warm-up."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from venue.floor.machine import FAULT, IN_PLAY, MachineRow
from venue.floor.records import REASONS
from venue.floor.run import Floor
from venue.scenario.machine import Machine
from venue.scenario.site import Site
from venue.streams import Streams
from venue.study.by_margin import OffersAt, offers_by_margin
from venue.study.demand import demand
from venue.study.match_ups import Unaided, once_a_contest, skill_edge
from venue.study.money import money_per_credit, of_venue, weekly
from venue.study.retention import NO_CURVE, Cohort, Curve, cohorts, return_curve, returned_within
from venue.study.weeks import Week, week_by_week, week_of
from venue.units import HOUR, MINUTE

Table = NDArray[np.void]


@dataclass(frozen=True)
class Measured:
    """What one replication came to.

    Attributes
    ----------
    venue
        Measures of the venue by name; NaN where the run cannot tell.
    machines
        Measures by machine key.
    hourly
        Mean credits per open hour by machine (rows) and hour of day (24 columns); NaN where never open.
    left_because
        Share of visits by reason for leaving.
    moved_because
        Share of changes to other machines by what made a visitor stop at the last.
    by_margin
        Offers at period breaks.
    returns
        Return after all visits.
    cohorts
        Return of each week's first-time visitors, those of the warm-up too.
    weeks
        The approach to the steady state, warm-up and all.
    control
        Visits that chance brought beyond those to be expected; see `venue.study.demand`.
    """

    venue: dict[str, float]
    machines: dict[str, dict[str, float]]
    hourly: NDArray[np.float64]
    left_because: dict[str, float]
    moved_because: dict[str, float] = field(default_factory=dict)
    by_margin: tuple[OffersAt, ...] = ()
    returns: Curve = NO_CURVE
    cohorts: tuple[Cohort, ...] = ()
    weeks: tuple[Week, ...] = ()
    control: float = math.nan


def measure(floor: Floor, warm_up: int, unaided: Unaided, streams: Streams | None = None) -> Measured:
    """All measures of a finished run, leaving out what began in the first `warm_up` days."""
    begin, end = floor.begins(), floor.ends()
    plays, visits = floor.ledger.plays.table(), floor.ledger.visits.table()
    week_cohorts = cohorts(visits, week_of(floor, visits["arrived"]), end)
    plays, visits = plays[plays["began"] >= begin], visits[visits["arrived"] >= begin]
    open_days = [day for day in floor.open_days if day.number >= floor.counted_from]
    open_hours = sum(day.closes - day.opens for day in open_days) / HOUR
    contests = plays[plays["against"] >= 0]
    take = int(plays["credits"].sum())
    lines, waits = visits["lines"].sum(), visits["waited"].sum()
    site = floor.scenario.venue
    money = money_per_credit(visits, site.credit_price)
    weeks = (floor.scenario.study.days - warm_up) / 7
    counted = {row.key: floor.counted(row, open_days) for row in floor.rows}
    machines = {
        row.key: _machine(
            row,
            counted[row.key],
            plays[plays["machines"] == row.number],
            open_hours,
            money=money,
            weeks=weeks,
            site=site,
        )
        for row in floor.rows
    }
    venue = {
        "credits_per_hour": take / open_hours,
        "credits_per_play": _mean(plays["credits"]),
        "revenue_per_play": _mean(plays["credits"]) * money,
        **of_venue((counted[row.key], machines[row.key]) for row in floor.rows),
        "plays_per_visit": _mean(visits["plays"]),
        "credits_per_visit": _mean(visits["credits"]),
        "buy_in_rate": _ratio(visits["taken"].sum(), visits["offers"].sum()),
        "return_28d": returned_within(visits["left"], visits["next_visit"], end),
        "visits_per_hour": len(visits) / open_hours,
        "utilisation": _share_of_time(floor.rows, counted, IN_PLAY, open_hours),
        "availability": 1.0 - _share_of_time(floor.rows, counted, FAULT, open_hours),
        "wait_minutes": _ratio(waits / MINUTE, len(visits)),
        "moves_per_visit": _mean(visits["moved"]),
        "gave_up_waiting": _ratio(visits["gave_up"].sum(), lines),
        "better_side_wins": _share_of_contests(contests, "better_won"),
        "skill_edge": skill_edge(floor, contests, unaided),
        "close_finishes": _share_of_contests(contests, "close"),
        "suspicion": _mean(visits["suspicion"]),
        "limit_reached": _mean(visits["limited"]),
        "empty_wallets": _mean(visits["empty"]),
        "spend_p95": float(np.quantile(visits["credits"], 0.95)) if len(visits) else float("nan"),
        "spend_top_tenth": top_share(visits["credits"]),
    }
    counts = np.bincount(visits["because"], minlength=len(REASONS))
    left = {reason: float(count / len(visits)) for reason, count in zip(REASONS, counts, strict=True) if count}
    return Measured(
        venue,
        machines,
        _hourly(floor),
        left,
        _shares(floor.ledger.moved),
        by_margin=offers_by_margin(floor),
        returns=return_curve(visits["left"], visits["next_visit"], end),
        cohorts=week_cohorts,
        weeks=week_by_week(floor, warm_up, money),
        control=math.nan if streams is None else demand(floor, streams),
    )


def top_share(amounts: NDArray[np.int32], top: float = 0.1) -> float:
    """Share of the total that comes from the top part of the spenders, counting a part of one at the boundary."""
    total = amounts.sum()
    if not len(amounts) or total == 0:
        return float("nan")
    ordered = np.sort(amounts)[::-1].astype(float)
    cumulative = np.concatenate(([0.0], np.cumsum(ordered)))
    return float(np.interp(top * len(amounts), np.arange(len(amounts) + 1), cumulative) / total)


def gini(amounts: NDArray[np.float64]) -> float:
    """Gini coefficient of amounts: half the mean difference over the mean."""
    ordered = np.sort(np.asarray(amounts, dtype=float))
    ranks = np.arange(1, len(ordered) + 1)
    return float((2 * ranks - len(ordered) - 1) @ ordered / (len(ordered) * ordered.sum()))


def _shares(counts: dict[str, int]) -> dict[str, float]:
    total = sum(counts.values())
    return {name: count / total for name, count in counts.items()}


def _mean(values: Table) -> float:
    return float(values.mean(dtype=float)) if len(values) else float("nan")


def _share_of_contests(contests: Table, column: str) -> float:
    """Mean over contests, over all the rows of which a figure is the same."""
    known = contests[~np.isnan(contests[column])]
    return float(np.average(known[column].astype(float), weights=once_a_contest(known))) if len(known) else float("nan")


def _ratio(part: float, whole: float) -> float:
    return float(part / whole) if whole else float("nan")


def _share_of_time(
    rows: Sequence[MachineRow], counted: Mapping[str, Machine], state: str, open_hours: float
) -> float:  # fmt: skip
    spent = sum(row.time[state] for row in rows)
    return spent / HOUR / (sum(counted[row.key].count for row in rows) * open_hours)


def _machine(
    row: MachineRow, machine: Machine, plays: Table, open_hours: float, *, money: float, weeks: float, site: Site
) -> dict[str, float]:  # fmt: skip
    take = int(plays["credits"].sum())
    found = {
        "credits_per_hour": take / open_hours / machine.count,
        "credits_per_play": _mean(plays["credits"]),
        **weekly(machine, site, take, money, weeks),
        "utilisation": _share_of_time([row], {row.key: machine}, IN_PLAY, open_hours),
        "availability": 1.0 - _share_of_time([row], {row.key: machine}, FAULT, open_hours),
    }
    if row.title is not None:
        found["better_side_wins"] = _share_of_contests(plays, "better_won")
        found["close_finishes"] = _share_of_contests(plays, "close")
    return found


def _hourly(floor: Floor) -> NDArray[np.float64]:
    """Mean credits per open hour by machine and hour of day."""
    hours = len(floor.rows[0].coin_box.by_hour)
    take = np.array([row.coin_box.by_hour for row in floor.rows], dtype=float)
    take[:, : floor.counted_from * 24] = 0.0
    opened = np.zeros(hours)
    for day in floor.open_days:
        if day.number >= floor.counted_from:
            edges = np.arange(hours + 1) * HOUR
            opened += np.clip(np.minimum(edges[1:], day.closes) - np.maximum(edges[:-1], day.opens), 0.0, HOUR) / HOUR
    of_day = np.arange(hours) % 24
    open_by_hour = np.bincount(of_day, opened, minlength=24)
    taken = np.array([np.bincount(of_day, row, minlength=24) for row in take])
    with np.errstate(divide="ignore", invalid="ignore"):
        mean: NDArray[np.float64] = np.where(open_by_hour > 0, taken / open_by_hour, np.nan)
    return mean
