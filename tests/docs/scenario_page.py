"""docs/scenario.md: every part of a scenario that can be reached, every key of it, its unit and default."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from types import NoneType
from typing import Annotated, Any, Literal, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo
from pydantic_core import PydanticUndefined

from venue import units
from venue.scenario.fields import Unit
from venue.scenario.scenario import Scenario

HEAD = """# The scenario file

A scenario is one TOML file: a venue, its people, its titles, its machines, and how it is to be studied.
`venue new FILE` writes a commented one to start from; `venue check FILE` says what a file implies and where its numbers
come from.

- **Durations** carry a unit: `"90 s"`, `"2 min"`, `"1.5 h"`, `"14 days"`; also joined, `"1 h 30 min"`.
- **Times of day** are `"10:00"`; after midnight they count on, `"25:00"` is one in the morning.
- **Chances** and shares are `0.45` or `"45 %"`. **Changes** of a chance are `0.02` or `"2 pp"` (percentage points).
- **Prices** are whole credits; money appears only in `credit_price`, and in what a machine costs a week.
- **Origin**: any value may say where it came from,
  `{ value = "8 s", from = "measured", note = "stopwatch, 40 attacks" }`,
  with `from` one of measured, fitted, common practice, assumed. `venue check --full` and `--json` list them all.
- **Unknown keys fail**, with the nearest known one. A typo never runs silently with a default.
- **On the command line** `--set KEY=VALUE` changes one value, by its dotted path: `--set machines.front.price=2`,
  `--set people.wallet.off=true`, `--set 'titles.tug.rules.undertow.per_point="3 pp"'`.

What the numbers do is in [model.md](model.md). This page is written from the program's own declarations.
"""

# What people write, where the code counts in something else.
_WRITTEN = {"s": "duration", "s after midnight": "opening hours"}
_PLAIN = {int: "whole number", float: "number", bool: "true or false"}


@dataclass(frozen=True)
class Section:
    """A part of a scenario at a place: its table's heading, the part, keys that are told elsewhere."""

    heading: str
    where: str
    part: type[BaseModel]
    left_out: frozenset[str] = frozenset()


def sections(part: type[BaseModel] = Scenario, path: tuple[str, ...] = ()) -> Iterator[Section]:
    """Every part that a scenario can hold, from the top of the file on, each before those inside it."""
    if not path:
        yield Section("The file", "", part)
    for name, field in part.model_fields.items():
        yield from _inside(field.annotation, (*path, name))


def _inside(annotation: Any, path: tuple[str, ...]) -> Iterator[Section]:
    origin, arguments = get_origin(annotation), [item for item in get_args(annotation) if item is not NoneType]
    if origin is Annotated:
        yield from _inside(arguments[0], path)
    elif origin is dict:
        yield from _inside(arguments[1], (*path, "KEY" if len(path) == 1 else "NAME"))
    elif isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield Section(".".join(path), _where(path), annotation)
        yield from sections(annotation, path)
    elif len(arguments) > 1 and all(isinstance(item, type) and issubclass(item, BaseModel) for item in arguments):
        yield from _kinds(arguments, path)
    elif origin is not Literal:
        for item in arguments:
            yield from _inside(item, path)


def _kinds(parts: list[type[BaseModel]], path: tuple[str, ...]) -> Iterator[Section]:
    """Kinds of one thing: what they share first, then each."""
    base = next(item for item in parts[0].__mro__ if all(issubclass(part, item) for part in parts))
    yield Section(".".join(path), _where(path), base)
    shared = frozenset({*base.model_fields, "kind"})
    for part in parts:
        kind = get_args(part.model_fields["kind"].annotation)[0]
        yield Section(f'{".".join(path)}, kind = "{kind}"', "", part, shared)
        yield from sections(part, path)


def _where(path: tuple[str, ...]) -> str:
    yours = [word for word in path if word.isupper()]
    said = f", {' and '.join(yours)} being yours" if yours else ""
    return f"`[{'.'.join(path)}]`{said}."


def _unit(annotation: Any, metadata: list[Any]) -> str:
    for item in metadata:
        if isinstance(item, Unit):
            return _WRITTEN.get(item.text, item.text)
    for part in get_args(annotation):
        if get_origin(part) is Annotated:
            found = _unit(get_args(part)[0], list(part.__metadata__))
            if found:
                return found
    kinds = [item for item in (annotation, *get_args(annotation)) if item in _PLAIN]
    return _PLAIN[kinds[0]] if kinds else ""


def told(field: FieldInfo) -> str:
    """What a key is, in its own words or in those of the table that stands there."""
    return field.description or _of_part(field.annotation)


def _of_part(annotation: Any) -> str:
    """Of a key that is a table of its own, what that is."""
    for part in (annotation, *get_args(annotation)):
        if isinstance(part, type) and issubclass(part, BaseModel):
            return " ".join((part.__doc__ or "").split()).partition(". ")[0].rstrip(".").replace(":", ",")
        if get_origin(annotation) is dict and part is not annotation:
            found = _of_part(part)
            if found:
                return found
    return ""


def _choices(annotation: Any) -> str:
    for part in (annotation, *get_args(annotation)):
        if get_origin(part) is Literal:
            return ", ".join(f"`{choice}`" for choice in get_args(part))
    return ""


def _default(field: Any, unit: str) -> str:
    value = field.get_default(call_default_factory=True)
    if value is PydanticUndefined:
        return "**required**"
    if isinstance(value, BaseModel):
        return "its own"
    if value is None or value == {} or value == () or value == "":
        return ""
    if unit == "duration":
        return f"`{units.show_seconds(value)}`"
    if isinstance(value, bool):
        return f"`{str(value).lower()}`"
    if isinstance(value, dict):
        return "`{ " + ", ".join(f'"{name}" = {item:g}' for name, item in value.items()) + " }`"
    return f"`{value:g}`" if isinstance(value, float) else f"`{value}`"


def default_of(field: FieldInfo) -> str:
    """What holds where a key is not given, as the page writes it; empty if nothing does."""
    return _default(field, _unit(field.annotation, list(field.metadata)))


def _table(section: Section) -> str:
    lines = ["| key | unit | default | what it is |", "|---|---|---|---|"]
    for name, field in section.part.model_fields.items():
        if name not in section.left_out:
            unit = _unit(field.annotation, list(field.metadata))
            choices = _choices(field.annotation)
            text = "; ".join(part for part in (told(field), f"one of {choices}" if choices else "") if part)
            lines.append(f"| `{name}` | {unit} | {_default(field, unit)} | {text} |")
    return "\n".join(lines)


def render() -> str:
    """The page as text."""
    parts = [HEAD]
    for section in sections():
        level = "##" if "." not in section.heading else "###"
        doc = " ".join((section.part.__doc__ or "").split())
        parts += [f"{level} {section.heading}\n", f"{section.where} {doc}".strip() + "\n", _table(section) + "\n"]
    return "\n".join(parts).rstrip() + "\n"
