"""The kinds of number a scenario may hold, each with its unit, its bounds and the way people write it."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    GetJsonSchemaHandler,
    PlainSerializer,
    WithJsonSchema,
)

from venue import units
from venue.errors import Fault, is_control


class Unit:
    """Marks a field with the unit its number has inside the code; shown by `venue check` and the reference."""

    def __init__(self, text: str) -> None:
        self.text = text

    def __get_pydantic_json_schema__(self, core: Any, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        """What pydantic says of the number, and its unit; `venue.scenario.schema` tells how that is written."""
        return {**handler(core), "unit": self.text}


class Part(BaseModel):
    """Base of every part of a scenario: unknown keys fail, nothing is changed after loading."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, allow_inf_nan=False)


# A name stands in tables and on charts, a note in a paragraph.
LONGEST_NAME, LONGEST_NOTE = 200, 2_000


def _readable(text: str, longest: int, allowed: str = "") -> str:
    if len(text) > longest:
        raise Fault(f"has {len(text)} characters, must have at most {longest}", "shorten it")
    for char in text:
        if char not in allowed and is_control(char):
            kind = "readable text" if allowed else "one line of readable text"
            escape = char.encode("unicode_escape").decode()
            raise Fault(f"holds the control character {escape}, must be {kind}", "take it out")
    return text


def _named(text: str) -> str:
    if not text.strip():
        raise Fault("is empty, must hold at least one letter", "write a name")
    return _readable(text, LONGEST_NAME)


def readable_note(text: str) -> str:
    """A note of some sentences, free of what a terminal would obey.

    Raises
    ------
    Fault
        If it holds a control character, or is too long.
    """
    return _readable(text, LONGEST_NOTE, "\n\r\t")


# Names go into tables, charts and terminals: one line, nothing that moves a cursor.
Name = Annotated[
    str, AfterValidator(_named), WithJsonSchema({"type": "string", "pattern": r"\S", "maxLength": LONGEST_NAME})
]
Prose = Annotated[str, AfterValidator(readable_note)]

# Written back the way people write it, so that a resolved scenario is a scenario again.
_AsDuration = PlainSerializer(units.show_seconds, return_type=str, when_used="json")
# A duration is bound by what it is for. What may as well never happen has a century.
_LONGEST = 36_500 * units.DAY
# A hall may be open all week.
_WEEK, _YEAR = 7 * units.DAY, 365 * units.DAY
_seconds = BeforeValidator(units.seconds)
PositiveSeconds = Annotated[float, _seconds, Field(gt=0, le=_LONGEST), _AsDuration, Unit("s")]
PauseSeconds = Annotated[float, _seconds, Field(ge=0, le=units.HOUR), _AsDuration, Unit("s")]
SecondsInHall = Annotated[float, _seconds, Field(ge=0, le=_WEEK), _AsDuration, Unit("s")]
PositiveSecondsInHall = Annotated[float, _seconds, Field(gt=0, le=_WEEK), _AsDuration, Unit("s")]
SecondsUntilNoticed = Annotated[float, _seconds, Field(ge=0, le=_YEAR), _AsDuration, Unit("s")]
RepairSeconds = Annotated[float, _seconds, Field(gt=0, le=_YEAR), _AsDuration, Unit("s")]
Chance = Annotated[float, BeforeValidator(units.fraction), Field(ge=0, le=1), Unit("chance")]
ChanceShift = Annotated[float, BeforeValidator(units.shift), Field(ge=-1, le=1), Unit("change of chance")]
LogOdds = Annotated[float, Field(ge=-20, le=20), Unit("log-odds")]
Spread = Annotated[float, Field(ge=0, le=10), Unit("log-odds")]
LogSpread = Annotated[float, Field(ge=0, le=5), Unit("sd of the logarithm")]
Credits = Annotated[int, Field(ge=0, le=1_000_000), Unit("credits")]
MeanCredits = Annotated[float, Field(ge=0, le=1_000_000), Unit("credits")]
Money = Annotated[float, Field(ge=0, le=1_000_000), Unit("money")]
Points = Annotated[int, Field(ge=0, le=1000), Unit("points")]
Worth = Annotated[int, Field(ge=1, le=1000), Unit("points")]
Margin = Annotated[int, Field(ge=-1000, le=1000), Unit("points")]
Count = Annotated[int, Field(ge=1, le=10_000), Unit("")]
Taste = Annotated[float, Field(ge=-1000, le=1000), Unit("utility")]
# A taste that may also rule an option out altogether.
TasteOrNever = Annotated[float, Field(ge=-float("inf"), le=1000, allow_inf_nan=True), Unit("utility")]
PerHour = Annotated[float, Field(ge=0, le=100_000), Unit("visitors per hour")]
Factor = Annotated[float, Field(ge=0, le=1000), Unit("factor")]
Weight = Annotated[float, Field(ge=0, le=10), Unit("weight")]
Length = Annotated[float, Field(gt=0, le=1_000_000), Unit("lengths")]
Pace = Annotated[float, Field(gt=0, le=100_000), Unit("lengths a second")]
Wander = Annotated[float, Field(ge=0.5, le=5), Unit("lengths, after one second")]
Level = Annotated[float, Field(ge=-1000, le=1000), Unit("level")]
