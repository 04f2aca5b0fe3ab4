"""What the parts of a scenario may hold, looked up by key path, for messages that say more than "wrong"."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from types import NoneType, UnionType
from typing import Annotated, Any, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from venue.scenario.fields import Unit
from venue.scenario.scenario import Scenario
from venue.scenario.words import listed

Key = str | int

_OF_KIND = "rules of kind "


@dataclass(frozen=True)
class Slot:
    """A place for a value: the type it takes, what marks it (bounds, unit), whether None may stand for it."""

    type: Any
    marks: tuple[Any, ...] = ()
    optional: bool = False

    @property
    def unit(self) -> str:
        """Unit of the number, empty if it has none."""
        return next((mark.text for mark in self.marks if isinstance(mark, Unit)), "")

    def bounds(self) -> tuple[float | None, bool, float | None]:
        """Lower bound, whether the bound itself is excluded, and upper bound."""
        lows = [(value, excluded) for name, excluded in (("ge", False), ("gt", True)) for value in self._marked(name)]
        low, excluded = max(lows, default=(-math.inf, False))
        return (None if low == -math.inf else low), excluded, min(self._marked("le"), default=None)

    def _marked(self, name: str) -> list[float]:
        found = [getattr(mark, name, None) for mark in self.marks]
        return [value for value in found if value is not None]

    def keys(self) -> list[str]:
        """Keys of the part, in the order of the reference."""
        return list(self.type.model_fields) if is_part(self.type) else []


def is_part(item: Any) -> bool:
    """Whether a type is a part of a scenario, a table with known keys."""
    return isinstance(item, type) and issubclass(item, BaseModel)


def slot_at(path: Sequence[Key], plain: Any) -> Slot | None:
    """The slot at a key path; `plain` is the data, which tells the kinds of rules apart. None where there is none."""
    slot: Slot | None = Slot(Scenario)
    for key in path:
        slot = _inside(slot, key) if slot else None
        plain = _get(plain, key)
        if slot and _members(slot.type):
            kind = plain.get("kind") if isinstance(plain, dict) else None
            slot = next((Slot(item) for item in _members(slot.type) if kind in kinds(item)), slot)
    return slot


def _get(plain: Any, key: Key) -> Any:
    if isinstance(plain, dict):
        return plain.get(key)
    if isinstance(plain, tuple) and isinstance(key, int) and key < len(plain):
        return plain[key]
    return None


def _inside(slot: Slot, key: Key) -> Slot | None:
    if is_part(slot.type):
        field = slot.type.model_fields.get(key)
        return _slot(field.annotation, tuple(field.metadata)) if field else None
    origin, arguments = get_origin(slot.type), get_args(slot.type)
    if origin is dict:
        return _slot(arguments[1])
    if origin is tuple and isinstance(key, int):
        if arguments[-1] is Ellipsis:
            return _slot(arguments[0])
        return _slot(arguments[key]) if key < len(arguments) else None
    return None


def _slot(annotation: Any, marks: tuple[Any, ...] = ()) -> Slot:
    """Peel a type off what is wrapped around it: bounds, and a None that may stand in its place."""
    if get_origin(annotation) is Annotated:
        inner, *more = get_args(annotation)
        for mark in more:
            marks += tuple(mark.metadata) if isinstance(mark, FieldInfo) else (mark,)
        return _slot(inner, marks)
    if get_origin(annotation) in (Union, UnionType):
        members = [item for item in get_args(annotation) if item is not NoneType]
        if len(members) == 1:
            return replace(_slot(members[0], marks), optional=True)
    return Slot(annotation, marks)


def _members(annotation: Any) -> list[Any]:
    if get_origin(annotation) in (Union, UnionType):
        return [item for item in get_args(annotation) if is_part(item)]
    return []


def kinds(part: Any) -> tuple[str, ...]:
    """Kinds of rule that a part stands for; none if it is no rule."""
    field = part.model_fields.get("kind") if is_part(part) else None
    return get_args(field.annotation) if field else ()


def rule_kinds() -> list[str]:
    """Every kind of rule."""
    rule = slot_at(("titles", "any", "rules", "any"), None)
    return sorted(kind for item in _members(rule.type) for kind in kinds(item)) if rule else []


def homes(key: str) -> list[str]:
    """The tables that know a key, as a reader would look for them: `[machines.NAME]`, rules of kind "slope"."""
    found = _homes().get(key, [])
    rules = [home.removeprefix(_OF_KIND) for home in found if home.startswith(_OF_KIND)]
    tables = [home for home in found if not home.startswith(_OF_KIND)]
    return tables + ([_OF_KIND + listed(rules)] if rules else [])


@cache
def _homes() -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for key, home in _walk(Scenario, "the top of the file", ()):
        # What a change may name belongs to what it changes.
        if home not in found.setdefault(key, []) and not (found[key] and home.startswith("[changes")):
            found[key].append(home)
    return found


def _walk(part: Any, home: str, path: tuple[str, ...]) -> Iterator[tuple[str, str]]:
    for key, field in part.model_fields.items():
        yield key, home
        slot = _slot(field.annotation)
        inner, below = slot, (*path, key)
        while get_origin(inner.type) in (dict, tuple):
            name = "NAME" if get_origin(inner.type) is dict else ""
            inner, below = _slot(get_args(inner.type)[-1 if name else 0]), (*below, name) if name else below
        for item in _members(inner.type) or [inner.type]:
            if is_part(item):
                kind = kinds(item)
                yield from _walk(item, f'{_OF_KIND}"{kind[0]}"' if kind else f"[{'.'.join(below)}]", below)


def choices(slot: Slot) -> list[str]:
    """The words a slot takes one of."""
    return [str(item) for item in get_args(slot.type)]
