"""Rules that may cover the same attempt, where only one of them can act: which pairs are told."""

from __future__ import annotations

from typing import Any

import pytest

from venue.contest.overlap import overlaps
from venue.scenario.title import Title

from .building import MIXED, points_title, turns_title


def title_with(one: dict[str, Any], other: dict[str, Any]) -> Title:
    return turns_title("20 s", periods=2, attempts=MIXED, rules={"one": one, "other": other})


def closing(when: str = "behind", **keys: Any) -> dict[str, Any]:
    return {"kind": "closing chance", "last": "5 s", "when": when, "points": 1, "at_least": 0.8} | keys


LEAST = {"kind": "least chance", "at_least": 0.3}
DRY = {"kind": "drought", "after": 3, "at_least": 0.9}

MEET = {
    "the same state": (closing(), closing(at_least=0.9)),
    "within and behind": (closing("would come within"), closing(points=4)),
    "a tie is within": (closing("would tie"), closing("would come within", points=0)),
    "last and least": (closing(), LEAST),
    "drought and least": (DRY, LEAST),
    "visitors and both": (closing(serves="visitors"), closing()),
    "two limits": (LEAST | {"behind_from": 2, "behind_to": 5}, LEAST | {"behind_from": 5}),
}
APART = {
    "periods": (closing(periods=[1]), closing(periods=[2])),
    "sides": (closing(serves="visitors"), closing(serves="computer")),
    "attempts": (closing(attempts=["near"]), closing(attempts=["far"])),
    "margins": (LEAST | {"behind_from": 2, "behind_to": 4}, LEAST | {"behind_from": 5}),
    "too far to come within": (closing("would come within"), closing(points=5)),
    "tie and lead": (closing("would tie"), closing("would lead")),
    "a shift adds up": (LEAST, {"kind": "slope", "per_point": 0.02}),
}


@pytest.mark.parametrize("name", MEET)
def test_pairs_that_may_meet(name: str) -> None:
    assert overlaps(title_with(*MEET[name])) == [("one", "other")]


@pytest.mark.parametrize("name", APART)
def test_pairs_that_cannot_meet(name: str) -> None:
    assert overlaps(title_with(*APART[name])) == []


def test_pairs_to_points() -> None:
    end = {"kind": "closing chance", "last_points": 2, "when": "behind", "points": 1, "at_least": 0.8}
    assert overlaps(points_title(9, rules={"end": end, "least": LEAST})) == [("end", "least")]
