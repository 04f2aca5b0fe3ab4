"""Records: the results of each command as plain data. The JSON that is written is the JSON that is read back.

record = result.record()
text = record.to_json()
read_record(text) == record
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any

from pydantic import Field, TypeAdapter, ValidationError

from venue.errors import InputError
from venue.study.floor_records import CompareRecord, RunRecord, SensitivityRecord, SweepRecord
from venue.study.title_records import ContestRecord, TuneRecord

Record = RunRecord | SweepRecord | CompareRecord | ContestRecord | TuneRecord | SensitivityRecord

_ADAPTER: TypeAdapter[Record] = TypeAdapter(Annotated[Record, Field(discriminator="kind")])


def read_record(text: str | bytes, source: str = "result") -> Record:
    """The record that a text holds.

    Parameters
    ----------
    source
        What the text is called in messages.

    Raises
    ------
    InputError
        If it is not the JSON of a record, or that of another version.
    """
    try:
        return _ADAPTER.validate_json(text)
    except ValidationError as error:
        raise InputError(_told(source, error)) from None


def record_of(plain: Mapping[str, Any]) -> Record:
    """The record of plain data.

    Raises
    ------
    InputError
        If it is none.
    """
    try:
        return _ADAPTER.validate_python(plain)
    except ValidationError as error:
        raise InputError(_told("result", error)) from None


def _told(source: str, error: ValidationError) -> str:
    """The first thing wrong, with the key and what it holds."""
    first = error.errors()[0]
    where = ".".join(map(str, first["loc"][1:])) or "its beginning"
    if first["type"] == "json_invalid":
        return f"{source}: is not JSON ({first['ctx']['error']}); run the command again with --out"
    if first["type"] in ("union_tag_not_found", "union_tag_invalid", "model_attributes_type"):
        return (
            f"{source}: is not a result of venue run, sweep, compare, contest, tune or sensitivity, or one of another "
            "version; name a folder that one of them wrote with --out"
        )
    return (
        f"{source}: is not a result as this version writes it ({where}: {first['msg'].lower()}); run the command again "
        "with --out"
    )
