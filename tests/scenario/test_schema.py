"""The schema that editors use says of a scenario what the program says, as far as single keys go.

The judge of the schema is a general-purpose library, jsonschema, by the standard's own rules (JSON Schema 2020-12).
"""

from __future__ import annotations

import json
import tomllib
from typing import Any

import pytest
from hypothesis import HealthCheck, assume, given, settings
from jsonschema import Draft202012Validator
from jsonschema.exceptions import best_match
from pydantic import BaseModel

from venue.errors import ScenarioError
from venue.scenario import people, site, title
from venue.scenario.load import check
from venue.scenario.schema import scenario_schema
from venue.scenario.starter import starter_text

from .building import DEMOS, changed, demo, steps, table_at, without
from .test_mutations import mutants

SCHEMA = scenario_schema()
EDITOR = Draft202012Validator(SCHEMA)


def accepted(raw: Any) -> bool:
    """Whether the program takes a scenario."""
    try:
        check(raw, "x")
    except ScenarioError:
        return False
    return True


def test_it_is_a_schema_by_the_standard_and_plain_json() -> None:
    Draft202012Validator.check_schema(json.loads(json.dumps(SCHEMA, allow_nan=False)))


@pytest.mark.parametrize("name", DEMOS)
def test_demo_scenarios_are_sound(name: str) -> None:
    fault = best_match(EDITOR.iter_errors(demo(name)))
    assert fault is None, fault.message


def test_the_starter_is_sound() -> None:
    assert EDITOR.is_valid(tomllib.loads(starter_text()))


SOUND = [
    ("people/stay/median", "1 h 30 min"),
    ("people/stay/median", "90 Minutes"),
    ("people/stay/median", {"value": "1.5 h", "from": "measured"}),
    ("people/choice/rest", float("-inf")),
    ("people/skill/sd", 1),
    ("people/party", {"sizes": {"1": "40 %", "2": 0.6}}),
    ("titles/tug/attempts/haul/chance", 0.5),
    ("titles/tug/rules/undertow/per_point", 0.02),
    ("titles/tug/rules/undertow/per_point", "-2 pp"),
    ("titles/tug/rules/undertow/per_point", {"value": "2 %", "from": "fitted", "note": "log"}),
    ("venue/hours/monday", "closed"),
    ("venue/hours/monday", "9:00 – 25:30"),
    ("venue/arrivals/per_hour", {"9:00": {"value": 3, "from": "measured"}, "24:00": 1}),
    ("titles/lantern/rules/breeze/shift", [[0, {"value": 0.0, "from": "assumed"}], [3, "5 pp"]]),
    ("titles/lantern/rules/breeze/shift", {"value": [[0, 0.0], [3, "5 pp"]], "from": "fitted"}),
    ("machines/shingle/play_time", "1 MIN"),
    ("study/switches_off", ["tide-help"]),
    ("venue/till", {"bundles": [{"credits": 5, "price_of": 4}], "card": {"holders": "20 %", "bonus": "150 %"}}),
    ("venue/technician", {"hours": {"friday": "18:00-24:00"}, "response": "5 min"}),
    ("machines/tug/prices", {"17:00": 3, "21:00": {"value": 1, "from": "measured"}}),
    ("limits", {"spend_per_visit": 30}),
]


@pytest.mark.parametrize(("path", "value"), SOUND)
def test_what_the_program_takes_the_editor_takes(path: str, value: Any) -> None:
    raw = changed(path, value)
    assert accepted(raw) and EDITOR.is_valid(raw)


FAULTS = [
    ("people/stay/median", 90),
    ("people/stay/median", "90"),
    ("people/stay/median", "90 parsecs"),
    ("people/stay/medium", "1 h"),
    ("people/stay/median", {"value": "1 h", "from": "guessed"}),
    ("people/stay/median", {"value": "1 h", "form": "measured"}),
    ("people/stay/median", {"value": "1 h"}),
    ("people/skill/sd", "0.3"),
    ("people/skill/sd", -0.1),
    ("people/party", {"sizes": {"1": "40 %", "5": 0.6}}),
    ("titles/tug/attempts/haul/chance", "140 %"),
    ("titles/tug/attempts/haul/chance", 50),
    ("titles/tug/rules/undertow/kind", "slop"),
    ("titles/tug/rules/undertow/per_point", "2"),
    ("titles/tug/rules/undertow/at_least", 0.5),
    ("titles/tug/play", "turn"),
    ("titles/tug/periods", 0),
    ("titles/tug/periods", 2.5),
    ("titles/tug", {"value": 1, "from": "measured"}),
    ("machines/tug/prise", 3),
    ("machines/tug/price", "2"),
    ("machines/tug/seats", 5),
    ("venue/hours/monday", "9 to 5"),
    ("venue/hours/monday", "09:70-12:00"),
    ("venue/arrivals/per_hour", {"noon": 4}),
    ("venue/arrivals/per_hour", {"12:00": -4}),
    ("venue/name", "  "),
    ("study/days", True),
    ("study/switches_off", "tide-help"),
    ("titles/lantern/rules/breeze/shift", [[0, 0.0, 1.0]]),
    ("colour", "red"),
    ("machines/tug/prices", {"five": 3}),
    ("machines/tug/prices", {"17:00": 2.5}),
    ("venue/till", {"bundles": [{"credits": 5}]}),
    ("limits", {"spend_per_day": 30}),
]


