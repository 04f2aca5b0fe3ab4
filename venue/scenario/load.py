"""Read a scenario file, lay the user's changes over it, check all of it, and say in one line each what is wrong."""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import tomli_w
from pydantic import ValidationError

from venue import units
from venue.errors import Fault, Problem, ScenarioError
from venue.scenario import origin
from venue.scenario.by_clock import steps_by_clock
from venue.scenario.checks import cross_checks
from venue.scenario.explain import explain
from venue.scenario.hours import WeekHours
from venue.scenario.overlay import key_path, lay_over
from venue.scenario.scenario import Scenario
from venue.scenario.slots import slot_at
from venue.scenario.study import Study
from venue.scenario.toml import LARGEST_FILE, read_toml


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
    changes
        The changes laid over the file, as texts.
    """

    scenario: Scenario
    source: str
    origins: Mapping[tuple[str, ...], origin.Origin] = field(default_factory=dict)
    given: frozenset[tuple[str, ...]] = frozenset()
    changes: tuple[str, ...] = ()

    def vary(self, changes: Sequence[str], option: str = "--set") -> Loaded:
        """The same scenario with `KEY=VALUE` changes laid over it, checked like the file.

        Parameters
        ----------
        changes
            As `load` takes them.
        option
            What messages call a change.
        """
        raw, names = lay_over(_with_origins(to_raw(self.scenario), self.origins), changes, option)
        try:
            changed = check(raw, self.source)
        except ScenarioError as error:
            raise error.named(names) from None
        before = to_raw(self.scenario)
        fresh = {path for path in changed.given if not _same(before, to_raw(changed.scenario), path)}
        return replace(changed, given=self.given | fresh, changes=(*self.changes, *changes))

    def change(self, **study: Any) -> Loaded:
        """The same scenario with keys of its `study` part replaced and checked again."""
        given = {key: value for key, value in study.items() if value is not None}
        if not given:
            return self
        raw = to_raw(self.scenario)
        changed = check(_with_study(raw, given), self.source)
        paths = frozenset(("study", key) for key in given)
        origins = {path: item for path, item in self.origins.items() if path not in paths}
        return Loaded(changed.scenario, self.source, origins, self.given | paths, self.changes)

    def to_toml(self) -> str:
        """The resolved scenario, defaults filled in, as a file that loads to the same scenario."""
        return tomli_w.dumps(_with_origins(to_raw(self.scenario), self.origins))


def load(path: str | Path, changes: Sequence[str] = (), study: Mapping[str, Any] | None = None) -> Loaded:
    """Read and check a scenario file.

    Parameters
    ----------
    path
        A TOML file.
    changes
        `KEY=VALUE` texts, a dotted path and a TOML value each, checked like the file itself.
    study
        Keys of the `study` part that options replace, None where they do not; checked together with the changes.

    Raises
    ------
    ScenarioError
        If the file cannot be read or holds anything wrong; carries one `Problem` for each fault.
    """
    raw, names = lay_over(_read(Path(path)), changes)
    given = {key: value for key, value in (study or {}).items() if value is not None}
    try:
        return replace(check(_with_study(raw, given), str(path)), changes=tuple(changes))
    except ScenarioError as error:
        raise error.named({**names, **{f"study.{key}": f"--{key}" for key in given}}) from None


def _with_study(raw: Mapping[str, Any], given: Mapping[str, Any]) -> dict[str, Any]:
    """Raw data with keys of its `study` part replaced; what was before the change stays at the strength that it had."""
    own = raw.get("study", {})
    if not given or not isinstance(own, dict):
        return dict(raw)
    study = {**own, **given}
    stood = own.get("strength", Study.model_fields["strength"].default)
    if isinstance(own.get("before"), dict) and study.get("strength", stood) != stood:
        study["before"] = {"strength": stood, **own["before"]}
    return {**raw, "study": study}


def read_text(text: str, source: str) -> Loaded:
    """Check a scenario that is at hand as text, under this name.

    Raises
    ------
    ScenarioError
        As `load` does.
    """
    try:
        raw = read_toml(text)
    except Fault as fault:
        raise ScenarioError(source, [Problem("file", fault.what, fault.fix)]) from None
    return check(raw, source)


def _read(path: Path) -> dict[str, Any]:
    def refused(what: str, fix: str) -> ScenarioError:
        return ScenarioError(str(path), [Problem("file", what, fix)])

    try:
        # Some editors begin a file with a mark of its encoding. What never ends is read no further than a file may go.
        with path.open("rb") as file:
            data = file.read(LARGEST_FILE + 1)
        if len(data) > LARGEST_FILE:
            raise refused(f"is larger than {LARGEST_FILE} bytes", "name a scenario")
        text = data.decode("utf-8-sig")
    except FileNotFoundError:
        near = difflib.get_close_matches(path.name, [p.name for p in path.parent.glob("*.toml")], n=1)
        hint = f"did you mean {path.parent / near[0]}?" if near else "write one with `venue new FILE`"
        raise refused("no such file", hint) from None
    except IsADirectoryError:
        raise refused("is a folder, must be a TOML file", "name a file in it") from None
    except UnicodeDecodeError:
        raise refused("is not UTF-8 text", "name a TOML file, or save it as UTF-8") from None
    except (OSError, ValueError) as error:
        why = error.strerror if isinstance(error, OSError) else error
        raise refused(f"cannot be read ({why})", "name a TOML file") from None
    try:
        return read_toml(text)
    except Fault as fault:
        raise refused(fault.what, fault.fix) from None


def check(raw: Mapping[str, Any], source: str) -> Loaded:
    """Check raw data, as TOML gives it, from a source of this name."""
    plain, origins, problems = origin.take_off(raw)
    try:
        scenario = Scenario.model_validate(plain)
    except ValidationError as error:
        # A value whose origin is in doubt is not also called wrong.
        found = explain(error, plain)
        found = [item for item in found if not any(problem.is_at(item.path) for problem in problems)]
        raise ScenarioError(source, problems + found) from None
    problems += cross_checks(scenario)
    if problems:
        raise ScenarioError(source, problems)
    given = frozenset(_settled(path) for path in _leaves(plain))
    return Loaded(scenario, source, {_settled(path): item for path, item in origins.items()}, given)


def _settled(path: tuple[str, ...]) -> tuple[str, ...]:
    """A key path as a resolved scenario has it: times of day in one spelling."""
    if len(path) > 3 and steps_by_clock(path[:3]):
        return (*path[:3], units.show_clock(units.clock(path[3])), *path[4:])
    return path


def _leaves(item: Any, path: tuple[str, ...] = ()) -> Iterator[tuple[str, ...]]:
    if isinstance(item, dict):
        for key, value in item.items():
            yield from _leaves(value, (*path, str(key)))
    else:
        yield path


def _same(first: Any, second: Any, path: tuple[str, ...]) -> bool:
    """Whether two nests of tables hold the same at a key path."""
    for key in path:
        if not isinstance(first, dict) or not isinstance(second, dict):
            return bool(first == second)
        first, second = first.get(key), second.get(key)
    return bool(first == second)


def unit_of_key(loaded: Loaded, key: str) -> str:
    """Unit of the number at a dotted key path, as the reference has it; empty if there is none."""
    path = key_path(key)
    slot = slot_at(path, to_raw(loaded.scenario))
    return slot.unit if slot else ""


def to_raw(scenario: Scenario) -> dict[str, Any]:
    """A scenario as plain data in the units people write, defaults filled in."""
    raw: dict[str, Any] = scenario.model_dump(mode="json", exclude_none=True)
    raw["venue"]["hours"] = _hours(scenario.venue.hours)
    for change, plain in zip(scenario.changes, raw["changes"], strict=True):
        if change.hours is not None:
            plain["hours"] = _hours(change.hours)
    on_duty = scenario.venue.technician.hours
    if on_duty is not None:
        raw["venue"]["technician"]["hours"] = _hours(on_duty)
    return raw


def _hours(hours: WeekHours) -> dict[str, Any]:
    """Hours of a week; a weekday without any of its own must stay unset, or it would read as closed."""
    return {
        key: value
        for key, value in hours.model_dump(mode="json").items()
        if key not in units.WEEKDAYS or key in hours.model_fields_set
    }


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
