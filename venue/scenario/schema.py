"""The scenario file as a JSON Schema (2020-12), by which an editor completes keys and marks slips while one types.

It holds for the file as it is written: durations, chances and hours as text with their units, and values that say where
they came from. What only several keys together can tell, or only the whole file, is left to `venue check`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator
from typing import Any

from venue import units
from venue.scenario.origin import SOURCES
from venue.scenario.scenario import Scenario

Schema = dict[str, Any]

_NUMBER = r"[0-9]+(\.[0-9]*)?|\.[0-9]+"
_CLOCK = r"\s*([0-2]?[0-9]|3[0-5]):[0-5][0-9]\s*|\s*36:00\s*"
_BOUNDS = {"ge": "minimum", "gt": "exclusiveMinimum", "le": "maximum", "lt": "exclusiveMaximum"}
_SEVERAL = ("anyOf", "oneOf", "allOf", "prefixItems")
_EACH = ("items", "additionalProperties")


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
    """Let each value, list and table of like values say where it came from."""
    for part in (whole, *parts.values()):
        part["properties"] = {key: _or_origin(item, parts) for key, item in part["properties"].items()}


def _or_origin(item: Schema, parts: dict[str, Schema], *, listed: bool = False) -> Schema:
    """What is taken, or the same with its origin; a section of the file has none, a table in a list has."""
    words = {key: item[key] for key in ("description", "default") if key in item}
    shape = {key: value for key, value in item.items() if key not in words}
    if _holds_parts(shape, parts) and not listed:
        return words | shape
    if "prefixItems" in shape:
        shape["prefixItems"] = [_or_origin(each, parts, listed=True) for each in shape["prefixItems"]]
    for key in set(_EACH) & set(shape):
        if isinstance(shape[key], dict):
            shape[key] = _or_origin(shape[key], parts, listed=key == "items")
    origin = {
        "type": "object",
        "properties": {"value": shape, "from": {"$ref": "#/$defs/source"}, "note": {"$ref": "#/$defs/note"}},
        "required": ["value", "from"],
        "additionalProperties": False,
    }
    return words | {"anyOf": [*(shape["anyOf"] if set(shape) == {"anyOf"} else [shape]), origin]}


def _holds_parts(shape: Schema, parts: dict[str, Schema]) -> bool:
    """Whether a value is a section of the file, which has no origin as a whole; a table of like values is none."""
    if "$ref" in shape:
        if _name(shape) in _TEXTS:
            return False
        keys = [{**item, "description": "", "default": 0} for item in parts[_name(shape)]["properties"].values()]
        return any(item != keys[0] for item in keys)
    inner = [each for key in ("anyOf", "oneOf", "allOf") for each in shape.get(key, [])]
    inner += [shape[key] for key in _EACH if shape.get("type") == "object" and isinstance(shape.get(key), dict)]
    return any(_holds_parts(each, parts) for each in inner)


def _name(reference: Schema) -> str:
    return re.sub(r".*/", "", reference["$ref"])
