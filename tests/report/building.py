"""Results made up for the tests of what people see: known means, known noise, no run behind them."""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np

from venue.floor.accounts import Account
from venue.scenario.load import Loaded, check
from venue.scenario.starter import starter_text
from venue.study.by_margin import OffersAt
from venue.study.measures import Measured
from venue.study.point import Point
from venue.study.recommendation import Best
from venue.study.registry import MACHINE_MEASURES, MEASURES
from venue.study.replicate import Replication, Task
from venue.study.results import RunResult, SweepResult
from venue.study.retention import Cohort, Curve
from venue.study.weeks import Week

# A middling value of each measure, and how much replications differ in it.
TYPICAL = {
    "credits_per_hour": (140.0, 4.0), "credits_per_play": (3.2, 0.05), "revenue_per_play": (1.6, 0.02),
    "take_per_week": (5400.0, 160.0), "operator_share_per_week": (2700.0, 80.0),
    "site_share_per_week": (2700.0, 80.0), "profit_per_week": (2300.0, 80.0),
    "plays_per_visit": (4.1, 0.1), "credits_per_visit": (13.0, 0.4), "buy_in_rate": (0.83, 0.003),
    "return_28d": (0.34, 0.01), "visits_per_hour": (9.0, 0.3), "utilisation": (0.2, 0.01),
    "availability": (0.98, 0.005), "limit_reached": (0.03, 0.004), "wait_minutes": (1.2, 0.2),
    "moves_per_visit": (0.8, 0.04), "gave_up_waiting": (0.2, 0.03), "better_side_wins": (0.72, 0.004),
    "skill_edge": (0.93, 0.001), "close_finishes": (0.45, 0.006), "suspicion": (0.05, 0.002),
    "empty_wallets": (0.42, 0.01), "spend_p95": (40.0, 0.6), "spend_top_tenth": (0.26, 0.004),
}  # fmt: skip

Effect = Callable[[str, float], float]


def no_effect(name: str, strength: float) -> float:
    """A strength that changes nothing but the edge of skill."""
    return 1.0 - 0.05 * strength if name == "skill_edge" else 1.0


def scenario(replications: int = 5, **changes: Any) -> Loaded:
    """The starter, with values replaced by dotted key."""
    raw: dict[str, Any] = tomllib.loads(starter_text())
    raw["study"]["replications"] = replications
    for key, value in changes.items():
        *front, last = key.split("__")
        table = raw
        for part in front:
            table = table[part]
        table[last] = value
    return check(raw, "starter.toml")


def renamed(name: str, replications: int = 5) -> Loaded:
    """The starter with everything that has a name called by this one."""
    raw: dict[str, Any] = tomllib.loads(starter_text())
    raw["study"] |= {"replications": replications}
    raw["venue"] |= {"name": name, "money": name}
    title = raw["titles"].pop("ferry") | {"label": name}
    title["rules"] = {name: title["rules"]["fog"] | {"switch": name}}
    raw["titles"][name] = title
    raw["machines"] = {
        name: raw["machines"]["ferry"] | {"title": name, "label": name}, "gulls": raw["machines"]["gulls"],
    }  # fmt: skip
    return check(raw, "starter.toml")


def point(loaded: Loaded, strength: float, effect: Effect = no_effect, seed: int = 1) -> Point:
    """Replications at one strength. Their noise is shared between strengths, as that of common visitors is."""
    count = loaded.scenario.study.replications
    every = np.random.default_rng(seed).standard_normal((count, len(MEASURES) + 1))
    every -= every.mean(axis=0)  # so that means are the typical values
    found = []
    for number, noise in enumerate(every):
        venue = {
            name: TYPICAL[name][0] * effect(name, strength)
            + (0.0 if name == "skill_edge" and strength == 0 else TYPICAL[name][1] * noise[index])
            for index, name in enumerate(MEASURES)
        }
        if strength == 0:
            venue["skill_edge"] = 1.0
        found.append(_replication(loaded, strength, number, venue, noise[-1]))
    return Point(strength, tuple(found))


