"""The venue as a place: when it is open, what a credit costs, when people who never came before walk in."""

from __future__ import annotations

from itertools import pairwise
from operator import itemgetter
from typing import Annotated, Any

from pydantic import BeforeValidator, Field, PlainSerializer

from venue import units
from venue.scenario.fields import Factor, Money, Name, Part, PerHour, Seconds, Unit

Opening = tuple[float, float]


def _opening(value: object) -> Opening | None:
    if value == "closed":
        return None
    # An en dash is what many a keyboard and spreadsheet makes of it.
    start, dash, end = value.replace("–", "-").partition("-") if isinstance(value, str) else ("", "", "")
    if not dash:
        raise ValueError('not opening hours; write them like "10:00-22:00" or "closed"')
    opening = units.clock(start), units.clock(end)
    if opening[1] <= opening[0]:
        hours, minutes = divmod(round(opening[1] / units.MINUTE) + 24 * 60, 60)
        raise ValueError(
            f'closing at "{end.strip()}" is not after opening at "{start.strip()}"; for the small hours after '
            f'midnight count on, "{start.strip()}-{hours:02d}:{minutes:02d}"'
        )
    if opening[1] > opening[0] + units.DAY:
        raise ValueError("a day of opening lasts at most 24 h; shorten it")
    return opening


def _show_opening(value: Opening | None) -> str:
    return "closed" if value is None else f"{units.show_clock(value[0])}-{units.show_clock(value[1])}"


OpeningHours = Annotated[
    Opening | None,
    BeforeValidator(_opening, json_schema_input_type=str),
    PlainSerializer(_show_opening, return_type=str, when_used="json"),
    Unit("s after midnight"),
]


def _per_hour(value: Any) -> Any:
    if isinstance(value, dict):
        rates = [(units.clock(key), rate) for key, rate in value.items()]
        rates.sort(key=itemgetter(0))
        for (earlier, _), (later, _) in pairwise(rates):
            if earlier == later:
                raise ValueError(f'names "{units.show_clock(later)}" twice; keep one of the two')
        return dict(rates)
    raise ValueError('must be a table; write visitors per hour from each time of day on, like { "10:00" = 6 }')


def _show_per_hour(value: dict[float, float]) -> dict[str, float]:
    return {units.show_clock(start): rate for start, rate in value.items()}


HourlyRates = Annotated[
    dict[float, PerHour],
    BeforeValidator(_per_hour, json_schema_input_type=dict[str, float]),
    PlainSerializer(_show_per_hour, return_type=dict[str, float], when_used="json"),
]


class Hours(Part):
    """Opening hours by weekday; `every_day` holds where a weekday says nothing."""

    every_day: OpeningHours = Field(None, description="hours of each day that has none of its own")
    monday: OpeningHours = None
    tuesday: OpeningHours = None
    wednesday: OpeningHours = None
    thursday: OpeningHours = None
    friday: OpeningHours = None
    saturday: OpeningHours = None
    sunday: OpeningHours = None
    last_entry: Seconds = Field(0.0, description="how long before closing the door shuts to newcomers")

    def on(self, weekday: int) -> Opening | None:
        """Opening and closing in seconds after midnight on a weekday (0 is Monday), or None when closed."""
        name = units.WEEKDAYS[weekday]
        hours: Opening | None = getattr(self, name) if name in self.model_fields_set else self.every_day
        return hours


class Weekdays(Part):
    """How busy each weekday is, as a factor on the hourly rates."""

    monday: Factor = 1.0
    tuesday: Factor = 1.0
    wednesday: Factor = 1.0
    thursday: Factor = 1.0
    friday: Factor = 1.0
    saturday: Factor = 1.0
    sunday: Factor = 1.0

    def on(self, weekday: int) -> float:
        """Factor of a weekday, 0 being Monday."""
        factor: float = getattr(self, units.WEEKDAYS[weekday])
        return factor


class Arrivals(Part):
    """First-time visitors from outside: a rate that holds from each time of day until the next one named."""

    per_hour: HourlyRates = Field(min_length=1, description="visitors per hour from each time of day on")
    weekday: Weekdays = Weekdays()
    catchment: int | None = Field(
        None, ge=1, le=1_000_000_000,
        description="people who may come at all: first visits thin out as fewer of them are left; no end if unsaid",
    )  # fmt: skip


class Site(Part):
    """One venue: hours, the price of a credit, arrivals."""

    name: Name = Field(description="what the place is called")
    credit_price: Money = Field(description="money a visitor pays for one credit")
    money: Name = Field("money", description="name of the currency")
    hours: Hours
    arrivals: Arrivals
