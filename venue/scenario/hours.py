"""Hours of a week: when the venue is open, when the technician is on duty."""

from __future__ import annotations

from typing import Annotated

from pydantic import BeforeValidator, Field, PlainSerializer

from venue import units
from venue.errors import Fault
from venue.scenario.fields import Part, SecondsInHall, Unit

Opening = tuple[float, float]


def _opening(value: object) -> Opening | None:
    if value == "closed":
        return None
    # An en dash is what many a keyboard and spreadsheet makes of it.
    start, dash, end = value.replace("–", "-").partition("-") if isinstance(value, str) else ("", "", "")
    if not dash:
        raise Fault("not opening hours", 'write them like "10:00-22:00" or "closed"')
    opening = units.clock(start), units.clock(end)
    if opening[1] <= opening[0]:
        hours, minutes = divmod(round(opening[1] / units.MINUTE) + 24 * 60, 60)
        raise Fault(
            f'closing at "{end.strip()}" is not after opening at "{start.strip()}"',
            f'for the small hours after midnight count on, "{start.strip()}-{hours:02d}:{minutes:02d}"',
        )
    if opening[1] > opening[0] + units.DAY:
        raise Fault("a day of opening lasts at most 24 h", "shorten it")
    return opening


def _show_opening(value: Opening | None) -> str:
    return "closed" if value is None else f"{units.show_clock(value[0])}-{units.show_clock(value[1])}"


OpeningHours = Annotated[
    Opening | None,
    BeforeValidator(_opening, json_schema_input_type=str),
    PlainSerializer(_show_opening, return_type=str, when_used="json"),
    Unit("s after midnight"),
]


class WeekHours(Part):
    """Hours by weekday; `every_day` holds where a weekday says nothing."""

    every_day: OpeningHours = Field(None, description="hours of each day that has none of its own")
    monday: OpeningHours = None
    tuesday: OpeningHours = None
    wednesday: OpeningHours = None
    thursday: OpeningHours = None
    friday: OpeningHours = None
    saturday: OpeningHours = None
    sunday: OpeningHours = None

    def on(self, weekday: int) -> Opening | None:
        """Opening and closing in seconds after midnight on a weekday (0 is Monday), or None when closed."""
        name = units.WEEKDAYS[weekday]
        hours: Opening | None = getattr(self, name) if name in self.model_fields_set else self.every_day
        return hours


class Hours(WeekHours):
    """Opening hours by weekday; `every_day` holds where a weekday says nothing."""

    last_entry: SecondsInHall = Field(0.0, description="how long before closing the door shuts to newcomers")
