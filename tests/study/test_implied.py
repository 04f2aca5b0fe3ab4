"""What a scenario implies: by hand where the file alone says it, and by the textbook where one run does."""

from __future__ import annotations

import math

import pytest

from venue.scenario.checks import first_timers_a_week
from venue.study.implied import implied

from ..floor.textbook import textbook

PASTIME = {"row": {"count": 50, "price": 1, "play_time": "10 min"}}


def test_first_timers_are_counted_by_hand() -> None:
    """10:00 to 16:00, entry until 15:00: 2 h at 3 an hour and 3 h at 8 make 30 a day, twice that on Sundays."""
    hours = {"every_day": "10:00-16:00", "last_entry": "1 h"}
    loaded = textbook(PASTIME, {"00:00": 3, "12:00": 8}, weekday={"sunday": 2.0}, hours=hours, days=28)
    assert first_timers_a_week(loaded.scenario) == pytest.approx(6 * 30 + 60)


def test_visits_credits_take_and_minutes_of_people_who_come_once() -> None:
    """One credit and one play of ten minutes each, machines enough: a visit lasts ten minutes and takes one credit."""
    loaded = textbook(PASTIME, 20.0, hours="10:00-20:00", days=28)
    found = implied(loaded)
    expected = first_timers_a_week(loaded.scenario)
    # Poisson: four standard deviations of the mean of two weeks.
    assert found.visits == pytest.approx(expected, abs=4 * math.sqrt(expected / 2))
    assert found.credits == pytest.approx(1.0)
    assert found.take == pytest.approx(found.visits * loaded.scenario.venue.credit_price)
    assert found.minutes == pytest.approx(10.0, rel=0.01)
    assert found.first_timers == expected


def test_a_longer_study_changes_nothing_of_the_short_run() -> None:
    short, long = (textbook(PASTIME, 20.0, hours="10:00-20:00", days=days) for days in (7, 56))
    assert implied(short) == implied(long)
