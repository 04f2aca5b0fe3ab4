"""Texts and tables longer than any scenario needs are refused with their size and the limit, before they cost time."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from venue.errors import ScenarioError
from venue.scenario.load import check, load

from .building import changed, demo, refused

MANY = 1_000_000
# So many parts of a dotted key take the reader of TOML minutes.
POINTS = ".".join(["a"] * 100_000) + " = 1"


@pytest.mark.parametrize(
    "path, value, what",
    [
        ("venue/name", "x" * 201, "has 201 characters, must have at most 200"),
        ("venue/name", "x" * MANY, "has 1000000 characters, must have at most 200"),
        ("about", "x " * 1001, "has 2002 characters, must have at most 2000"),
        ("venue/credit_price", {"value": 1, "from": "assumed", "note": "x" * 2001},
         "has 2001 characters, must have at most 2000"),
        ("people/stay/median", "9" * 5000, "not a duration"),
        ("venue/hours/every_day", "10:00-" + "9" * 5000, f'"{"9" * 57}..." is not a time of day'),
    ],
)  # fmt: skip
def test_texts_without_end(path: str, value: Any, what: str) -> None:
    (problem,) = refused(changed(path, value))
    assert problem.what == what
    assert len(problem.line("x.toml")) < 400


def test_a_note_takes_the_marks_that_a_name_takes() -> None:
    # Joined emoji hold a mark that is no letter; what a terminal would obey is refused in both.
    joined = "\U0001f469\u200d\U0001f527 of the house"
    raw = changed("venue/credit_price", {"value": 1, "from": "measured", "note": joined})
    raw["venue"]["name"] = joined
    assert check(raw, "x").origins[("venue", "credit_price")].note == joined
    (problem,) = refused(changed("venue/credit_price", {"value": 1, "from": "measured", "note": "a\x1b[2J"}))
    assert problem.what == r"holds the control character \x1b, must be readable text"


def test_more_rows_than_a_venue_has() -> None:
    raw = demo()
    key = "shingle"
    raw["machines"] |= {f"m{number}": raw["machines"][key] for number in range(500)}
    (problem,) = refused(raw)
    assert (problem.path, problem.what) == ("machines", "holds more, must hold at most 500")


@pytest.mark.parametrize(
    "text, what",
    [
        (POINTS, "not TOML for a scenario: it is keys within keys without end"),
        ("a = 1 #" + "x" * (1 << 20), "is larger than 1048576 bytes"),
        ("a = " + "[" * 5000, "not TOML for a scenario: it nests without end"),
    ],
)
def test_files_that_are_no_scenario(tmp_path: Path, text: str, what: str) -> None:
    file = tmp_path / "big.toml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(ScenarioError) as caught:
        load(file)
    assert [problem.what for problem in caught.value.problems] == [what]


def test_a_change_of_many_points_is_none(tmp_path: Path) -> None:
    with pytest.raises(ScenarioError, match="is not KEY=VALUE"):
        check(demo(), "x").vary([POINTS])
