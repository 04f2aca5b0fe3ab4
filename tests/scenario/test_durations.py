"""Every duration is bound by what it is for; what outlasts it is refused with the bound."""

from __future__ import annotations

from typing import Any

import pytest

from venue.scenario.load import check
from venue.scenario.scenario import Scenario
from venue.units import DAY, HOUR

from .building import demo, refused

# What may last for ever, in effect; all else happens in the hall, or waits for a technician.
A_CENTURY = {"mean_use", "mean_time", "half_life", "delay_median"}


def longest() -> dict[str, float]:
    """The longest that each key of a duration takes, in seconds, by the key's name."""
    found: dict[str, float] = {}

    def walk(item: Any, key: str) -> None:
        if isinstance(item, dict):
            if item.get("unit") == "s":
                bounds = [item[name] for name in ("maximum", "le") if name in item]
                found[key] = max(found.get(key, 0.0), min(bounds))
            for name, inner in item.items():
                walk(inner, name if name not in ("anyOf", "allOf") else key)
        elif isinstance(item, list):
            for inner in item:
                walk(inner, key)

    walk(Scenario.model_json_schema(), "")
    return found


def test_every_duration_is_bound_by_what_it_is_for() -> None:
    found = longest()
    assert {"break_length", "period_length", "left", "play_time", "median", "mean_use"} <= set(found)
    assert {key for key, bound in found.items() if bound > 365 * DAY} == A_CENTURY
    in_hall = {key for key, bound in found.items() if bound <= 7 * DAY}
    assert set(found) - in_hall == A_CENTURY | {"repair_time", "response"}


@pytest.mark.parametrize(
    "part, key, given, bound",
    [
        ("titles/hoop", "break_length", "36500 days", "must lie between 0 s and 1 h"),
        ("people/stay", "median", "8 days", "must be more than 0 s and at most 7 days"),
        ("venue/technician", "response", "366 days", "must lie between 0 s and 365 days"),
    ],
)
def test_what_outlasts_its_use_is_refused(part: str, key: str, given: str, bound: str) -> None:
    raw = demo()
    first, second = part.split("/")
    names = [next(iter(raw["titles"]))] if first == "titles" else [second]
    raw[first].setdefault(names[0], {})[key] = given
    (problem,) = refused(raw)
    assert problem.path.startswith(f"{first}.{names[0]}.{key}") and problem.what == bound


def test_the_bound_itself_is_accepted() -> None:
    raw = demo()
    title = next(iter(raw["titles"]))
    raw["titles"][title]["break_length"] = "1 h"
    assert check(raw, "demo").scenario.titles[title].break_length == HOUR
