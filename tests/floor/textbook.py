"""Venues out of a textbook: one row of machines, people who play once and go, and nothing else.

Choice, beliefs and patience are off unless a test turns them on, so that what is left is the queue, the loss system or
the walk that the literature has a formula for. Runs go through `venue.run`, like anybody's.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

import venue
from tests.checking import check_close, check_mean, check_printed
from venue.floor.accounts import Account
from venue.scenario.load import Loaded, check
from venue.study.measures import Measured
from venue.units import DAY, HOUR

Array = NDArray[np.float64]
Raw = dict[str, Any]

NEVER = -math.inf
SURELY = 1000.0
REPLICATIONS = 20
PLAY = 200.0  # seconds of a mean play at the textbook's desk

# Everybody comes once, with one credit and no time to lose, and has no taste that could tell one offer from another.
PEOPLE: Raw = {
    "skill": {"sd": 0.0},
    "wallet": {"median": 1, "spread": 0.0},
    "stay": {"median": "0.001 s", "spread": 0.0},
    "patience": {"off": True},
    "buy_in": {
        "go_on": SURELY,
        "again": NEVER,
        "chance": 0.0,
        "closeness": 0.0,
        "price": 0.0,
        "played": 0.0,
        "suspicion": 0.0,
        "tired": 0.0,
    },
    "choice": {"belief": 0.0, "price": 0.0, "waiting": 0.0, "suspicion": 0.0, "tired": 0.0, "leave": NEVER},
    "suspicion": {"notice": 0.0},
    "come_back": {
        "constant": NEVER,
        "chance": 0.0,
        "closeness": 0.0,
        "wins": 0.0,
        "waiting": 0.0,
        "suspicion": 0.0,
        "empty_wallet": 0.0,
    },
}


def over(base: Mapping[str, Any], changes: Mapping[str, Any]) -> Raw:
    """Tables with others laid over them, key by key."""
    result = dict(base)
    for key, value in changes.items():
        both = isinstance(value, dict) and isinstance(result.get(key), dict)
        result[key] = over(result[key], value) if both else value
    return result


def textbook(
    machines: Raw,
    per_hour: float | Raw,
    *,
    weekday: Raw | None = None,
    days: int = 1,
    hours: str | Raw | None = None,
    people: Raw | None = None,
    titles: Raw | None = None,
) -> Loaded:
    """A scenario. Without hours the venue never closes before the end, and the last to come have time to finish."""
    if not isinstance(hours, dict):
        hours = {"every_day": hours} if hours else {"every_day": "00:00-24:00", "last_entry": "2 h"}
    rates = per_hour if isinstance(per_hour, dict) else {"00:00": per_hour}
    raw = {
        "venue": {
            "name": "The Textbook",
            "credit_price": 1.0,
            "hours": hours,
            "arrivals": {"per_hour": rates, "weekday": weekday or {}},
        },
        "people": over(PEOPLE, people or {}),
        "titles": titles or {},
        "machines": machines,
        "study": {"days": days, "warm_up": 0, "replications": REPLICATIONS},
    }
    return check(raw, "textbook")


def desk(
    count: int,
    load: float,
    *,
    varies: str = "exponential",
    room: int | None = None,
    customers: int = 2500,
    people: Raw | None = None,
) -> Loaded:
    """A row of machines without a contest, offered a load in erlang, with a line that has room for so many.

    Open for as many whole days as it takes that about so many `customers` come.
    """
    machine = {"price": 1, "count": count, "play_time": f"{PLAY:g} s", "play_time_varies": varies}
    if room is not None:
        machine["line_limit"] = room
    days = math.ceil(customers * PLAY / load / DAY)
    return textbook({"desk": machine}, load / PLAY * HOUR, days=days, people=people)


def walk(seconds: int, pull: float = 0.0, **keys: Any) -> Raw:
    """A title in open play with a point each second: the random walk. `pull`: chance that trailing gains a point."""
    rules = {"pull": {"kind": "slope", "per_point": pull}} if pull else {}
    plain = {
        "play": "open",
        "periods": 1,
        "period_length": f"{seconds} s",
        "break_length": "10 s",
        "mean_attack": "1 s",
        "attempts": {"tap": {"share": 1.0, "points": 1}},
        "minimum_chance": 0.0,
        "maximum_chance": 1.0,
        "rules": rules,
    }
    return over(plain, keys)


@dataclass(frozen=True)
class Run:
    """One replication: its rows of plays and of visits, each in the order of the people, its accounts and measures."""

    plays: pd.DataFrame
    visits: pd.DataFrame
    accounts: list[Account]
    measured: Measured
    days: int

    def account(self, about: str) -> Account:
        """The one account whose name begins like this."""
        (found,) = (account for account in self.accounts if account.name.startswith(about))
        return found


def run(
    scenario: Loaded, *, replications: int = REPLICATIONS, seed: int = 1, strength: float | None = None
) -> list[Run]:
    """Replications of a scenario, a row kept for each play and visit."""
    result = venue.run(scenario, replications=replications, seed=seed, strength=strength, rows=True)
    plays = dict(iter(result.plays.groupby("replication")))
    visits = dict(iter(result.visits.groupby("replication")))
    days = scenario.scenario.study.days
    none = result.plays.iloc[:0]
    found = []
    for item in result.point.replications:
        number = item.task.replication
        mine = in_order(plays.get(number, none)), in_order(visits[number])
        found.append(Run(*mine, item.accounts, item.measured, days))
    return found


def in_order(rows: pd.DataFrame) -> pd.DataFrame:
    """Rows by person, visit and time."""
    keys = ["person", "visit", "began"] if "began" in rows else ["person", "visit"]
    return rows.sort_values(keys, ignore_index=True)


@dataclass(frozen=True)
class Customers:
    """One replication as a textbook sees it, one customer a row, times in mean play times.

    Attributes
    ----------
    served
        Whether the customer played.
    wait
        From the door to the machine, or to giving up; 0 for who was turned away.
    """

    arrived: Array
    left: Array
    wait: Array
    served: NDArray[np.bool_]
    turned_away: NDArray[np.bool_]
    gave_up: NDArray[np.bool_]

    def within(self, begin: float, end: float) -> Customers:
        """Customers who arrived in an interval."""
        inside = (self.arrived >= begin) & (self.arrived < end)
        return Customers(*(part[inside] for part in vars(self).values()))


def customers(one: Run) -> Customers:
    """All customers of a replication of a `desk`."""
    visits = one.visits
    began = one.plays.set_index("person")["began"].reindex(visits["person"]).to_numpy()
    served = ~np.isnan(began)
    arrived, left = visits["arrived"].to_numpy(), visits["left"].to_numpy()
    because = visits["because"]
    return Customers(
        arrived / PLAY,
        left / PLAY,
        (np.where(served, began, left) - arrived) / PLAY,
        served,
        (because == "no room").to_numpy(),
        (visits["gave_up"] > 0).to_numpy(),
    )


def settled(runs: Sequence[Run], warm_up: float = 150.0, before_end: float = 50.0) -> list[Customers]:
    """Customers of each replication who came when the queue had settled and the venue was not about to close."""
    return [customers(one).within(warm_up, one.days * DAY / PLAY - before_end) for one in runs]


def number_inside(arrived: Array, left: Array, begin: float, end: float) -> float:
    """Mean number present between two times, by walking through the comings and goings and adding up areas."""
    times = np.concatenate((arrived, left))
    steps = np.concatenate((np.ones(len(arrived)), -np.ones(len(left))))
    order = np.argsort(times, kind="stable")
    times, present = times[order], np.cumsum(steps[order])
    edges = np.clip(np.append(times, np.inf), begin, end)
    return float(present @ np.diff(edges)) / (end - begin)


def assert_simulated(values: Sequence[float] | Array, expected: float) -> None:
    """The mean over replications lies within 4 standard errors of what it should be."""
    check_mean(values, expected, at_least=REPLICATIONS)


def assert_close(value: float, expected: float, rel: float) -> None:
    """Equal to within a relative error."""
    check_close(value, expected, rel=rel, abs=0.0)


def assert_prints(value: float, printed: str) -> None:
    """Equal to a printed value: within half a unit of its last digit."""
    check_printed(value, printed)
