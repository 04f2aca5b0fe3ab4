"""What `venue check` shows: the scenario in words, every number with its source, defaults included."""

from __future__ import annotations

import json

import pytest

from venue.report import scenario_text
from venue.report.columns import room
from venue.report.layout import as_text
from venue.scenario.load import Loaded, check, load

from ..scenario.building import DEMOS, FOLDER, changed
from .building import blocks, cells, renamed, scenario
from .test_tables import NAMES, WIDTHS, assert_aligned


def said(loaded: Loaded, width: int, *, full: bool = True) -> str:
    return as_text(scenario_text.check_parts(loaded, full=full), width)


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("name", DEMOS)
def test_text_fits_its_width_and_is_aligned(name: str, width: int) -> None:
    text = said(load(FOLDER / f"{name}.toml"), width)
    assert_aligned(text)
    *before, numbers = text.split("\n\n")
    assert all(room(line) <= width for part in before for line in part.split("\n"))
    # The list of numbers does not break a key or a value; where there is room it holds the notes too.
    assert all(room(line) <= max(width, 80) for line in numbers.split("\n"))


@pytest.mark.parametrize("name", DEMOS)
def test_every_number_is_listed_once_with_its_source(name: str) -> None:
    loaded = load(FOLDER / f"{name}.toml")
    rows = scenario_text.sources(loaded)
    keys = [row[0] for row in rows]
    assert len(set(keys)) == len(keys)
    assert {"venue.credit_price", "people.skill.sd", "study.days", "study.seed", "venue.hours.every_day"} <= set(keys)
    table = cells(blocks(said(loaded, 140))[-1])
    assert sorted(table["number"]) == sorted(keys)


def test_sources_stated_inherited_not_stated_and_default() -> None:
    found = {row[0]: row[1:] for row in scenario_text.sources(load(FOLDER / "pier.toml"))}
    assert found["titles.tug.mean_attack"] == ("5 s", "measured", "stopwatch, 200 hauls")
    assert found["venue.arrivals.weekday.monday"][1:] == ("measured", "door counts, three weeks")
    assert found["machines.tug.price"][1] == "not stated"
    assert found["study.seed"] == ("1", "default (assumed)", "")


def test_a_rate_stated_in_another_spelling_of_its_time_is_not_called_a_default() -> None:
    loaded = check(changed("venue/arrivals/per_hour", {"9:00": 4, "12:00": 5}), "x")
    found = {row[0]: row[2] for row in scenario_text.sources(loaded)}
    assert found["venue.arrivals.per_hour.09:00"] == "not stated"


def test_names_that_begin_with_a_digit_are_no_numbers() -> None:
    raw = changed("venue/name", "3 Arches")
    raw["venue"]["money"] = "2 bits"
    raw["machines"]["tug"]["label"] = "7 Tides"
    raw["titles"]["tug"]["rules"]["undertow"] |= {"switch": "1st", "attempts": ["haul"]}
    keys = [row[0] for row in scenario_text.sources(check(raw, "x"))]
    for key in ("venue.name", "venue.money", "machines.tug.label", "titles.tug.rules.undertow.switch"):
        assert key not in keys
    assert "titles.tug.rules.undertow.attempts" not in keys


def test_a_change_is_a_stated_number() -> None:
    found = {row[0]: row[2] for row in scenario_text.sources(load(FOLDER / "pier.toml", ["study.seed=9"]))}
    assert found["study.seed"] == "not stated"


def test_words_on_the_whole() -> None:
    text = said(load(FOLDER / "bar.toml"), 100)
    assert "bar.toml: sound" in text
    assert "mon closed, tue-thu 17:00-25:00" in text
    assert "To be run: 20 replications of 56 days, the first 14 left out, at strength 1, seed 1." in " ".join(
        text.split()
    )
    rules = next(cells(block) for block in blocks(text) if "kind" in block[1])
    assert rules["rule"] == ["moth.draught", "locks.rusty-hand", "locks.spare-key", "locks.oil"]
    assert rules["scaled by strength"] == ["yes", "no", "yes", "yes"]


def test_till_and_limits_in_words() -> None:
    changes = [
        "venue.till.bundles=[{ credits = 5, price_of = 4 }, { credits = 12, price_of = 9 }]", "limits.spend_per_hour=9",
        "venue.till.card.holders=0.3", "venue.till.card.bonus=0.1", "limits.spend_per_visit=20",
    ]  # fmt: skip
    text = " ".join(said(load(FOLDER / "bar.toml", changes), 100).split())
    assert "At the till: 5 for the price of 4 and 12 for the price of 9; credits not played are kept." in text
    assert "A card, held by 30% of people, gives 10% on top." in text
    assert "Nobody may spend more than 20 credits a visit and 9 credits an hour." in text
    plain = said(load(FOLDER / "bar.toml"), 100)
    assert "Nobody may spend" not in plain


def test_rules_switched_off_are_shown_as_off() -> None:
    text = said(load(FOLDER / "bar.toml", ["study.switches_off=['spare-keys']"]), 100)
    assert [line.split()[-1] for line in text.split("\n") if line.startswith("locks.spare-key  ")] == ["off"]


@pytest.mark.parametrize("name", DEMOS)
def test_json_holds_the_scenario_in_the_units_people_write(name: str) -> None:
    loaded = load(FOLDER / f"{name}.toml")
    plain = json.loads(json.dumps(scenario_text.as_dict(loaded), allow_nan=False))
    assert set(plain) == {"scenario", "version", "resolved", "sources"}
    resolved = plain["resolved"]
    if resolved["people"]["choice"]["rest"] == "-inf":
        resolved["people"]["choice"]["rest"] = -float("inf")
    assert check(resolved, "x").scenario == loaded.scenario
    assert [set(item) for item in plain["sources"]][0] == {"key", "value", "from", "note"}


@pytest.mark.parametrize("name", NAMES)
def test_names_of_any_shape(name: str) -> None:
    text = said(renamed(name), 80)
    for block in blocks(text)[:-1]:
        assert all(room(line) <= 80 for line in block)
    assert "sound" in said(scenario(), 80)
