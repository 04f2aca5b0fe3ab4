"""What machines cost by the time of day: steps of a price, laid out over the days of opening."""

from __future__ import annotations

from dataclasses import dataclass

from venue.floor.calendar import Day
from venue.scenario.machine import Machine
from venue.units import DAY


@dataclass(frozen=True)
class Price:
    """Credits for the first period, or for a play, and for each later period."""

    first: int
    later: int


def steps_of_day(machine: Machine) -> dict[float, Price]:
    """Prices of a machine by the time from which they hold, in seconds after midnight; the first from the opening on.

    Where no price to go on is stated it is that of the first period.
    """
    first, later = machine.price, machine.price_to_go_on
    steps = {0.0: Price(first, first if later is None else later)}
    for time in sorted({*machine.prices, *machine.prices_to_go_on}):
        first = machine.prices.get(time, first)
        later = machine.prices_to_go_on.get(time, later)
        steps[time] = Price(first, first if later is None else later)
    return steps


def changes_of_day(machine: Machine, day: Day) -> list[tuple[float, Price]]:
    """When prices change on a day of opening, in seconds from the start of the run; the first holds from opening."""
    start = day.number * DAY
    found: list[tuple[float, Price]] = []
    for time, price in steps_of_day(machine).items():
        if start + time <= day.opens:
            found = [(day.opens, price)]
        elif start + time < day.closes:
            found.append((start + time, price))
    return found
