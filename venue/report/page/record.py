"""What a page is made from: a result as JSON has it, the resolved scenario, and the tables, from a folder or from a
command that has just run."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from venue.errors import Fault, InputError
from venue.report.folder import RESULT, SCENARIO, csv_texts
from venue.report.manifest import Manifest
from venue.report.scenario_text import sources
from venue.scenario.load import Loaded, read_text
from venue.scenario.toml import LARGEST_FILE
from venue.study.floor_records import CompareRecord, RunRecord, SensitivityRecord, SweepRecord
from venue.study.records import Record as AnyRecord
from venue.study.records import read_record, record_of
from venue.study.title_records import ContestRecord, TuneRecord

if TYPE_CHECKING:
    from venue.report.folder import Tables

Data = RunRecord | SweepRecord | CompareRecord | ContestRecord | SensitivityRecord
"""Results that have a page."""

# Bytes of a result and of a table that are still read.
_LARGEST_RESULT, _LARGEST_TABLE = 1 << 28, 1 << 23
_WITH_PAGE = ("run", "sweep", "compare", "contest", "sensitivity")


@dataclass(frozen=True)
class Record:
    """A result with all that belongs to it.

    Attributes
    ----------
    source
        Where it was found, for messages.
    data
        The result.
    loaded
        The resolved scenario.
    tables
        CSV texts by name.
    sensitivity
        A result of `venue sensitivity` on the same scenario, if there is one.
    left_out
        Files of the folder that nothing is taken from, with why; empty for those that were not written with the result.
    """

    source: str
    data: Data
    loaded: Loaded
    tables: Mapping[str, str]
    sensitivity: SensitivityRecord | None = None
    left_out: Mapping[str, str] = field(default_factory=dict)

    @property
    def kind(self) -> str:
        """The command that made it."""
        return self.data.kind

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
        """The record with what another says the answer depends on.

        Raises
        ------
        InputError
            If the other is not of `venue sensitivity`, or of another venue.
        """
        if other.sensitivity is None:
            raise InputError(f"--sensitivity {other.source}: holds a result of venue {other.kind}; name a folder "
                             "written by venue sensitivity")  # fmt: skip
        if other.venue_name != self.venue_name:
            raise InputError(f'--sensitivity {other.source}: is of "{other.venue_name}", not of "{self.venue_name}"; '
                             "name one of the same scenario")  # fmt: skip
        tables = {f"sensitivity-{name}": text for name, text in other.tables.items() if name != "numbers"}
        return replace(self, sensitivity=other.sensitivity, tables={**self.tables, **tables})


def made(result: Mapping[str, Any], loaded: Loaded, tables: Tables) -> Record:
    """The record of a command that has just run, from its plain data.

    Raises
    ------
    ValueError
        If it is no result of a command that has a page.
    """
    data = _with_page(record_of(result))
    if data is None:
        raise ValueError(f"a result of venue {result['kind']} has no page")
    return Record(loaded.source, data, loaded, csv_texts(loaded, tables), _numbers(data))


def read(path: str | Path) -> Record:
    """The record in a folder of results, named itself or by its JSON.

    Raises
    ------
    InputError
        If there is none.
    """
    place = Path(path)
    folder = place.parent if place.name == RESULT or place.is_file() else place
    try:
        if not folder.is_dir():
            raise Fault("cannot be read, there is nothing of that name", "name a folder that --out wrote")
        if not (folder / RESULT).exists():
            raise Fault(f"cannot be read, it has no {RESULT}", "name a folder that --out wrote")
        manifest = Manifest.read(folder)
        found = read_record(manifest.content(folder, RESULT, _LARGEST_RESULT), str(folder / RESULT))
        data = _with_page(found)
        if data is None:
            what = f"is a result of venue {found.kind}, which has no page"
            raise Fault(what, f"name one of venue {', '.join(_WITH_PAGE)}")
        scenario = manifest.content(folder, SCENARIO, LARGEST_FILE).decode("utf-8", errors="replace")
    except Fault as fault:
        raise InputError(f"{path}: {fault}") from None
    except OSError as error:
        why = error.strerror or "something is in its way"
        raise InputError(f"{path}: cannot be read ({why}); name a folder that --out wrote") from None
    tables, left_out = {}, {}
    for name in manifest.files:
        if name.endswith(".csv"):
            try:
                content = manifest.content(folder, name, _LARGEST_TABLE)
                tables[name.removesuffix(".csv")] = content.decode("utf-8", errors="replace")
            except Fault as fault:
                left_out[name] = fault.what
    left_out |= dict.fromkeys(manifest.strangers(folder), "")
    loaded = read_text(scenario, str(folder / SCENARIO))
    return Record(str(path), data, loaded, tables, _numbers(data), left_out)


def _with_page(found: AnyRecord) -> Data | None:
    return None if isinstance(found, TuneRecord) else found


def _numbers(data: Data) -> SensitivityRecord | None:
    return data if isinstance(data, SensitivityRecord) else None


def beside(path: str | Path) -> Path:
    """Where the page of results goes that no file was named for."""
    place = Path(path)
    return (place.parent if place.is_file() else place) / "report.html"
