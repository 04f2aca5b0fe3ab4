"""Changes laid over a scenario file: texts like `machines.front.price=2`, as `--set` takes them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from venue.errors import Fault, Problem, ScenarioError
from venue.scenario.origin import DEEPEST, KEYS, Path, has_authors_keys, is_origin
from venue.scenario.toml import read_toml
from venue.scenario.words import nearest, shown

SOURCE = "command line"
_CHANGED = {"from": "assumed", "note": "changed with --set"}


def lay_over(
    raw: Mapping[str, Any], changes: Sequence[str], option: str = "--set"
) -> tuple[dict[str, Any], dict[str, str]]:
    """Lay `KEY=VALUE` changes over raw data; messages call a change by the option that brought it.

    Returns
    -------
    raw, names
        The changed data; and by changed key what the user called it, for messages.

    Raises
    ------
    ScenarioError
        If a text is not `KEY=VALUE`, or names a title, machine, rule or attempt that is not there.
    """
    result = dict(raw)
    names: dict[str, str] = {}
    for text in changes:
        try:
            change = _read(text)
            path = _leaf(change)
            # A table that only the change brings in is the change's doing too.
            for key in [
                shown(path),
                *(shown(path[:end]) for end in range(1, len(path)) if not _has(result, path[:end])),
            ]:
                names[key] = f"{option} {key}"
            result = _merge(result, change, (), text)
        except ScenarioError as error:
            raise _as_given(error, option) from None
    return result, names


def key_path(key: str) -> tuple[str, ...]:
    """A dotted key path, as TOML writes it, taken apart; empty if it is none."""
    try:
        item: Any = read_toml(f"{key} = 0")
    except Fault:
        return ()
    path: tuple[str, ...] = ()
    while isinstance(item, dict):
        name = next(iter(item))
        path, item = (*path, name), item[name]
    return path


def _as_given(error: ScenarioError, option: str) -> ScenarioError:
    """The same error with the change called what the user called it."""
    return ScenarioError(
        error.source,
        [Problem(item.path.replace("--set", option, 1), item.what, item.fix.replace("--set", option, 1))
         for item in error.problems],
    )  # fmt: skip


def _problem(text: str, what: str, fix: str) -> ScenarioError:
    short = text if len(text) <= 80 else text[:77] + "..."
    return ScenarioError(SOURCE, [Problem(f"--set {short}", what, fix)])


def _read(text: str) -> dict[str, Any]:
    """The change as nested tables. A bare word, a duration or hours may go without their quotes."""
    key, equals, value = text.partition("=")
    if '"' in key:  # a quoted key may hold the sign itself
        key, equals, value = _after_quotes(text)
    wrong = _problem(text, "is not KEY=VALUE", "write it like --set machines.front.price=2")
    if not equals or not key.strip() or not value.strip() or "\n" in text:
        raise wrong
    quoted = value.strip().replace("\\", "\\\\").replace('"', '\\"')
    for written in (value, f'"{quoted}"'):
        try:
            return read_toml(f"{key} = {written}")
        except Fault:
            continue
    raise wrong


def _after_quotes(text: str) -> tuple[str, str, str]:
    inside = False
    for place, char in enumerate(text):
        inside ^= char == '"'
        if char == "=" and not inside:
            return text[:place], "=", text[place + 1 :]
    return text, "", ""


def _leaf(change: Mapping[str, Any]) -> Path:
    path: Path = ()
    item: Any = change
    while isinstance(item, dict) and len(item) == 1 and len(path) < DEEPEST:
        key = next(iter(item))
        path, item = (*path, key), item[key]
    return path


def _has(raw: Any, path: Path) -> bool:
    for key in path:
        if not isinstance(raw, dict) or key not in raw:
            return False
        raw = raw[key]
    return True


def _merge(base: Mapping[str, Any], change: Mapping[str, Any], path: Path, text: str) -> dict[str, Any]:
    result = dict(base)
    for key, value in change.items():
        result[key] = _changed(result, key, value, path, text)
    return result


def _changed(base: Mapping[str, Any], key: str, value: Any, path: Path, text: str) -> Any:
    here = (*path, key)
    if len(here) > DEEPEST:
        raise _problem(text, "holds tables within tables without end", "take them out")
    if key not in base:
        if has_authors_keys(path):
            raise _problem(text, f'{shown(path)} has no "{key}"', nearest(key, list(base)))
        return _merge({}, value, here, text) if isinstance(value, dict) else value
    old = base[key]
    if not isinstance(value, dict) or (is_origin(value, here) and "from" in value):
        return value
    if is_origin(old, here):
        if set(value) <= set(KEYS):
            return {**old, **value}
        if isinstance(old["value"], dict):
            return {**old, "value": _merge(old["value"], _marked(value), here, text)}
        old = old["value"]
    if not isinstance(old, dict):
        where = shown(here)
        raise _problem(text, f"{where} is a value, not a table", f"change {where} itself")
    return _merge(old, value, here, text)


def _marked(change: Mapping[str, Any]) -> dict[str, Any]:
    """The change with each value marked as the user's own: it must not pass for measured because its table was."""
    return {
        key: _marked(value) if isinstance(value, dict) else {"value": value, **_CHANGED}
        for key, value in change.items()
    }
