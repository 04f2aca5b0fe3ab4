"""Raw scenarios for the tests: the three demo venues, and small changes to them."""

from __future__ import annotations

import copy
import tomllib
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from venue.errors import Problem, ScenarioError
from venue.scenario.load import check

FOLDER = Path(__file__).parents[2] / "scenarios"
DEMOS = ("pier", "bar", "mall")


@cache
def _read(name: str) -> dict[str, Any]:
    return tomllib.loads((FOLDER / f"{name}.toml").read_text(encoding="utf-8"))


def demo(name: str = "pier") -> dict[str, Any]:
    """Raw data of a demo venue, free to change."""
    return copy.deepcopy(_read(name))


def steps(path: str) -> list[str | int]:
    """A path written with slashes; digits are places in a list."""
    return [int(part) if part.isdigit() else part for part in path.split("/")]


def table_at(raw: Any, path: list[str | int]) -> Any:
    """The table or list at a path."""
    for part in path:
        raw = raw[part]
    return raw


def changed(path: str, value: Any, name: str = "pier") -> dict[str, Any]:
    """A demo venue with one value replaced or added."""
    raw = demo(name)
    *front, last = steps(path)
    table_at(raw, front)[last] = value
    return raw


def without(path: str, name: str = "pier") -> dict[str, Any]:
    """A demo venue with one key left out."""
    raw = demo(name)
    *front, last = steps(path)
    del table_at(raw, front)[last]
    return raw


def refused(raw: dict[str, Any]) -> tuple[Problem, ...]:
    """The problems that a scenario is refused for, each a sound line."""
    with pytest.raises(ScenarioError) as caught:
        check(raw, "file.toml")
    assert_lines(caught.value, "file.toml")
    return caught.value.problems


# Words that only those who write the program know.
JARGON = ("Input should", "validation", "pydantic", "dict", "tuple", "NoneType", "errors.", "after valid")


def assert_lines(error: ScenarioError, source: str) -> None:
    """Every problem is one printable line that names the source, a key, what is wrong and a fix, for people."""
    lines = str(error).split("\n")
    assert len(lines) == len(error.problems) >= 1
    for line, problem in zip(lines, error.problems, strict=True):
        assert line.startswith(f"{source}: ")
        assert line.isprintable()
        assert problem.path.strip() and problem.what.strip() and problem.fix.strip(), line
        assert len(line) - len(source) < 700, line
        for jargon in JARGON:
            assert jargon not in line.replace("dictat", ""), line
