"""What a page is made from: a result as JSON has it, the resolved scenario, and the tables, from a folder or from a
command that has just run."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from venue.errors import InputError
from venue.report.folder import RESULT, SCENARIO, csv_texts
from venue.report.scenario_text import sources
from venue.scenario.load import Loaded, load
from venue.study.records import (
    CompareRecord,
    ContestRecord,
    RunRecord,
    SensitivityRecord,
    SweepRecord,
    TuneRecord,
    read_record,
    record_of,
)
from venue.study.records import Record as AnyRecord

if TYPE_CHECKING:
    from venue.report.folder import Tables

Data = RunRecord | SweepRecord | CompareRecord | ContestRecord | SensitivityRecord
"""Results that have a page."""

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
    """

    source: str
    data: Data
    loaded: Loaded
    tables: Mapping[str, str]
    sensitivity: SensitivityRecord | None = None

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
    file = place if place.is_file() else folder / RESULT
    found = read_record(_text(path, file), str(file))
    data = _with_page(found)
    if data is None:
        raise InputError(
            f"{file}: is a result of venue {found.kind}, which has no page; name one of venue {', '.join(_WITH_PAGE)}"
        )
    if not (folder / SCENARIO).is_file():
        raise InputError(f"{path}: has no {SCENARIO} beside its result; name the whole folder that --out wrote")
    tables = {}
    for table in sorted(folder.glob("*.csv")):
        tables[table.stem] = table.read_text(encoding="utf-8", errors="replace")
    loaded = load(str(folder / SCENARIO))
    return Record(str(path), data, loaded, tables, _numbers(data))


def _with_page(found: AnyRecord) -> Data | None:
    return None if isinstance(found, TuneRecord) else found


def _numbers(data: Data) -> SensitivityRecord | None:
    return data if isinstance(data, SensitivityRecord) else None


def beside(path: str | Path) -> Path:
    """Where the page of results goes that no file was named for."""
    place = Path(path)
    return (place.parent if place.is_file() else place) / "report.html"


def _text(path: str | Path, file: Path) -> str:
    try:
        return file.read_text(encoding="utf-8")
    except FileNotFoundError:
        hint = f"it has no {RESULT}" if Path(path).is_dir() else "there is nothing of that name"
        raise InputError(f"{path}: cannot be read, {hint}; name a folder that --out wrote") from None
    except OSError as error:
        raise InputError(f"{path}: cannot be read ({error.strerror}); name a folder that --out wrote") from None
    except UnicodeDecodeError as error:
        raise InputError(f"{file}: is not text in UTF-8 ({error.reason}); run the command again with --out") from None