@pytest.mark.parametrize(("path", "value"), FAULTS)
def test_typical_slips_are_found_by_both(path: str, value: Any) -> None:
    """The twin of what is sound: each of these is refused, by the program and in the editor."""
    raw = changed(path, value)
    assert not accepted(raw) and not EDITOR.is_valid(raw)


@pytest.mark.parametrize("path", ["venue", "venue/name", "machines", "machines/tug/price", "titles/tug/periods"])
def test_what_is_left_out_is_found_by_both(path: str) -> None:
    raw = without(path)
    assert not accepted(raw) and not EDITOR.is_valid(raw)


def wrapped(path: str) -> dict[str, Any]:
    """A demo venue with an origin around what stands at a path."""
    return changed(path, {"value": table_at(demo(), steps(path)), "from": "measured", "note": "all of it"})


SECTIONS = ["venue", "venue/hours", "venue/arrivals", "people", "people/skill", "study", "titles/tug", "machines/tug",
            "titles/tug/attempts/haul", "titles/tug/rules/undertow", "titles/lantern/rules/breeze"]  # fmt: skip


@pytest.mark.parametrize("path", SECTIONS)
def test_a_whole_section_may_say_where_it_came_from(path: str) -> None:
    assert accepted(wrapped(path)) and EDITOR.is_valid(wrapped(path))


@pytest.mark.parametrize("path", SECTIONS)
def test_what_is_wrong_in_a_section_with_an_origin_is_found_by_both(path: str) -> None:
    """The twin: the same sections with an unknown key in them, and with a source that is none."""
    raw = wrapped(path)
    table_at(raw, [*steps(path), "value"])["colour"] = "red"
    assert not accepted(raw) and not EDITOR.is_valid(raw)
    raw = wrapped(path)
    table_at(raw, steps(path))["from"] = "guessed"
    assert not accepted(raw) and not EDITOR.is_valid(raw)


@pytest.mark.parametrize("path", ["titles", "machines", "titles/tug/attempts", "titles/tug/rules"])
def test_tables_whose_keys_are_the_authors_have_no_origin_as_a_whole(path: str) -> None:
    assert not accepted(wrapped(path)) and not EDITOR.is_valid(wrapped(path))


def test_a_file_as_a_whole_has_no_origin() -> None:
    raw = {"value": demo(), "from": "measured"}
    assert not accepted(raw) and not EDITOR.is_valid(raw)


def check_editor_takes(raw: dict[str, Any]) -> None:
    assume(accepted(raw))
    faults = list(EDITOR.iter_errors(raw))
    assert not faults, best_match(faults)


some = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much])


@settings(some, max_examples=25)
@given(mutants())
def test_no_editor_refuses_what_the_program_takes(raw: dict[str, Any]) -> None:
    """After any accident that leaves a file sound."""
    check_editor_takes(raw)


@pytest.mark.slow
@settings(some, max_examples=500)
@given(mutants())
def test_no_editor_refuses_what_the_program_takes_many_times(raw: dict[str, Any]) -> None:
    check_editor_takes(raw)


@pytest.mark.parametrize("part", [site.Site, site.Arrivals, people.Wallet, people.Choice, title.Attempt])
def test_every_key_is_there_with_what_it_is_and_its_default(part: type[BaseModel]) -> None:
    known = SCHEMA["$defs"][part.__name__]
    assert list(known["properties"]) == list(part.model_fields) and known["additionalProperties"] is False
    for key, field in part.model_fields.items():
        assert (field.description or "") in known["properties"][key].get("description", "")
        assert field.is_required() == (key in known.get("required", []))


def test_defaults_are_as_the_file_would_write_them() -> None:
    """Each default, put into the file, is taken by the program and by the editor."""
    raw = demo("bar")
    for key, item in SCHEMA["$defs"]["Patience"]["properties"].items():
        raw["people"].setdefault("patience", {})[key] = item["default"]
    assert raw["people"]["patience"]["mean"] == "6 min"
    assert accepted(raw) and EDITOR.is_valid(raw)
