"""Every number of a scenario, with where it came from: stated by its author, or a default."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from venue.scenario.load import Loaded, to_raw

NOT_STATED, DEFAULT = "not stated", "default (assumed)"
# What a title may say besides: left alone it does nothing, so that nothing is assumed.
_DIALS = {"weight", "strength", "block"}
_WORDS = {"about", "name", "money", "label", "title", "switch", "switches_off"}


@dataclass(frozen=True)
class Number:
    """One number: its key path, its value as plain data and as people write it, its source and a note."""

    path: tuple[str, ...]
    value: Any
    text: str
    source: str
    note: str


def numbers_of(loaded: Loaded) -> list[Number]:
    """Every number, defaults included. A number inherits the origin of the table or list that holds it."""
    given = set(loaded.given)

    def walk(item: Any, path: tuple[str, ...], inherited: tuple[str, str] | None) -> Iterator[Number]:
        origin = loaded.origins.get(path)
        inherited = (origin.source, origin.note) if origin else inherited
        if path and path[-1] in _WORDS:
            return
        if isinstance(item, dict):
            for key, value in item.items():
                yield from walk(value, (*path, str(key)), inherited)
        elif isinstance(item, list | tuple):
            if all(isinstance(value, list | tuple | dict) for value in item):
                for index, value in enumerate(item):
                    yield from walk(value, (*path, str(index)), inherited)
            elif all(_is_quantity(value) for value in item):
                yield number(item, path, inherited)
        elif _is_quantity(item) and (path in given or path[0] != "titles" or path[-1] not in _DIALS):
            yield number(item, path, inherited)

    def number(item: Any, path: tuple[str, ...], inherited: tuple[str, str] | None) -> Number:
        stated = any(path[:end] in given for end in range(1, len(path) + 1))
        source, note = inherited or (NOT_STATED if stated else DEFAULT, "")
        text = ", ".join(map(str, item)) if isinstance(item, list | tuple) else str(item)
        return Number(path, item, text, source, note)

    return list(walk(to_raw(loaded.scenario), (), None))


def _is_quantity(item: Any) -> bool:
    """Whether a value is a number, or a text that stands for one (a duration, hours)."""
    if isinstance(item, bool):
        return False
    return isinstance(item, int | float) or (isinstance(item, str) and item[:1].isdigit())
