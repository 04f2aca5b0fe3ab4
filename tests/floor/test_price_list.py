"""Prices by the time of day, laid out over days of opening, by hand."""

from __future__ import annotations

from typing import Any

from venue.floor.calendar import Day
from venue.floor.price_list import Price, changes_of_day, steps_of_day
from venue.scenario.machine import Machine
from venue.units import DAY, HOUR


def machine(**keys: Any) -> Machine:
    return Machine.model_validate({"title": "walk", "price": 2, **keys})


def day(opens: float, closes: float, number: int = 0) -> Day:
    start = number * DAY
    return Day(number, start + opens * HOUR, start + closes * HOUR, start + closes * HOUR)


def test_one_price_all_day() -> None:
    assert changes_of_day(machine(price_to_go_on=1), day(10, 20, 3)) == [(3 * DAY + 10 * HOUR, Price(2, 1))]


def test_steps_within_the_day_begin_when_they_say() -> None:
    evening = machine(prices={"17:00": 3, "19:30": 1})
    assert changes_of_day(evening, day(10, 20, 1)) == [
        (DAY + 10 * HOUR, Price(2, 2)), (DAY + 17 * HOUR, Price(3, 3)), (DAY + 19.5 * HOUR, Price(1, 1)),
    ]  # fmt: skip


def test_steps_before_the_opening_hold_from_it_and_those_after_closing_never() -> None:
    assert changes_of_day(machine(prices={"8:00": 5, "9:00": 4, "20:00": 9}), day(10, 20)) == [(10 * HOUR, Price(4, 4))]


def test_small_hours_count_on() -> None:
    assert changes_of_day(machine(prices={"25:00": 1}), day(17, 26))[-1] == (25 * HOUR, Price(1, 1))


def test_the_price_to_go_on_steps_by_itself_or_with_the_price() -> None:
    by_itself = machine(price_to_go_on=1, prices={"17:00": 4}, prices_to_go_on={"18:00": 2})
    assert list(steps_of_day(by_itself).values()) == [Price(2, 1), Price(4, 1), Price(4, 2)]
    only_later = machine(prices={"17:00": 4}, prices_to_go_on={"18:00": 2, "19:00": 3})
    assert list(steps_of_day(only_later).values()) == [Price(2, 2), Price(4, 4), Price(4, 2), Price(4, 3)]
