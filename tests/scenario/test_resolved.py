"""A resolved scenario is a scenario again: what `to_toml` writes loads to the same, sources of numbers included."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from venue.scenario.load import Loaded, check, load
from venue.scenario.origin import SOURCES, Origin
from venue.scenario.starter import starter_text

from .building import DEMOS, FOLDER, changed, demo


def again(loaded: Loaded) -> Loaded:
    return check(tomllib.loads(loaded.to_toml()), loaded.source)


def assert_same(loaded: Loaded) -> None:
    """Equal in every number and every source, and stable: a second round writes the same text."""
    second = again(loaded)
    assert second.scenario == loaded.scenario
    assert second.origins == loaded.origins
    assert second.to_toml() == loaded.to_toml()


@pytest.mark.parametrize("name", DEMOS)
def test_demo_venues(name: str, tmp_path: Path) -> None:
    loaded = load(FOLDER / f"{name}.toml")
    assert_same(loaded)
    file = tmp_path / "resolved.toml"
    file.write_text(loaded.to_toml(), encoding="utf-8")
    assert load(file).scenario == loaded.scenario


def test_starter() -> None:
    assert_same(check(tomllib.loads(starter_text()), "starter"))


def test_weekdays_without_hours_stay_without() -> None:
    raw = demo()
    raw["venue"]["hours"] = {"every_day": "closed", "monday": "closed", "friday": "9:00-17:00"}
    loaded = check(raw, "x")
    assert_same(loaded)
    hours = again(loaded).scenario.venue.hours
    assert [hours.on(day) for day in range(7)] == [None] * 4 + [(32400.0, 61200.0)] + [None] * 2


def test_hours_of_a_weekday_override_those_of_every_day() -> None:
    hours = load(FOLDER / "bar.toml").scenario.venue.hours
    assert hours.on(0) is None
    assert hours.on(1) == (17 * 3600.0, 25 * 3600.0)
    assert hours.on(4) == (16 * 3600.0, 26.5 * 3600.0)


def test_an_en_dash_between_hours_is_a_dash() -> None:
    loaded = check(changed("venue/hours/every_day", "11:00 – 22:00"), "x")
    assert loaded.scenario.venue.hours.on(0) == (39600.0, 79200.0)
    assert_same(loaded)


def test_a_rate_of_arrivals_keeps_its_source_in_whatever_spelling_of_its_time() -> None:
    rates = {"9:00": {"value": 4, "from": "measured"}, "12:30": 6}
    loaded = check(changed("venue/arrivals/per_hour", rates), "x")
    assert loaded.origins[("venue", "arrivals", "per_hour", "09:00")] == Origin("measured")
    assert ("venue", "arrivals", "per_hour", "09:00") in loaded.given
    assert_same(loaded)


@pytest.mark.parametrize(
    "name",
    ["Kø", "灯台ホール", "قاعة الميناء", "=1+1", "<b>bold</b>", 'with "quotes" and \\ strokes', "O'Tool", "$x^2$",
     "x" * 200, "🎪 tent", "tab-less", "#hash", "{brace}", "[red]"],
)  # fmt: skip
def test_names_of_any_script_and_shape(name: str) -> None:
    raw = demo()
    raw["venue"]["name"] = raw["venue"]["money"] = name
    raw["machines"][name] = raw["machines"].pop("tug") | {"label": name, "title": name}
    raw["titles"][name] = raw["titles"].pop("tug")
    raw["titles"][name]["rules"][name] = raw["titles"][name]["rules"].pop("undertow") | {"attempts": [name]}
    raw["titles"][name]["attempts"][name] = raw["titles"][name]["attempts"].pop("haul")
    loaded = check(raw, "x")
    assert loaded.scenario.machines[name].label == name
    assert_same(loaded)


def test_titles_and_rules_may_be_called_like_words_of_the_scenario() -> None:
    raw = demo("bar")
    raw["titles"]["rules"] = raw["titles"].pop("moth")
    raw["titles"]["rules"]["rules"]["slope"] = raw["titles"]["rules"]["rules"].pop("draught")
    raw["machines"]["value"] = raw["machines"].pop("moth") | {"title": "rules"}
    raw["machines"]["from"] = raw["machines"].pop("locks")
    loaded = check(raw, "x")
    assert set(loaded.scenario.machines) == {"value", "from"}
    assert_same(loaded)


durations = st.floats(min_value=1e-6, max_value=6e5).map(lambda value: f"{value:.12f} s")
chances = st.floats(min_value=0, max_value=1)
factors = st.floats(min_value=0, max_value=1000)
tastes = st.floats(min_value=-1000, max_value=1000)
names = st.text(st.characters(exclude_categories=("Cs", "Cc", "Zl", "Zp", "Cf")), min_size=1, max_size=12).filter(
    lambda text: bool(text.strip())
)


@st.composite
def scenarios(draw: st.DrawFn) -> dict[str, Any]:
    """A demo venue with numbers, names and sources drawn anew."""
    raw = demo(draw(st.sampled_from(DEMOS)))
    raw["about"] = draw(st.text(st.characters(exclude_categories=("Cs", "Cc", "Zl", "Zp", "Cf")) | st.just("\n")))
    raw["venue"]["name"] = draw(names)
    raw["venue"]["hours"]["last_entry"] = draw(st.sampled_from(["0 s", "10 min", "0.1 s"]))
    raw["venue"]["arrivals"]["per_hour"] = {
        f"{hour}:{minute:02d}": draw(st.floats(min_value=0.001, max_value=1e5))
        for hour, minute in draw(st.sets(st.tuples(st.integers(12, 17), st.integers(0, 59)), min_size=1, max_size=3))
    } | {"10:00": 1.0}
    raw["people"]["skill"] = {"mean": draw(st.floats(-20, 20)), "sd": draw(st.floats(0, 10))}
    raw["people"]["stay"] = {"median": draw(durations), "off": draw(st.booleans())}
    raw["people"]["choice"] = {"rest": draw(tastes | st.just(float("-inf"))), "rest_length": draw(durations)}
    raw["people"]["suspicion"] = {"notice": draw(chances), "half_life": draw(durations)}
    raw["study"]["strength"] = draw(st.floats(0, 100))
    key = draw(names)
    raw["machines"][key] = {"play_time": draw(durations), "price": draw(st.integers(0, 1_000_000)), "label": key}
    for path in draw(st.lists(st.sampled_from([("study", "strength"), ("people", "skill", "sd"), ("venue", "name"),
                                               ("machines", key, "price"), ("people", "skill"), ("study", "days"),
                                               ("venue", "arrivals", "per_hour", "10:00")]), unique=True)):  # fmt: skip
        table = raw
        for part in path[:-1]:
            table = table["value"][part] if "value" in table and "from" in table else table[part]
        table = table["value"] if "value" in table and "from" in table else table
        source = {"from": draw(st.sampled_from(SOURCES))}
        note = draw(st.text(st.characters(categories=("L", "N", "P")), max_size=8))
        table[path[-1]] = {"value": table[path[-1]], **source, **({"note": note} if note else {})}
    return raw


@settings(max_examples=60, derandomize=True, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(scenarios())
def test_any_scenario(raw: dict[str, Any]) -> None:
    assert_same(check(raw, "x"))


@settings(max_examples=30, derandomize=True, deadline=None)
@given(st.floats(0, 100), st.integers(0, 2**32 - 1), st.integers(8, 36_500))
def test_a_changed_scenario(strength: float, seed: int, days: int) -> None:
    loaded = load(FOLDER / "mall.toml").change(strength=strength, seed=seed, days=days)
    study = loaded.scenario.study
    assert (study.strength, study.seed, study.days) == (strength, seed, days)
    assert ("study", "seed") in loaded.given
    assert_same(loaded)


def test_a_change_takes_away_where_the_number_came_from() -> None:
    loaded = check(changed("study/days", {"value": 42, "from": "measured"}), "x")
    assert ("study", "days") in loaded.origins
    assert ("study", "days") not in loaded.change(days=50).origins
    assert loaded.change(days=None) is loaded
