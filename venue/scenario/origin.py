"""Where a number came from. Any value in a scenario may be written as a small table that says so:

    mean_attack = { value = "8 s", from = "measured", note = "stopwatch, 40 attacks" }

The table is taken off before the scenario is checked; what it said is kept by the value's dotted path.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from venue.errors import Fault, Problem
from venue.scenario.fields import readable_note
from venue.scenario.words import close, listed, shown, with_value

SOURCES = ("measured", "fitted", "common practice", "assumed")
KEYS = ("value", "from", "note")
DEEPEST = 16

Path = tuple[str | int, ...]


@dataclass(frozen=True)
class Origin:
    """The source of one number and a remark."""

    source: str
    note: str = ""


def has_authors_keys(path: Path) -> bool:
    """Whether the table at this path has keys that the author of the scenario invents."""
    if len(path) == 1:
        return path[0] in ("titles", "machines")
    return len(path) == 3 and path[0] == "titles" and path[2] in ("attempts", "rules")


def is_origin(item: Any, path: Path) -> bool:
    """Whether a TOML value is a table that says where its value came from; a file as a whole is none."""
    known = isinstance(item, dict) and "value" in item and set(item) <= set(KEYS)
    return known and bool(path) and not has_authors_keys(path)


def take_off(raw: Any) -> tuple[Any, dict[tuple[str, ...], Origin], list[Problem]]:
    """Split raw TOML data into plain values, origins by path, and what is wrong with the origins.

    Lists become tuples on the way, since nothing in a scenario changes after loading.
    """
    origins: dict[tuple[str, ...], Origin] = {}
    problems: list[Problem] = []

    def walk(item: Any, path: Path) -> Any:
        if len(path) > DEEPEST:
            problems.append(Problem(shown(path[:3]), "holds tables within tables without end", "take them out"))
            return None
        if is_origin(item, path) or _meant_as_origin(item, path):
            faults = list(_faults(item, path))
            problems.extend(faults)
            if not faults:
                origins[tuple(map(str, path))] = Origin(item["from"], item.get("note", ""))
            value = item.get("value")
            return None if is_origin(value, path) else walk(value, path)
        if isinstance(item, dict):
            return {key: walk(value, (*path, str(key))) for key, value in item.items()}
        if isinstance(item, list | tuple):
            return tuple(walk(value, (*path, index)) for index, value in enumerate(item))
        return item

    return walk(raw, ()), origins, problems


def _meant_as_origin(item: Any, path: Path) -> bool:
    """Whether a table is an origin with a slip in it: no value, or a key that is none of the three."""
    if not isinstance(item, dict) or not path or has_authors_keys(path):
        return False
    if "value" not in item:
        return "from" in item and set(item) <= {"from", "note"}
    others = set(item) - {"value"}
    return "from" in item or (bool(others) and all(_near_key(key) for key in others))


def _near_key(key: str) -> str | None:
    return "from" if key in ("source", "origin") else close(key, KEYS)


def _key_fix(key: str) -> str:
    near = _near_key(key)
    return f'did you mean "{near}"?' if near else "put it into the value, or take it out"


def _faults(item: dict[str, Any], path: Path) -> list[Problem]:
    where = shown(path)
    unknown = [key for key in item if key not in KEYS]
    if unknown:
        return [Problem(shown((*path, key)), 'unknown key beside "value"', _key_fix(key)) for key in unknown]
    if "value" not in item:
        return [Problem(where, "says where it comes from but gives no value", "add value = ...")]
    if is_origin(item["value"], path):
        return [Problem(where, "says twice where it comes from", "keep one of the two")]
    if "from" not in item:
        return [Problem(f"{where}.from", "is missing", f'add from = "{SOURCES[0]}", or {_quoted(SOURCES[1:])}')]
    source, note = item["from"], item.get("note", "")
    faults = []
    if source not in SOURCES:
        near = close(source, SOURCES) if isinstance(source, str) else None
        fix = f'did you mean "{near}"?' if near else f"write one of {_quoted(SOURCES)}"
        faults.append(Problem(with_value(f"{where}.from", source), "is no source of numbers", fix))
    if not isinstance(note, str):
        faults.append(Problem(with_value(f"{where}.note", note), "must be text", "put it in quotes"))
    else:
        try:
            readable_note(note)
        except Fault as fault:
            faults.append(Problem(with_value(f"{where}.note", note), fault.what, fault.fix))
    return faults


def _quoted(words: tuple[str, ...]) -> str:
    return listed(f'"{word}"' for word in words)
