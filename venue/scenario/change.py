"""A change by date: what holds from a day on, for all machines or for some."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Any

from pydantic import BeforeValidator, Field, WithJsonSchema, model_validator

from venue.errors import Fault
from venue.scenario.by_clock import HourlyPrices
from venue.scenario.fields import Count, Credits, Name, Part, Unit
from venue.scenario.hours import Hours
from venue.scenario.limits import Limits

_OF_MACHINES = ("strength", "switches_off", "price", "price_to_go_on", "prices", "prices_to_go_on", "count")
_OF_VENUE = ("hours", "limits")


def _date(value: Any) -> Any:
    # A date without quotes is TOML's own.
    if isinstance(value, date):
        return value.isoformat()
    try:
        return date.fromisoformat(value).isoformat()
    except (TypeError, ValueError):
        raise Fault(f"{value!r} is not a date", 'write it like "2030-07-01"') from None


Date = Annotated[str, BeforeValidator(_date), WithJsonSchema({"type": "string", "pattern": r"^\d{4}-\d{2}-\d{2}$"})]


class Change(Part):
    """What holds from a day on, until another change; the first opening of that day begins with it."""

    day: int | None = Field(
        None, ge=0, le=36_500, description="from which day on; 0 is the first day after the time before, or the opening"
    )
    date: Date | None = Field(None, description="the same as a date; needs `study.starts`")
    machines: tuple[Name, ...] | None = Field(None, description="keys of the machines it holds for; all if unsaid")
    strength: Annotated[float | None, Field(ge=0, le=100), Unit("strength")] = Field(
        None, description="catch-up strength from then on"
    )
    switches_off: tuple[Name, ...] | None = Field(None, description="operator switches that are off from then on")
    price: Credits | None = Field(None, description="as `machines.KEY.price`")
    price_to_go_on: Credits | None = Field(None, description="as `machines.KEY.price_to_go_on`")
    prices: HourlyPrices | None = Field(None, description="as `machines.KEY.prices`")
    prices_to_go_on: HourlyPrices | None = Field(None, description="as `machines.KEY.prices_to_go_on`")
    count: Count | None = Field(None, description="how many cabinets there are from then on")
    hours: Hours | None = Field(None, description="opening hours from then on; a weekday unsaid is as `every_day`")
    limits: Limits | None = Field(None, description="limits on spending from then on; none where it says none")

    @model_validator(mode="after")
    def _is_one(self) -> Change:
        if (self.day is None) == (self.date is None):
            raise Fault("a change has either a day or a date", "give one of the two")
        if all(getattr(self, name) is None for name in (*_OF_MACHINES, *_OF_VENUE)):
            raise Fault("changes nothing", f"give one of {', '.join((*_OF_MACHINES, *_OF_VENUE))}")
        if self.machines is not None and all(getattr(self, name) is None for name in _OF_MACHINES):
            raise Fault("names machines, but changes nothing of them", "take machines out")
        return self

    def of_machines(self) -> dict[str, Any]:
        """What it changes of the machines it holds for."""
        return {name: value for name in _OF_MACHINES if (value := getattr(self, name)) is not None}
