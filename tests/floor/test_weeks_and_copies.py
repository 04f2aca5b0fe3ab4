"""Weeks that differ, people who do not play, and machines that are no options of their own."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray

from venue.floor.calendar import Profile, open_days
from venue.floor.timetable import Timetable
from venue.scenario.load import Loaded
from venue.streams import Streams

from .textbook import Raw, over, run, textbook

DAYS, MEAN = 7 * 300, 84.0


@cache
def weekly_counts(spread: float, players: float = 1.0) -> NDArray[np.int64]:
    """First-time visitors of 300 weeks, 12 a day at the most."""
    site = at_desk().vary([f"venue.arrivals.week_spread={spread}", f"venue.arrivals.players={players}"]).scenario.venue
    profile, party = Profile(site.arrivals), at_desk().scenario.people.party
    counts = [
        len(profile.first_timers(day, Streams(8, 0), party)[0]) for day in open_days(Timetable([(0, site.hours)]), DAYS)
    ]
    return np.array(counts).reshape(-1, 7).sum(axis=1)


def at_desk() -> Loaded:
    return textbook({"desk": {"price": 1, "play_time": "1 s"}}, 2.0, hours="10:00-16:00")


def check_spread(counts: NDArray[np.int64], spread: float) -> None:
    # A Poisson count whose mean is drawn anew each week (mixed Poisson, textbook) has variance m + m^2 (e^(s^2) - 1).
    variance = MEAN + MEAN**2 * np.expm1(spread**2)
    assert abs(counts.mean() - MEAN) < 4 * np.sqrt(variance / len(counts))
    # The standard error of a sample variance, from the fourth moment seen.
    error = np.sqrt((np.mean((counts - counts.mean()) ** 4) - counts.var() ** 2) / len(counts))
    assert abs(counts.var(ddof=1) - variance) < 4 * error


@pytest.mark.parametrize("spread", [0.0, 0.3])
def test_weeks_differ_as_much_as_they_should(spread: float) -> None:
    check_spread(weekly_counts(spread), spread)


def test_control_weeks_that_do_not_differ() -> None:
    with pytest.raises(AssertionError):
        check_spread(weekly_counts(0.0), 0.3)


def test_of_the_people_counted_a_part_plays() -> None:
    counts = weekly_counts(0.0, 0.25)
    assert abs(counts.mean() - 0.25 * MEAN) < 4 * np.sqrt(0.25 * MEAN / len(counts))


def shares(copies: float) -> float:
    """Part of the plays at five machines alike, beside one that is like them, where nobody ever waits."""
    machine: Raw = {"price": 1, "play_time": "1 s"}
    people = over({}, {"choice": {"copies": copies}})
    both = textbook({"one": machine, "five": {**machine, "count": 5}}, 30.0, people=people, days=4)
    plays = np.concatenate([item.plays["machine"].to_numpy() for item in run(both, replications=2)])
    assert len(plays) > 4000
    return float(np.mean(plays == "five"))


def check_share(found: float, copies: float) -> None:
    # Multinomial logit with utility copies x ln(machines): 5^c to 1 (McFadden 1974).
    expected = 5**copies / (5**copies + 1)
    assert abs(found - expected) < 4 * np.sqrt(expected * (1 - expected) / 4000)


@pytest.mark.parametrize("copies", [0.0, 0.5, 1.0])
def test_machines_alike_are_chosen_as_far_as_they_are_options(copies: float) -> None:
    check_share(shares(copies), copies)


def test_control_idle_copies_pay_where_each_is_an_option() -> None:
    with pytest.raises(AssertionError):
        check_share(shares(1.0), 0.0)
