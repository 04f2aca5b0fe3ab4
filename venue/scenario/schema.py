"""The scenario file as a JSON Schema (2020-12), by which an editor completes keys and marks slips while one types.

It holds for the file as it is written: durations, chances and hours as text with their units, and values that say where
they came from. What only several keys together can tell, or only the whole file, is left to `venue check`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from typing import Any

from venue import units
from venue.scenario.origin import SOURCES, Path, has_authors_keys
from venue.scenario.scenario import Scenario

Schema = dict[str, Any]

_NUMBER = r"[0-9]+(\.[0-9]*)?|\.[0-9]+"
_CLOCK = r"\s*([0-2]?[0-9]|3[0-5]):[0-5][0-9]\s*|\s*36:00\s*"
_BOUNDS = {"ge": "minimum", "gt": "exclusiveMinimum", "le": "maximum", "lt": "exclusiveMaximum"}
_SEVERAL = ("anyOf", "oneOf", "allOf", "prefixItems")
_EACH = ("items", "additionalProperties")
# Where a part stands in the file, as far as its place decides which of its tables have keys of the author's.
_PATHS: dict[str, Path] = {"Title": ("titles", "(name)")}
_ELSEWHERE: Path = ("(elsewhere)",)


def scenario_schema() -> Schema:
    """The schema as plain data for JSON: every key with its description, unit and default; unknown keys refused."""
    raw = Scenario.model_json_schema(mode="validation")
    parts = {name: _table(part) for name, part in raw.pop("$defs").items()}
    whole = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **_table(raw),
        "title": "A venue's scenario",
        "$defs": parts | {name: {"type": "string", **text} for name, text in _TEXTS.items()},
    }
    _let_origins_in(whole, parts)
    return whole


def _any_case(word: str) -> str:
    return "".join(f"[{letter}{letter.upper()}]" if letter.isalpha() else letter for letter in word)


_QUANTITY = rf"({_NUMBER})\s*({'|'.join(map(_any_case, sorted(units.DURATIONS, key=len, reverse=True)))})\s*"
_PERCENT = r"0*(100(\.0*)?|[0-9]{1,2}(\.[0-9]*)?|\.[0-9]+)"
# Texts that stand for numbers, and those that say where a number came from.
_TEXTS: dict[str, Schema] = {
    "duration": {"pattern": rf"^\s*\+?{_QUANTITY}([-+]?{_QUANTITY})*$", "examples": ["90 s", "2 min", "14 days"]},
    "percent": {"pattern": rf"^\s*\+?{_PERCENT}\s*(%|[pP][pP])\s*$", "examples": ["45 %"]},
    "percentage points": {"pattern": rf"^\s*[-+]?{_PERCENT}\s*(%|[pP][pP])\s*$", "examples": ["2 pp"]},
    "share": {"pattern": rf"^\s*\+?({_NUMBER})\s*(%|[pP][pP])\s*$", "examples": ["10 %"]},
    "opening hours": {"pattern": f"^({_CLOCK})[-–]({_CLOCK})$|^closed$", "examples": ["10:00-22:00", "closed"]},
    "source": {"enum": list(SOURCES), "description": "where the value came from"},
    "note": {"description": "how it was found, when, by whom"},
}


def _text(name: str) -> Schema:
    return {"$ref": f"#/$defs/{name}"}


# How numbers of a unit are written, where that is not simply as numbers.
_WRITTEN: dict[str, Callable[[Schema], Schema]] = {
    "s": lambda _: _text("duration"),
    "s after midnight": lambda _: _text("opening hours"),
    "chance": lambda number: {"anyOf": [number, _text("percent")]},
    "share": lambda number: {"anyOf": [number, _text("share")]},
    "change of chance": lambda number: {"anyOf": [number, _text("percentage points")]},
}
_CALLED = {"s": "a duration with its unit", "s after midnight": "opening hours"}


def _table(part: Schema) -> Schema:
    """A part of the scenario: its keys, without the headings that nobody asked for."""
    properties = {key: _property(item) for key, item in part.get("properties", {}).items()}
    return {key: item for key, item in part.items() if key != "title"} | {"properties": properties}


def _property(field: Schema) -> Schema:
    """One key: what it takes, and in words its unit and what holds where it is left out."""
    default = field.get("default")
    said, unit = field.get("description", ""), next(_units_in(field), "")
    shape = _shape({key: item for key, item in field.items() if key not in ("default", "description", "title")})
    unit = _CALLED.get(unit, unit)
    if unit:
        said = f"{said} ({unit})".strip()
    if isinstance(default, float) and not math.isfinite(default):
        said, default = f"{said}; {default} if left out", None
    if unit == _CALLED["s"] and isinstance(default, int | float):
        default = units.show_seconds(default)
    found = {"description": said} if said else {}
    return found | shape | ({} if default is None or isinstance(default, dict) else {"default": default})


def _units_in(item: Any) -> Iterator[str]:
    """The unit of a value; of a list or table, of what is in it."""
    if isinstance(item, dict):
        if isinstance(item.get("unit"), str):
            yield item["unit"]
        for key in (*_SEVERAL[:3], *_EACH, "patternProperties"):
            for inner in item.get(key, []) if key in _SEVERAL else [item.get(key)]:
                yield from _units_in(inner)


def _shape(item: Schema) -> Schema:
    """What a value may look like in the file."""
    found = {key: value for key, value in item.items() if key not in ("unit", "discriminator", "title")}
    found = {_BOUNDS.get(key, key): value for key, value in found.items()}
    found = {key: value for key, value in found.items() if not (isinstance(value, float) and math.isinf(value))}
    for key in set(_SEVERAL) & set(found):
        found[key] = [_shape(each) for each in found[key] if each != {"type": "null"}]  # a file has no word for nothing
    for key in set(_EACH) & set(found):
        found[key] = _shape(found[key]) if isinstance(found[key], dict) else found[key]
    if "patternProperties" in found:
        ((pattern, each),) = found.pop("patternProperties").items()
        found |= {"propertyNames": {"pattern": pattern}, "additionalProperties": _shape(each)}
    if len(found.get("anyOf", [])) == 1:
        found |= found.pop("anyOf")[0]
    written = _WRITTEN.get(item.get("unit", ""))
    return written(found) if written else found


def _let_origins_in(whole: Schema, parts: dict[str, Schema]) -> None:
    """Let each value, list, section and table say where it came from, but for tables whose keys are the author's."""
    for part, path in ((whole, ()), *((part, _PATHS.get(name, _ELSEWHERE)) for name, part in parts.items())):
        part["properties"] = {
            key: _or_origin(item, told=not has_authors_keys((*path, key))) for key, item in part["properties"].items()
        }


def _or_origin(item: Schema, *, told: bool = True) -> Schema:
    """What is taken, with whatever is in it, or the same with its origin where it may have one."""
    words = {key: item[key] for key in ("description", "default") if key in item}
    shape = {key: value for key, value in item.items() if key not in words}
    if "prefixItems" in shape:
        shape["prefixItems"] = [_or_origin(each) for each in shape["prefixItems"]]
    for key in set(_EACH) & set(shape):
        if isinstance(shape[key], dict):
            shape[key] = _or_origin(shape[key])
    if not told:
        return words | shape
    origin = {
        "type": "object",
        "properties": {"value": shape, "from": {"$ref": "#/$defs/source"}, "note": {"$ref": "#/$defs/note"}},
        "required": ["value", "from"],
        "additionalProperties": False,
    }
    return words | {"anyOf": [*(shape["anyOf"] if set(shape) == {"anyOf"} else [shape]), origin]}