def _replication(
    loaded: Loaded, strength: float, number: int, venue: dict[str, float], noise: float
) -> Replication:  # fmt: skip
    keys = loaded.scenario.machines
    machines = {
        key: {name: 10.0 * (index + 1) + noise for name in MACHINE_MEASURES if machine.title or "wins" not in name}
        for index, (key, machine) in enumerate(keys.items())
    }
    hours = np.arange(24)
    hourly = np.array([(20.0 + 10.0 * row) * (1 + np.sin(hours / 24 * 6)) + noise for row in range(len(keys))])
    hourly[:, (hours < 11) | (hours > 20)] = math.nan
    left = {"wallet empty": 0.6, "had enough": 0.4}
    accounts = [Account("credits", 100.0 + number, 100.0 + number)]
    measured = Measured(venue, machines, hourly, left, *_people(loaded, number))
    return Replication(Task(strength, number), measured, accounts, 0.1)


def _people(loaded: Loaded, number: int) -> tuple[Any, ...]:
    """Moves, offers by margin, returns, cohorts and weeks, growing with the number of the replication."""
    more = 1 + number / 100
    title = next(iter(loaded.scenario.titles), "")
    offers = []
    for margin in range(-9, 10) if title else ():
        count = 300 - 30 * abs(margin) + number
        chance = count / (1 + math.exp(-margin / 2))
        offers.append(OffersAt(title, margin, 1, count, round(0.8 * count * more), chance, 0.9 * chance))
    days = (1, 7, 14, 28)
    shares = tuple(more * day / 100 for day in days)
    curve = Curve(days, shares, tuple(share / 2 for share in shares), tuple(2 * share for share in shares))
    cohorts = tuple(Cohort(week, 90 + number, curve) for week in (1, 2, 3))
    weeks = tuple(Week(week, week < 2, 5.0 + more * week, 60.0 + more * week, 0.05 * week) for week in range(1, 7))
    return {"chance gone": 0.7, "had enough": 0.3}, tuple(offers), curve, cohorts, weeks


def run_result(loaded: Loaded | None = None, effect: Effect = no_effect) -> RunResult:
    """A run at strength 1."""
    loaded = loaded or scenario()
    return RunResult(loaded, point(loaded, 1.0, effect))


def sweep_result(
    loaded: Loaded | None = None, strengths: Sequence[float] = (0.0, 0.5, 1.0, 1.5, 2.0), effect: Effect = no_effect,
    best: float | None = 1.0,
) -> SweepResult:  # fmt: skip
    """A sweep with a recommendation that is given, not computed."""
    loaded = loaded or scenario()
    points = tuple(point(loaded, strength, effect) for strength in strengths)
    place = None if best is None else list(strengths).index(best)
    return SweepResult(
        loaded,
        points,
        Best(place, best, "nothing to judge by" if best is None else "most take", None if best is None else 0.75),
    )


def blocks(text: str) -> list[list[str]]:
    """The tables in a text: runs of lines around a rule of dashes."""
    return [part.split("\n") for part in text.split("\n\n") if re.search(r"^-{2,}[- ]*$", part, re.MULTILINE)]


def columns_of(block: Sequence[str]) -> list[tuple[int, int]]:
    """Where the columns of a table begin and end, read off its rule of dashes."""
    rule = next(line for line in block if set(line) <= {"-", " "} and "-" in line)
    return [match.span() for match in re.finditer("-+", rule)]


def cells(block: Sequence[str]) -> dict[str, list[str]]:
    """The cells of a table by heading."""
    spans = columns_of(block)
    at = next(index for index, line in enumerate(block) if set(line) <= {"-", " "} and "-" in line)
    heads = [" ".join(" ".join(line[a:b].split()) for line in block[:at]).strip() for a, b in spans]
    return {head: [line[a:b].strip() for line in block[at + 1 :]] for head, (a, b) in zip(heads, spans, strict=True)}


def merged(tables: Sequence[Mapping[str, list[str]]]) -> dict[str, list[str]]:
    """Blocks of one table put together again."""
    found: dict[str, list[str]] = {}
    for table in tables:
        found |= table
    return found
