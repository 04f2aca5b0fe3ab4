"""What is wrong with a scenario, in words for people: file, key, value, bound and the likely fix on one line."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from pydantic import ValidationError

from venue import units
from venue.errors import Fault, Problem
from venue.scenario.by_clock import steps_by_clock
from venue.scenario.slots import Key, Slot, choices, homes, rule_kinds, slot_at
from venue.scenario.words import close, listed, nearest, shown, type_name, value_text, with_value

_BOUNDS = ("greater_than_equal", "greater_than", "less_than_equal", "less_than", "finite_number")
_WANTED = {
    "float_type": "a number", "int_type": "a whole number", "int_from_float": "a whole number",
    "int_parsing_size": "a whole number", "string_type": "text", "bool_type": "true or false",
    "dict_type": "a table", "model_type": "a table", "model_attributes_type": "a table", "tuple_type": "a list",
}  # fmt: skip
_EXAMPLES = {
    "name": '"The Landing"', "credit_price": "0.5", "per_hour": '{ "10:00" = 6 }', "periods": "3",
    "period_length": '"50 s"', "mean_attack": '"5 s"', "share": "1.0", "points": "1", "chance": '"50 %"',
    "per_point": '"2.5 pp"', "shift": "[[0, 0.0], [4, 0.08]]", "steps": '[{ left = "60 s", per_point = "2 pp" }]',
    "left": '"60 s"', "last": '"15 s"', "when": '"would tie"', "at_least": '"60 %"', "exactly": '"60 %"', "price": "2",
    "after": "3", "gain": '"5 pp"', "distance": "600", "pace": "10", "step": "0.1", "rungs": "5", "credits": "5",
    "price_of": "4", "every": '"12 s"', "lengths": "5", "odds": "[[0, 1.0], [20, 3.0]]",
}  # fmt: skip
_MOST_HOMES = 3
# Keys that were renamed, by their table; docs/CHANGELOG.md lists them.
_RENAMED = {("titles", "floor"): "minimum_chance", ("titles", "ceiling"): "maximum_chance"}


def explain(error: ValidationError, plain: Any) -> list[Problem]:
    """Problems for the errors that pydantic found in plain data."""
    items = error.errors(include_url=False)
    return [_problem(item, plain) for item in items if not _follows_from_another(item, items)]


def _follows_from_another(item: Mapping[str, Any], items: Sequence[Mapping[str, Any]]) -> bool:
    """Whether a list is called too short only because what is in it was refused."""
    loc = item["loc"]
    return item["type"] == "too_short" and any(
        other is not item and len(other["loc"]) > len(loc) and other["loc"][: len(loc)] == loc for other in items
    )


def _path(loc: Sequence[Key]) -> tuple[Key, ...]:
    """Pydantic's place of an error as a key path of the file."""
    path = [part for part in loc if part != "[key]"]
    # Within a rule pydantic names the kind too, and times of day are seconds by now.
    if len(path) > 4 and path[0] == "titles" and path[2] == "rules":
        del path[4]
    if len(path) > 3 and steps_by_clock(tuple(path[:3])):
        path[3] = units.show_clock(float(path[3]))
    return tuple(path)


def _problem(error: Mapping[str, Any], plain: Any) -> Problem:
    path = _path(error["loc"])
    kind, given, context = error["type"], error["input"], error.get("ctx", {})
    where = with_value(shown(path), given) if path else "scenario"
    if "[key]" in error["loc"]:
        where = f"{shown(path)}: its name"
    slot = slot_at(path, plain)
    if kind == "extra_forbidden":
        return _unknown_key(path, plain)
    if kind == "missing":
        return Problem(shown(path), "is missing", _add(path))
    if kind == "value_error":
        found = context["error"]
        return Problem(where, found.what, found.fix) if isinstance(found, Fault) else Problem(where, str(found))
    if kind == "literal_error" and slot:
        return Problem(where, f"must be {_quoted(choices(slot))}", _pick(given, choices(slot)))
    if kind.startswith("union_tag"):
        return _rule_kind(path, given)
    if kind in ("too_short", "too_long"):
        return _length(path, context, slot)
    if kind in _BOUNDS and slot:
        return _bound(where, given, slot, kind)
    if kind == "float_type" and slot and isinstance(given, int) and not isinstance(given, bool):
        return _bound(where, given, slot, kind)  # too large for a float
    if kind in _WANTED:
        return _wrong_type(where, path, given, _WANTED[kind])
    return Problem(where, "cannot be used", "compare it with the file that `venue new` writes")


def _unknown_key(path: tuple[Key, ...], plain: Any) -> Problem:
    table, key = path[:-1], str(path[-1])
    slot = slot_at(table, plain)
    known = slot.keys() if slot else []
    parts = [name for name in known if key in name.split("_")]
    near = close(key, known, 0.75)
    elsewhere = [home for home in homes(key) if home != f"[{shown(table)}]"]
    renamed = _RENAMED.get((str(path[0]), key))
    if renamed in known:
        fix = f"it is called {renamed} now"
    elif near:
        fix = f'did you mean "{near}"?'
    elif parts:
        fix = f"did you mean {_quoted(parts)}?"
    elif 0 < len(elsewhere) <= _MOST_HOMES:
        fix = f"it belongs to {listed(elsewhere)}"
    else:
        fix = nearest(key, known)
    return Problem(shown(path), "unknown key", fix)


