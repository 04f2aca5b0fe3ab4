"""Where a number came from. Any value in a scenario may be written as a small table that says so:

    mean_attack = { value = "8 s", from = "measured", note = "stopwatch, 40 attacks" }

The table is taken off before the scenario is checked; what it said is kept by the value's dotted path.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from venue.errors import Problem

SOURCES = ("measured", "fitted", "common practice", "assumed")


@dataclass(frozen=True)
class Origin:
    """The source of one number and a remark."""

    source: str
    note: str = ""


def take_off(raw: Any, path: tuple[str, ...] = ()) -> tuple[Any, dict[tuple[str, ...], Origin], list[Problem]]:
    """Split raw TOML data into plain values, origins by path, and what is wrong with the origins.

    Lists become tuples on the way, since nothing in a scenario changes after loading.
    """
    origins: dict[tuple[str, ...], Origin] = {}
    problems: list[Problem] = []

    def walk(item: Any, path: tuple[str, ...]) -> Any:
        if isinstance(item, dict) and "value" in item and set(item) <= {"value", "from", "note"}:
            source, note = item.get("from"), item.get("note", "")
            if source not in SOURCES:
                problems.append(
                    Problem(
                        ".".join(path),
                        f"from = {source!r} is not a source",
                        f"use one of {', '.join(SOURCES)}",
                    )
                )
            elif not isinstance(note, str):
                problems.append(Problem(".".join(path), f"note = {note!r} is not text", "put it in quotes"))
            else:
                origins[path] = Origin(source, note)
            return walk(item["value"], path)
        if isinstance(item, dict):
            return {key: walk(value, (*path, str(key))) for key, value in item.items()}
        if isinstance(item, list | tuple):
            return tuple(walk(value, (*path, str(index))) for index, value in enumerate(item))
        return item

    return walk(raw, path), origins, problems
