"""Whatever is done to a scenario, it is read or refused in words: a line for each fault, never a traceback."""

from __future__ import annotations

import datetime
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from venue.errors import ScenarioError
from venue.scenario.load import check

from .building import DEMOS, JARGON, assert_lines, demo

# A key that happens to be one of these words would come back in the message, as it should.
words = st.text(max_size=8).filter(lambda text: not any(word in text for word in JARGON)) | st.sampled_from(
    ["10:00-22:00", "closed", "90 s", "-3 min", "1e9 weeks", "45 %", "200 %", "slope", "table", "turnover", "tug",
     "open", "turns", "value", "from", "measured", "=1+1", "\n", "\u2028", "\u202e", "\x1b[0m", "nan", "would tie"]
)  # fmt: skip
numbers = st.integers() | st.floats() | st.integers(-5, 60) | st.just(10**400)
times = st.dates() | st.times() | st.datetimes(timezones=st.just(datetime.UTC))
values = st.recursive(
    words | numbers | st.booleans() | times,
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(
            words | st.sampled_from(["value", "from", "note", "kind", "left", "title"]), inner, max_size=3
        )
    ),
    max_leaves=6,
)


def places(item: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """The path of every value in nested tables and lists."""
    pairs = list(item.items()) if isinstance(item, dict) else list(enumerate(item)) if isinstance(item, list) else []
    return [found for key, value in pairs for found in [(*path, key), *places(value, (*path, key))]]


def holder(raw: Any, path: tuple[Any, ...]) -> Any:
    for part in path[:-1]:
        raw = raw[part]
    return raw


@st.composite
def mutants(draw: st.DrawFn) -> dict[str, Any]:
    """A demo venue after one to three accidents."""
    raw = demo(draw(st.sampled_from(DEMOS)))
    for _ in range(draw(st.integers(1, 3))):
        path = draw(st.sampled_from(places(raw)))
        table, key = holder(raw, path), path[-1]
        accident = draw(st.sampled_from(["delete", "replace", "rename", "swap", "duplicate", "add", "wrap"]))
        if accident == "delete":
            del table[key]
        elif accident == "replace":
            table[key] = draw(values)
        elif accident == "rename" and isinstance(table, dict):
            table[draw(words)] = table.pop(key)
        elif accident == "swap":
            other = draw(st.sampled_from(places(raw)))
            if other[: len(path)] != path and path[: len(other)] != other:
                there = holder(raw, other)
                table[key], there[other[-1]] = there[other[-1]], table[key]
        elif accident == "duplicate":
            if isinstance(table, dict):
                table[draw(words)] = table[key]
            else:
                table.append(table[key])
        elif accident == "wrap":
            table[key] = draw(st.sampled_from([[table[key]], {"value": table[key], "from": "assumed"}]))
        elif isinstance(table, dict):
            table[draw(words)] = draw(values)
    return raw


some = settings(derandomize=True, deadline=None, suppress_health_check=list(HealthCheck), database=None)


@settings(some, max_examples=400)
@given(mutants())
def test_a_scenario_after_accidents_is_read_or_refused_in_words(raw: dict[str, Any]) -> None:
    check_read_or_refused(raw)


@pytest.mark.slow
@settings(some, max_examples=5000)
@given(mutants())
def test_many_scenarios_after_accidents_are_read_or_refused_in_words(raw: dict[str, Any]) -> None:
    check_read_or_refused(raw)


def check_read_or_refused(raw: dict[str, Any]) -> None:
    try:
        loaded = check(raw, "file.toml")
    except ScenarioError as error:
        assert_lines(error, "file.toml")
    else:
        assert loaded.scenario.machines
