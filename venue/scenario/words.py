"""Words for people: key paths as TOML writes them, values as a file shows them, the nearest of some known words."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable
from datetime import date, datetime, time
from typing import Any

_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_LONGEST_VALUE = 60
_LONGEST_KEY = 80
_MOST_DIGITS = 400


def shown(path: Iterable[str | int]) -> str:
    """A key path as TOML writes it, `machines."left wing".price`; places in a list count from 1, `steps[item 1]`."""
    text = ""
    for part in path:
        if isinstance(part, int):
            text += f"[item {part + 1}]"
        else:
            text += ("." if text else "") + _key(part)
    return text


def _key(key: str) -> str:
    if _BARE_KEY.fullmatch(key):
        return _short(key, _LONGEST_KEY)
    return f'"{_short(_escaped(key), _LONGEST_KEY)}"'


def _escaped(text: str) -> str:
    return text.replace("\\", "\\\\").replace('"', '\\"')


def _short(text: str, most: int) -> str:
    return text if len(text) <= most else text[: most - 3] + "..."


def value_text(value: Any) -> str:
    """A value as the file shows it, kept short; nothing for what would not fit into a line."""
    if isinstance(value, str):
        return f'"{_short(_escaped(value), _LONGEST_VALUE)}"'
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int):
        digits = int(value.bit_length() * 0.30103) + 1
        return str(value) if digits < _LONGEST_VALUE else f"a number of {digits} digits"
    if isinstance(value, float | date | datetime | time):
        return str(value)
    if isinstance(value, list | tuple) and value and not any(isinstance(item, dict | list | tuple) for item in value):
        text = f"[{', '.join(value_text(item) for item in value)}]"
        return text if len(text) <= _LONGEST_VALUE else ""
    return ""


def with_value(path: str, value: Any) -> str:
    """`study.days = 0`, or the path alone where the value is too much for a line."""
    text = value_text(value)
    return f"{path} = {text}" if text else path


def type_name(value: Any) -> str:
    """What kind of TOML value this is."""
    names: tuple[tuple[type | tuple[type, ...], str], ...] = (
        (bool, "true or false"),
        ((int, float), "a number"),
        (str, "text"),
        (dict, "a table"),
        ((list, tuple), "a list"),
        (datetime, "a date and time"),
        (date, "a date"),
        (time, "a time"),
    )
    return next((name for kind, name in names if isinstance(value, kind)), "of another kind")


def listed(words: Iterable[str], joint: str = "or") -> str:
    """`a, b or c`."""
    *front, last = list(words)
    return f"{', '.join(front)} {joint} {last}" if front else last


def close(word: str, known: Iterable[str], cutoff: float = 0.6) -> str | None:
    """The known word nearest to one with a slip in it, if any is near."""
    near = difflib.get_close_matches(_short(word, _LONGEST_KEY), list(known), n=1, cutoff=cutoff)
    return near[0] if near else None


def nearest(word: str, known: Iterable[str]) -> str:
    """A fix for an unknown word: the nearest known one, or all of them."""
    known = list(known)
    near = close(word, known, 0.5)
    if near:
        return f'did you mean "{_short(near, _LONGEST_KEY)}"?'
    return f"known: {_short(', '.join(known), 300) if known else 'none'}"