def _add(path: tuple[Key, ...]) -> str:
    key = path[-1]
    if isinstance(key, int):
        return "add it; a row is two numbers, like [4, 0.08]"
    if key in _EXAMPLES:
        return f"add it, like {key} = {_EXAMPLES[key]}"
    table = shown(path)
    return f"add [{table}.NAME]" if key in ("machines", "titles", "attempts") else f"add [{table}]"


def _length(path: tuple[Key, ...], context: Mapping[str, Any], slot: Slot | None) -> Problem:
    if isinstance(path[-1], int):
        return Problem(shown(path), "must be two numbers", "write it like [4, 0.08]")
    if "max_length" in context:
        found = context.get("actual_length")
        holds = "holds more" if found is None else f"holds {found}"
        return Problem(shown(path), f"{holds}, must hold at most {context['max_length']}", "take some out")
    # A rule may leave out what it would otherwise list.
    fix = "leave it out for all" if slot and slot.optional else _add(path).replace("add it", "write it")
    return Problem(shown(path), "is empty, must hold at least one", fix)


def _rule_kind(path: tuple[Key, ...], given: Any) -> Problem:
    where, known = f"{shown(path)}.kind", rule_kinds()
    if not isinstance(given, dict) or "kind" not in given:
        return Problem(where, "is missing", f"add kind = {_quoted(known)}")
    return Problem(with_value(where, given["kind"]), f"must be {_quoted(known)}", _pick(given["kind"], known))


def _pick(given: Any, known: list[str]) -> str:
    near = close(given, known) if isinstance(given, str) else None
    return f'did you mean "{near}"?' if near else "write one of them"


def _bound(where: str, given: Any, slot: Slot, kind: str) -> Problem:
    if isinstance(given, float) and math.isnan(given):
        return Problem(where, "must be a number", "write one")
    low, excluded, high = slot.bounds()
    # Bounds are written the way the value is: "110 %" lies above "100 %", 1.1 above 1.
    sign = {"chance": " %", "change of chance": " pp"}.get(slot.unit, "") if isinstance(given, str) else ""

    def text(bound: float) -> str:
        if slot.unit == "s":
            return units.show_seconds(bound)
        return units.plain(bound * 100) + sign if sign else units.plain(bound)

    parts = [] if low is None else [f"{'more than' if excluded else 'at least'} {text(low)}"]
    parts += [] if high is None else [f"at most {text(high)}"]
    what = "must be " + " and ".join(parts)
    if low is not None and high is not None and not excluded:
        what = f"must lie between {text(low)} and {text(high)}"
    number = units.finite(given)
    if slot.unit == "chance" and number is not None and 2 <= number <= 100:
        return Problem(where, what, f'did you mean "{number:g} %"?')
    if kind.startswith("greater") or given == -math.inf or high is None:
        least = text(low or 0)
        return Problem(where, what, f"write more than {least}" if excluded else f"write {least} or more")
    return Problem(where, what, f"write {text(high)} or less")


def _wrong_type(where: str, path: tuple[Key, ...], given: Any, wanted: str) -> Problem:
    what = f"must be {wanted}"
    if wanted == "a whole number" and isinstance(given, float) and math.isfinite(given):
        return Problem(where, what, "round it")
    if wanted == "a whole number" and isinstance(given, float):
        return Problem(where, what, "write a finite one")
    return Problem(where, f"{what}, not {type_name(given)}", _as_wanted(path, given, wanted))


def _as_wanted(path: tuple[Key, ...], given: Any, wanted: str) -> str:
    if wanted == "a table":
        return f"begin it with [{shown(path)}]" if path and not isinstance(path[-1], int) else 'write { key = "value" }'
    if wanted == "a list":
        text = value_text(given)
        return f"put it in brackets, [{text}]" if text and isinstance(given, str | int) else "write it in brackets, [ ]"
    if wanted == "text":
        text = value_text(given)
        return (
            f'put it in quotes, "{text}"' if text and not isinstance(given, tuple) else 'write it in quotes, "like so"'
        )
    if isinstance(given, str) and _reads_as(given, wanted):
        return f"take off the quotes, {given.strip()}"
    example = {"true or false": "true", "a whole number": "2"}.get(wanted, "0.5")
    return (
        f"write it like {path[-1]} = {_EXAMPLES.get(str(path[-1]), example)}"
        if isinstance(path[-1], str)
        else (f"write it like {example}")
    )


def _reads_as(text: str, wanted: str) -> bool:
    if wanted == "true or false":
        return text.strip() in ("true", "false")
    try:
        return math.isfinite(float(text)) and (wanted == "a number" or text.strip().lstrip("+-").isdecimal())
    except ValueError:
        return False


def _quoted(words: Sequence[str]) -> str:
    return listed(f'"{word}"' for word in words)
