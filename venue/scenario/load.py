"""Read a scenario file, lay the user's changes over it, check all of it, and say in one line each what is wrong."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, get_args

import tomli_w
from pydantic import BaseModel, ValidationError

from venue import units
from venue.errors import Problem, ScenarioError
from venue.scenario import origin
from venue.scenario.checks import cross_checks
from venue.scenario.scenario import Scenario

# Tables whose keys the author invents; a change may not invent one by a slip of the keyboard.
_AUTHORS_KEYS = {"titles", "machines", "rules", "attempts"}
_TAGS = {"slope", "table", "clocked slope", "closing chance", "turnover"}


@dataclass(frozen=True)
class Loaded:
    """A checked scenario with the name of its source and where its numbers came from.

    Attributes
    ----------
    scenario
        The scenario, every number in the code's units.
    source
        File name, or a word for a scenario that came from elsewhere.
    origins
        Origin by key path, for each value that states one.
    given
        Key paths of the values that the file or a change states; the others are defaults.
    """

    scenario: Scenario
    source: str
    origins: Mapping[tuple[str, ...], origin.Origin] = field(default_factory=dict)
    given: frozenset[tuple[str, ...]] = frozenset()

    def change(self, **study: Any) -> Loaded:
        """The same scenario with keys of its `study` part replaced and checked again."""
        given = {key: value for key, value in study.items() if value is not None}
        if not given:
            return self
        raw = to_raw(self.scenario)
        changed = check({**raw, "study": {**raw["study"], **given}}, self.source)
        paths = frozenset(("study", key) for key in given)
        return Loaded(changed.scenario, self.source, self.origins, self.given | paths)

    def to_toml(self) -> str:
        """The resolved scenario, defaults filled in, as a file that loads to the same scenario."""
        return tomli_w.dumps(_with_origins(to_raw(self.scenario), self.origins))


def load(path: str | Path, changes: Sequence[str] = ()) -> Loaded:
    """Read and check a scenario file.

    Parameters
    ----------
    path
        A TOML file.
    changes
        `KEY=VALUE` texts, a dotted path and a TOML value each, checked like the file itself.

    Raises
    ------
    ScenarioError
        If the file cannot be read or holds anything wrong; carries one `Problem` for each fault.
    """
    path = Path(path)
    try:
        text = path.read_bytes().decode()
    except FileNotFoundError:
        near = difflib.get_close_matches(path.name, [p.name for p in path.parent.glob("*.toml")], n=1)
        hint = f"did you mean {path.parent / near[0]}?" if near else "write one with `venue new FILE`"
        raise ScenarioError(str(path), [Problem("file", "no such file", hint)]) from None
    except UnicodeDecodeError as error:
        raise ScenarioError(
            str(path), [Problem("file", f"not UTF-8 text ({error.reason})", "save it as UTF-8")]
        ) from None
    except OSError as error:
        raise ScenarioError(
            str(path), [Problem("file", f"cannot be read ({error.strerror})", "name a TOML file")]
        ) from None
    try:
        raw = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise ScenarioError(str(path), [Problem("file", f"not TOML: {error}", "mend the line it names")]) from None
    return check(_lay_over(raw, changes), str(path))


def check(raw: Mapping[str, Any], source: str) -> Loaded:
    """Check raw data, as TOML gives it, from a source of this name."""
    plain, origins, problems = origin.take_off(raw)
    try:
        scenario = Scenario.model_validate(plain)
    except ValidationError as error:
        raise ScenarioError(source, problems + [_problem(item, plain) for item in error.errors()]) from None
    problems += cross_checks(scenario)
    if problems:
        raise ScenarioError(source, problems)
    return Loaded(scenario, source, origins, frozenset(_leaves(plain)))


def _leaves(item: Any, path: tuple[str, ...] = ()) -> Iterator[tuple[str, ...]]:
    if isinstance(item, dict):
        for key, value in item.items():
            yield from _leaves(value, (*path, str(key)))
    else:
        yield path


def to_raw(scenario: Scenario) -> dict[str, Any]:
    """A scenario as plain data in the units people write, defaults filled in."""
    raw: dict[str, Any] = scenario.model_dump(mode="json", exclude_none=True)
    # A weekday without hours of its own must stay unset, or it would read as closed.
    hours = scenario.venue.hours
    raw["venue"]["hours"] = {
        key: value
        for key, value in hours.model_dump(mode="json").items()
        if key not in units.WEEKDAYS or key in hours.model_fields_set
    }
    return raw


def _with_origins(raw: Any, origins: Mapping[tuple[str, ...], origin.Origin], path: tuple[str, ...] = ()) -> Any:
    if isinstance(raw, dict):
        item: Any = {key: _with_origins(value, origins, (*path, key)) for key, value in raw.items()}
    elif isinstance(raw, list | tuple):
        item = [_with_origins(value, origins, (*path, str(index))) for index, value in enumerate(raw)]
    else:
        item = raw
    if path in origins:
        found = origins[path]
        return {"value": item, "from": found.source} | ({"note": found.note} if found.note else {})
    return item


def _lay_over(raw: Mapping[str, Any], changes: Sequence[str]) -> dict[str, Any]:
    """Lay `KEY=VALUE` changes over raw data."""
    result = dict(raw)
    for text in changes:
        key, equals, value = text.partition("=")
        problem = Problem(f"--set {text}", "is not KEY=VALUE", "write it like --set machines.front.price=2")
        if not equals or not key.strip() or not value.strip():
            raise ScenarioError("command line", [problem])
        try:
            change = tomllib.loads(f"{key} = {value}")
        except tomllib.TOMLDecodeError:
            try:  # a bare word or a duration is text
                quoted = value.strip().replace("\\", "\\\\").replace('"', '\\"')
                change = tomllib.loads(f'{key} = "{quoted}"')
            except tomllib.TOMLDecodeError:
                raise ScenarioError("command line", [problem]) from None
        result = _merge(result, change, (), text)
    return result


def _merge(base: Mapping[str, Any], change: Mapping[str, Any], path: tuple[str, ...], text: str) -> dict[str, Any]:
    result = dict(base)
    for key, value in change.items():
        old = result.get(key)
        if old is None and path and path[-1] in _AUTHORS_KEYS:
            raise ScenarioError(
                "command line",
                [Problem(f"--set {text}", f'{".".join(path)} has no "{key}"', _nearest(key, list(result)))],
            )
        is_leaf = isinstance(old, dict) and "value" in old
        if isinstance(value, dict) and not is_leaf:
            if old is not None and not isinstance(old, dict):
                where = ".".join((*path, key))
                raise ScenarioError(
                    "command line",
                    [Problem(f"--set {text}", f"{where} is a value, not a table", f"set {where} itself")],
                )
            result[key] = _merge(old or {}, value, (*path, key), text)
        else:
            result[key] = value
    return result


def _nearest(key: str, known: Sequence[str]) -> str:
    near = difflib.get_close_matches(key, known, n=1, cutoff=0.5)
    return f'did you mean "{near[0]}"?' if near else f"known: {', '.join(known) or 'none'}"


def _problem(error: Mapping[str, Any], plain: Any) -> Problem:
    """One of pydantic's errors as a line for people."""
    loc = [str(part) for part in error["loc"] if part != "[key]"]
    # The name of a rule kind is in pydantic's path but not in the file's.
    loc = [part for i, part in enumerate(loc) if not (part in _TAGS and i >= 2 and loc[i - 2] == "rules")]
    path = ".".join(loc) or "scenario"
    kind, given, context = error["type"], error["input"], error.get("ctx", {})
    value = "" if isinstance(given, dict | tuple) else f" = {_show(given)}"
    if kind == "extra_forbidden":
        return Problem(path, "unknown key", _nearest(loc[-1], _known_keys(loc[:-1], plain)))
    if kind == "missing":
        return Problem(path, "is missing", "add it")
    if kind == "value_error":
        what, _, fix = str(context["error"]).partition("; ")
        return Problem(f"{path}{value}", what, fix)
    bounds = {
        "greater_than_equal": ("ge", "must be at least"),
        "greater_than": ("gt", "must be more than"),
        "less_than_equal": ("le", "must be at most"),
        "less_than": ("lt", "must be less than"),
    }
    if kind in bounds:
        name, words = bounds[kind]
        bound = context[name]
        fix = f"a value like {bound} is the nearest allowed" if kind.endswith("equal") else "raise it"
        return Problem(f"{path}{value}", f"{words} {bound}", fix)
    if kind == "literal_error":
        return Problem(f"{path}{value}", f"must be one of {context['expected']}", "pick one")
    if kind in ("union_tag_invalid", "union_tag_not_found"):
        wanted = str(context.get("expected_tags", ", ".join(f"'{tag}'" for tag in sorted(_TAGS))))
        found = f'unknown rule kind "{context["tag"]}"' if "tag" in context else "says no rule kind"
        near = (
            _nearest(str(context.get("tag", "")), sorted(_TAGS)) if "tag" in context else f"add kind = one of {wanted}"
        )
        return Problem(f"{path}.kind", found, near)
    wanted_types = {
        "float_type": "a number", "int_type": "a whole number", "int_from_float": "a whole number",
        "string_type": "text in quotes", "bool_type": "true or false", "dict_type": "a table", "tuple_type": "a list",
        "model_type": "a table", "model_attributes_type": "a table", "finite_number": "a finite number",
    }  # fmt: skip
    if kind in wanted_types:
        return Problem(f"{path}{value}", f"must be {wanted_types[kind]}", f"it is {_type_name(given)}")
    return Problem(f"{path}{value}", str(error["msg"])[:1].lower() + str(error["msg"])[1:], "see `venue new`")


