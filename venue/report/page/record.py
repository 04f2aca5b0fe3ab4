"""What a page is made from: a result as JSON has it, the resolved scenario, and the tables, from a folder or from a
command that has just run."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from venue.errors import InputError
from venue.report.folder import RESULT, SCENARIO, csv_texts
from venue.report.scenario_text import sources
from venue.scenario.load import Loaded, load

if TYPE_CHECKING:
    from venue.report.folder import Tables

# A command is known by what only its results hold.
_KINDS = {
    "sweep": {"points", "best"},
    "compare": {"scenarios", "comparisons"},
    "contest": {"points", "apart"},
    "run": {"measures", "left_because"},
    "sensitivity": {"numbers", "measure"},
}


@dataclass(frozen=True)
class Record:
    """A result with all that belongs to it.

    Attributes
    ----------
    kind
        The command that made it.
    source
        Where it was found, for messages.
    result
        The result as JSON has it.
    loaded
        The resolved scenario.
    tables
        CSV texts by name.
    sensitivity
        A result of `venue sensitivity` on the same scenario, if there is one.
    """

    kind: str
    source: str
    result: Mapping[str, Any]
    loaded: Loaded
    tables: Mapping[str, str]
    sensitivity: Mapping[str, Any] | None = None

    @property
    def venue_name(self) -> str:
        """What the venue is called."""
        return self.loaded.scenario.venue.name

    @property
    def numbers(self) -> list[dict[str, str]]:
        """Every number of the scenario with its origin: `number`, `value`, `from`, `note`.

        From the folder's own table where there is one: a resolved scenario has every default written out, and can no
        longer tell a default from what its author stated.
        """
        if "numbers" in self.tables:
            return list(csv.DictReader(io.StringIO(self.tables["numbers"])))
        return [dict(zip(("number", "value", "from", "note"), row, strict=True)) for row in sources(self.loaded)]

    def with_sensitivity(self, other: Record) -> Record:
        """The record with what another says the answer hangs on.

        Raises
        ------
        InputError
            If the other is not of `venue sensitivity`, or of another venue.
        """
        if other.kind != "sensitivity":
            raise InputError(f"--sensitivity {other.source}: holds a result of venue {other.kind}; name a folder "
                             "written by venue sensitivity")  # fmt: skip
        if other.venue_name != self.venue_name:
            raise InputError(f'--sensitivity {other.source}: is of "{other.venue_name}", not of "{self.venue_name}"; '
                             "name one of the same scenario")  # fmt: skip
        tables = {f"sensitivity-{name}": text for name, text in other.tables.items() if name != "numbers"}
        return replace(self, sensitivity=other.result, tables={**self.tables, **tables})


def made(result: Mapping[str, Any], loaded: Loaded, tables: Tables) -> Record:
    """The record of a command that has just run."""
    kind = kind_of(result)
    if kind is None:
        raise ValueError("no result of a command that has a page")
    plain = json.loads(json.dumps(result, allow_nan=False))
    return Record(
        kind, loaded.source, plain, loaded, csv_texts(loaded, tables), plain if kind == "sensitivity" else None
    )


def read(path: str | Path) -> Record:
    """The record in a folder of results, named itself or by its JSON.

    Raises
    ------
    InputError
        If there is none.
    """
    place = Path(path)
    folder = place.parent if place.name == RESULT or place.is_file() else place
    file = place if place.is_file() else folder / RESULT
    result = _json(path, file)
    kind = kind_of(result)
    if kind is None:
        known = ", ".join(_KINDS)
        raise InputError(f"{file}: is not a result of venue {known}; name a folder that one of them wrote with --out")
    if not (folder / SCENARIO).is_file():
        raise InputError(f"{path}: has no {SCENARIO} beside its result; name the whole folder that --out wrote")
    tables = {}
    for table in sorted(folder.glob("*.csv")):
        tables[table.stem] = table.read_text(encoding="utf-8", errors="replace")
    loaded = load(str(folder / SCENARIO))
    return Record(kind, str(path), result, loaded, tables, result if kind == "sensitivity" else None)


def beside(path: str | Path) -> Path:
    """Where the page of results goes that no file was named for."""
    place = Path(path)
    return (place.parent if place.is_file() else place) / "report.html"


def kind_of(result: Any) -> str | None:
    """The command that made a result; None if none did."""
    if not isinstance(result, Mapping):
        return None
    return next((kind for kind, keys in _KINDS.items() if keys <= set(result)), None)


def _json(path: str | Path, file: Path) -> Any:
    try:
        return json.loads(file.read_text(encoding="utf-8"))
    except FileNotFoundError:
        hint = f"it has no {RESULT}" if Path(path).is_dir() else "there is nothing of that name"
        raise InputError(f"{path}: cannot be read, {hint}; name a folder that --out wrote") from None
    except OSError as error:
        raise InputError(f"{path}: cannot be read ({error.strerror}); name a folder that --out wrote") from None
    except ValueError as error:
        raise InputError(f"{file}: is not JSON ({error}); run the command again with --out") from None
