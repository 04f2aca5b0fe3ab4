"""The venue as a place: when it is open, what a credit costs, when people who never came before walk in."""

from __future__ import annotations

from pydantic import Field

from venue import units
from venue.scenario.by_clock import HourlyRates
from venue.scenario.faults import Technician
from venue.scenario.fields import Chance, Factor, LogSpread, Money, Name, Part
from venue.scenario.hours import Hours
from venue.scenario.till import Till


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
    players: Chance = Field(1.0, description="part of the people counted who come to play; the others are not modelled")
    week_spread: LogSpread = Field(
        0.0, description="how weeks differ from each other, weather and all, the same for every setting; 0: not at all"
    )
    catchment: int | None = Field(
        None, ge=1, le=1_000_000_000,
        description="people who may come at all: first visits thin out as fewer of them are left; no end if unsaid",
    )  # fmt: skip


class Site(Part):
    """One venue: hours, the price of a credit, arrivals, the till and the technician."""

    name: Name = Field(description="what the place is called")
    credit_price: Money = Field(description="money a visitor pays for one credit")
    money: Name = Field("money", description="name of the currency")
    operator_share: Chance = Field(
        1.0, description="part of the take that is the operator's; the rest is the site owner's"
    )
    hours: Hours
    arrivals: Arrivals
    till: Till = Till()
    technician: Technician = Technician()