def _show(value: Any) -> str:
    text = f'"{value}"' if isinstance(value, str) else str(value).lower() if isinstance(value, bool) else str(value)
    text = text.encode("unicode_escape").decode() if any(ord(c) < 32 for c in text) else text
    return text if len(text) <= 60 else text[:57] + "..."


def _type_name(value: Any) -> str:
    names = {
        bool: "true or false",
        int: "a whole number",
        float: "a number",
        str: "text",
        dict: "a table",
        tuple: "a list",
    }
    return names.get(type(value), f"a {type(value).__name__}")


def _known_keys(path: Sequence[str], plain: Any) -> list[str]:
    """Keys that the part of a scenario at `path` knows."""
    annotation: Any = Scenario
    for part in path:
        plain = plain.get(part) if isinstance(plain, dict) else plain[int(part)] if isinstance(plain, tuple) else None
        if isinstance(annotation, type) and issubclass(annotation, BaseModel):
            found = annotation.model_fields.get(part)
            annotation = found.annotation if found else None
        else:  # a table with the author's keys, or a list: go to what it holds
            annotation = next((item for item in get_args(annotation) if item not in (str, float, Ellipsis)), None)
        choices = [item for item in (annotation, *get_args(annotation), *_union_members(annotation)) if _is_part(item)]
        kind = plain.get("kind") if isinstance(plain, dict) else None
        same = [item for item in choices if kind and kind in get_args(item.model_fields["kind"].annotation)]
        annotation = same[0] if same else annotation
    return list(annotation.model_fields) if _is_part(annotation) else []


def _union_members(annotation: Any) -> list[Any]:
    return [member for item in get_args(annotation) for member in get_args(item)]


def _is_part(item: Any) -> bool:
    return isinstance(item, type) and issubclass(item, BaseModel)
