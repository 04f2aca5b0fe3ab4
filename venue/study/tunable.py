"""The one number that is turned when a title is tuned: where it stands in the scenario, and what it may be."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from venue.errors import InputError
from venue.scenario.load import Loaded, check, to_raw
from venue.scenario.overlay import key_path
from venue.scenario.slots import Slot, slot_at
from venue.scenario.words import nearest, shown
from venue.study.strengths import STRENGTH
from venue.units import seconds, show_seconds

# Values tried before closing in: half of them near the present one, half over all that may be.
_TRIED = 24
_HIGHEST_STRENGTH = 10.0
# Wider bounds than this are no guide, and a number is looked for within so many times its present size.
_FARTHEST = 10
_TIMES = 4
_NOTHING = object()


class Tunable:
    """The one number that is turned: where it is, what it may be, and the title with another value of it.

    Parameters
    ----------
    by
        "strength", or a key path within the title (or the scenario).
    """

    def __init__(self, loaded: Loaded, title: str, by: str) -> None:
        self.loaded = loaded
        self._raw = to_raw(loaded.scenario)
        self.path: tuple[str | int, ...] = ("study", STRENGTH) if by == STRENGTH else _path(by, title, self._raw)
        self.key = shown(self.path)
        slot = slot_at(self.path, self._raw)
        before = _at(self._raw, self.path)
        if slot is None or before is _NOTHING:
            raise InputError(f"--by {by}: {_unknown(self._raw, self.path)}")
        self._in_seconds = slot.unit == "s"
        number = seconds(before) if self._in_seconds else before
        if isinstance(number, bool) or not isinstance(number, int | float):
            raise InputError(f"--by {by}: {self.key} is not a number; name one that is")
        self.whole = slot.type is int or self._in_seconds
        self.before = float(number)
        self.low, self.high = self._range(slot)

    def _range(self, slot: Slot) -> tuple[float, float]:
        low, _, high = slot.bounds()
        if self.path == ("study", STRENGTH):
            return 0.0, _HIGHEST_STRENGTH
        low, high = -math.inf if low is None else low, math.inf if high is None else high
        if high - low > 2 * _FARTHEST:  # wide bounds say little: look about the present value
            far = max(10.0 if self.whole else 5.0, _TIMES * abs(self.before))
            low, high = max(low, self.before - far), min(high, self.before + far)
        return low, high

    def values(self) -> list[float]:
        """Values to try before closing in, rising."""
        near = (self.high - self.low) / 10
        spans = [(self.low, self.high), (max(self.low, self.before - near), min(self.high, self.before + near))]
        places = 0 if self.whole else 12
        found = {
            round(value, places) for low, high in spans for value in np.linspace(low, high, _TRIED // 2 + 1).tolist()
        }
        return sorted(value for value in found | {self.before} if self.low <= value <= self.high)

    def text(self, value: float) -> str:
        """A value as the scenario writes it."""
        if self._in_seconds:
            return f'"{show_seconds(value)}"'
        return str(round(value)) if self.whole else f"{value:.10g}"

    def set(self, value: float) -> Loaded:
        """The scenario with another value.

        Raises
        ------
        ScenarioError
            If the value contradicts other parts of the scenario.
        """
        return set_all([self], [value])

    def written(self, value: float) -> Any:
        """A value as a file would have it."""
        return show_seconds(value) if self._in_seconds else round(value) if self.whole else value

    @property
    def raw(self) -> Any:
        """The scenario as plain data."""
        return self._raw

    @property
    def path_of_line(self) -> tuple[str | int, ...]:
        """Path of what is written for it: of a number within a list, the whole list."""
        return self.path[: next((place for place, key in enumerate(self.path) if isinstance(key, int)), len(self.path))]

    def between(self, low: float, high: float) -> None:
        """Narrow what it may be.

        Raises
        ------
        InputError
            If nothing lies between, or the present value does not.
        """
        low, high = max(low, self.low), min(high, self.high)
        if not low < high:
            raise InputError(f"--between {self.key}: nothing lies between the bounds; the scenario allows "
                             f"{self.text(self.low)} to {self.text(self.high)}")  # fmt: skip
        if not low <= self.before <= high:
            raise InputError(f"--between {self.key}={self.text(low)}:{self.text(high)}: the present value, "
                             f"{self.text(self.before)}, lies outside; widen the bounds")  # fmt: skip
        self.low, self.high = low, high

    def line(self, value: float) -> tuple[str, str]:
        """What to put into the scenario, and the same as a `--set` text."""
        line, (change,) = lines_of([self], [value])
        return line, change


def set_all(tunables: Sequence[Tunable], values: Sequence[float]) -> Loaded:
    """The scenario with other values of several numbers.

    Raises
    ------
    ScenarioError
        If they contradict other parts of the scenario.
    """
    first = tunables[0]
    raw = _all_set(tunables, values)
    return replace(first.loaded, scenario=check(raw, first.loaded.source).scenario)


def lines_of(tunables: Sequence[Tunable], values: Sequence[float]) -> tuple[str, tuple[str, ...]]:
    """What to put into the scenario for several numbers, table by table, and the same as `--set` texts."""
    raw = _all_set(tunables, values)
    tables: dict[str, dict[str, str]] = {}
    changes: dict[str, str] = {}
    for item, value in zip(tunables, values, strict=True):
        path = item.path_of_line
        text = item.text(value) if path == item.path else _toml(_at(raw, path))
        tables.setdefault(shown(path[:-1]), {})[shown(path[-1:])] = text
        changes[shown(path)] = text
    blocks = ["\n".join([f"[{table}]", *(f"{key} = {text}" for key, text in rows.items())])
              for table, rows in tables.items()]  # fmt: skip
    return "\n\n".join(blocks), tuple(f"{key}={text}" for key, text in changes.items())


def _all_set(tunables: Sequence[Tunable], values: Sequence[float]) -> Any:
    raw = tunables[0].raw
    for item, value in zip(tunables, values, strict=True):
        raw = _with(raw, item.path, item.written(value))
    return raw


def _path(by: str, title: str, raw: Any) -> tuple[str | int, ...]:
    keys = list(key_path(by))
    if not keys:
        raise InputError(f'--by "{by}": is not a key; write it like rules.NAME.per_point')
    if keys[0] != "titles":
        keys = ["titles", title, *keys]
    if keys[1:2] != [title]:
        raise InputError(f"--by {by}: lies in another title; name a number of {title}")
    path: list[str | int] = []
    for key in keys:
        # Places in a list count from 0, as `venue check` shows them.
        path.append(int(key) if isinstance(_at(raw, path), list | tuple) and key.isdecimal() else key)
    return tuple(path)


def _at(raw: Any, path: Sequence[str | int]) -> Any:
    for key in path:
        try:
            raw = raw[key]
        except (KeyError, IndexError, TypeError):
            return _NOTHING
    return raw


def _with(raw: Any, path: Sequence[str | int], value: Any) -> Any:
    if not path:
        return value
    key, *rest = path
    if isinstance(raw, list | tuple) and isinstance(key, int):
        return [_with(item, rest, value) if place == key else item for place, item in enumerate(raw)]
    return {**raw, key: _with(raw[key], rest, value)}


def _unknown(raw: Any, path: tuple[str | int, ...]) -> str:
    """What is wrong with a path that leads nowhere: the first key that is not there, and the nearest that is."""
    for end in range(1, len(path) + 1):
        if _at(raw, path[:end]) is _NOTHING:
            inside = _at(raw, path[: end - 1])
            where = f"{shown(path[: end - 1])} has no {shown(path[end - 1 : end])}"
            return f"{where}; {nearest(str(path[end - 1]), list(inside))}" if isinstance(inside, dict) else where
    return "is no number; name one that is"


def _toml(item: Any) -> str:
    if isinstance(item, dict):
        return "{ " + ", ".join(f"{shown((key,))} = {_toml(value)}" for key, value in item.items()) + " }"
    if isinstance(item, list | tuple):
        return "[" + ", ".join(_toml(value) for value in item) + "]"
    return f'"{item}"' if isinstance(item, str) else f"{item:.10g}" if isinstance(item, float) else str(item)
