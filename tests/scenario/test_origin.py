"""Where numbers come from: a small table beside any value, taken off before the scenario is checked."""

from __future__ import annotations

from typing import Any

import pytest

from venue.scenario.load import check, load
from venue.scenario.origin import SOURCES, Origin

from .building import FOLDER, changed, demo, refused

KNOWN = '"measured", "fitted", "common practice" or "assumed"'


@pytest.mark.parametrize("source", SOURCES)
def test_each_number_may_say_where_it_comes_from(source: str) -> None:
    plain = check(changed("study/days", 42), "x")
    loaded = check(changed("study/days", {"value": 42, "from": source, "note": "as agreed"}), "x")
    assert loaded.scenario == plain.scenario
    assert loaded.origins[("study", "days")] == Origin(source, "as agreed")
    assert ("study", "days") not in plain.origins


def test_tables_lists_and_what_is_in_them_may_say_so_too() -> None:
    raw = demo("bar")
    # Nothing else of the people, since much of it says where it came from already.
    raw["people"] = {"skill": {"value": {"mean": 0.1, "sd": {"value": 0.4, "from": "fitted"}}, "from": "measured"}}
    raw["titles"]["moth"]["rules"]["draught"]["steps"] = {
        "value": [{"left": "60 s", "per_point": {"value": "1.5 pp", "from": "assumed"}}],
        "from": "common practice",
    }
    loaded = check(raw, "x")
    steps = ("titles", "moth", "rules", "draught", "steps")
    found = {path: item.source for path, item in loaded.origins.items() if path[0] in ("people", "titles")}
    assert found == {
        ("people", "skill"): "measured",
        ("people", "skill", "sd"): "fitted",
        steps: "common practice",
        (*steps, "0", "per_point"): "assumed",
    }
    assert loaded.scenario.people.skill.sd == 0.4


def test_demo_venues_state_their_sources() -> None:
    origins = load(FOLDER / "pier.toml").origins
    assert origins[("venue", "credit_price")].source == "measured"
    assert {item.source for item in origins.values()} == set(SOURCES)


@pytest.mark.parametrize(
    ("item", "line"),
    [
        ({"value": 0.5}, f'venue.credit_price.from: is missing; add from = {KNOWN.replace(", ", ", or ", 1)}'),
        ({"value": 0.5, "from": "hearsay"},
         f'venue.credit_price.from = "hearsay": is no source of numbers; write one of {KNOWN}'),
        ({"value": 0.5, "from": "measurd"},
         'venue.credit_price.from = "measurd": is no source of numbers; did you mean "measured"?'),
        ({"value": 0.5, "from": 3}, f"venue.credit_price.from = 3: is no source of numbers; write one of {KNOWN}"),
        ({"value": 0.5, "from": ["measured"]},
         f'venue.credit_price.from = ["measured"]: is no source of numbers; write one of {KNOWN}'),
        ({"value": 0.5, "from": "measured", "note": 3}, "venue.credit_price.note = 3: must be text; put it in quotes"),
        ({"value": 0.5, "from": "measured", "note": "a\x1bb"},
         r'venue.credit_price.note = "a\x1bb": holds the control character \x1b, must be readable text; take it out'),
        ({"value": 0.5, "form": "measured"},
         'venue.credit_price.form: unknown key beside "value"; did you mean "from"?'),
        ({"value": 0.5, "source": "measured"},
         'venue.credit_price.source: unknown key beside "value"; did you mean "from"?'),
        ({"value": 0.5, "from": "measured", "unit": "x"},
         'venue.credit_price.unit: unknown key beside "value"; put it into the value, or take it out'),
        ({"from": "measured"}, "venue.credit_price: says where it comes from but gives no value; add value = ..."),
        ({"from": "measured", "note": "x"},
         "venue.credit_price: says where it comes from but gives no value; add value = ..."),
        ({"value": {"value": 1, "from": "measured"}, "from": "measured"},
         "venue.credit_price: says twice where it comes from; keep one of the two"),
        ({"value": -1, "from": "measured"},
         "venue.credit_price = -1: must lie between 0 and 1000000; write 0 or more"),
    ],
)  # fmt: skip
def test_a_malformed_source_is_told_as_such(item: dict[str, Any], line: str) -> None:
    problems = refused(changed("venue/credit_price", item))
    assert [problem.line("x").removeprefix("x: ") for problem in problems] == [line]


def test_a_weekday_beside_the_value_of_a_table() -> None:
    (problem,) = refused(changed("venue/arrivals/weekday/monday", 1.0))
    assert problem.line("x") == (
        'x: venue.arrivals.weekday.monday: unknown key beside "value"; put it into the value, or take it out'
    )
