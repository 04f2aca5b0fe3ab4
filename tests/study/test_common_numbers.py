"""Common random numbers: at every strength the same people come, with the same wallets and the same skill.

Settings are compared on the same visitors (Law, Simulation Modeling and Analysis, ch. 11), which works only if nothing
about a visitor depends on how contests came out.
"""

from __future__ import annotations

from functools import cache
from typing import Any

import pandas as pd
import pytest

import venue
from tests.checking import Disagrees, check_same_rows, check_that
from venue.scenario.load import Loaded

from ..floor.demos import FOLDER
from ..floor.textbook import SURELY, Run, over, run, textbook, walk

STRENGTHS = (0.0, 1.0, 2.0)

# What people are like: everything matters to them, and many come again.
LIVELY = {
    "skill": {"sd": 0.5},
    "wallet": {"median": 6, "spread": 0.8},
    "stay": {"median": "20 min", "spread": 0.5},
    "buy_in": {"go_on": -1.0, "again": -1.0, "chance": 3.0, "closeness": 1.0},
    "choice": {"leave": 0.0},
    "come_back": {"constant": -1.0, "chance": 3.0, "delay_median": "2 days"},
}


def place(people: dict[str, Any]) -> Loaded:
    title = walk(12, 0.04, periods=2)
    machine = {"title": "walk", "price": 1, "count": 3, "line_limit": 2}
    return textbook({"walk": machine}, 8.0, titles={"walk": title}, people=people, hours="10:00-20:00", days=6)


@cache
def lively(strength: float, seed: int = 111) -> Run:
    return run(place(LIVELY), replications=1, seed=seed, strength=strength)[0]


def newcomers(one: Run) -> pd.DataFrame:
    """Who came for the first time, and when."""
    return one.visits[one.visits["visit"] == 0][["person", "arrived"]].reset_index(drop=True)


def check_same_people(first: Run, second: Run) -> None:
    check_same_rows(newcomers(first), newcomers(second))


@pytest.mark.parametrize("strength", STRENGTHS[1:])
def test_the_same_people_come(strength: float) -> None:
    check_same_people(lively(0.0), lively(strength))
    # They do not do the same once they are there, nor come again alike.
    assert not lively(0.0).visits["arrived"].equals(lively(strength).visits["arrived"])
    assert lively(0.0).visits["credits"].sum() != lively(strength).visits["credits"].sum()


def test_control_other_people_come() -> None:
    with pytest.raises(Disagrees):
        check_same_people(lively(0.0), lively(0.0, seed=112))


def test_the_same_people_come_to_the_pier() -> None:
    loaded = venue.load(FOLDER / "pier.toml", ["study.days=4", "study.warm_up=0"])
    first, second = (run(loaded, replications=2, seed=111, strength=strength) for strength in (0.0, 2.0))
    for one, other in zip(first, second, strict=True):
        check_same_people(one, other)


def check_same_wallets(strength: float, wallet: float) -> None:
    """People who never stop spend what they carry, to the last credit: on their second visit as on their first."""
    people = over(LIVELY, {"stay": {"off": True}, "buy_in": {"go_on": SURELY, "again": SURELY}})
    weak = run(place(people), replications=1, seed=113, strength=0.0)[0].visits
    changed = over(people, {"wallet": {"median": wallet}})
    strong = run(place(changed), replications=1, seed=113, strength=strength)[0].visits
    both = weak.merge(strong, on=["person", "visit"], suffixes=("", "_strong"))
    both = both[(both["because"] == "wallet empty") & (both["because_strong"] == "wallet empty")]
    assert (both["visit"] > 0).sum() > 20
    assert both["credits"].nunique() > 10
    check_that((both["credits"] == both["credits_strong"]).all())


def test_the_same_wallets() -> None:
    check_same_wallets(2.0, 6)


def test_control_other_wallets() -> None:
    with pytest.raises(Disagrees):
        check_same_wallets(2.0, 7)


def check_same_skill(first: Run, second: Run) -> None:
    # Nobody gains by practice here, so a person's gap to the computer is their skill.
    one, other = (found.plays.groupby("person")["gap"].agg(["min", "max"]) for found in (first, second))
    both = one.join(other, rsuffix="_other", how="inner")
    assert len(both) > 100
    assert both["min"].nunique() > 100
    check_that((both.max(axis=1) == both.min(axis=1)).all())


@pytest.mark.parametrize("strength", STRENGTHS[1:])
def test_the_same_skill(strength: float) -> None:
    check_same_skill(lively(0.0), lively(strength))


def test_control_the_skill_of_others() -> None:
    with pytest.raises(Disagrees):
        check_same_skill(lively(0.0), lively(0.0, seed=112))


def test_replications_are_other_days() -> None:
    one, other = run(place(LIVELY), replications=2, seed=111)
    with pytest.raises(Disagrees):
        check_same_people(one, other)
