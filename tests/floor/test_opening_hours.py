"""Opening hours: who may come in, what may still be bought, and what happens past midnight."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import pandas as pd
import pytest

from tests.checking import Disagrees, check_equal, check_that
from venue.units import DAY, HOUR, WEEKDAYS

from .demos import DAYS, NAMES, amount, demo, written
from .textbook import SURELY, Run, run, textbook, walk

Opening = tuple[float, float]
MINUTE = 60.0


def clock(text: str) -> float:
    hours, minutes = text.split(":")
    return int(hours) * HOUR + int(minutes) * MINUTE


def openings(hours: dict[str, str], days: int) -> list[Opening]:
    """Opening and closing of each day on which the venue opens, read from the file's own words."""
    found = []
    for day in range(days):
        text = hours.get(WEEKDAYS[day % 7], hours["every_day"])
        if text != "closed":
            begin, end = text.split("-")
            found.append((day * DAY + clock(begin), day * DAY + clock(end)))
    return found


def session_of(times: pd.Series, open_hours: list[Opening]) -> np.ndarray:
    """Which opening each time belongs to: the last that had begun."""
    return np.searchsorted([begin for begin, _ in open_hours], times.to_numpy(), side="right") - 1


def check_door(one: Run, open_hours: list[Opening], last_entry: float) -> None:
    """Everybody comes between opening and last entry."""
    arrived = one.visits["arrived"]
    which = session_of(arrived, open_hours)
    check_that(which.min() >= 0)
    begins, ends = np.array(open_hours).T
    check_that((arrived >= begins[which]).all())
    check_that((arrived < ends[which] - last_entry).all())
    # Every day is used, and used to within an hour or two of both ends: the hours are not merely respected.
    check_equal(set(which), set(range(len(open_hours))))


def period_length(title: dict[str, Any]) -> float:
    """Playing time of a period; NaN where it is the score that ends it."""
    if "first_to" in title:
        return np.nan
    if "race" in title:
        return float(round(title["race"]["distance"] / title["race"]["pace"] / title["periods"]))
    return amount(title["period_length"])


def last_payment(plays: pd.DataFrame, scenario: dict[str, Any]) -> pd.Series:
    """When the last period of each play was paid for: the first at its start, a later one as the one before ends."""
    lasts, pauses = [], []
    for machine in scenario["machines"].values():
        title = scenario.get("titles", {}).get(machine.get("title"), {})
        lasts.append(period_length(title) if title else 0.0)
        pauses.append(amount(title.get("break_length", "10 s")) if title else 0.0)
    length, pause = (np.array(part)[plays["machines"]] for part in (lasts, pauses))
    later = plays["periods"] - 1
    return plays["began"] + later * length + (later - 1).clip(lower=0) * pause


def check_coin_box(one: Run, open_hours: list[Opening], scenario: dict[str, Any]) -> None:
    """Nobody buys a period at closing or after it."""
    ends = np.array(open_hours)[:, 1]
    # Where the score ends a period the first payment is all that the file tells.
    paid = last_payment(one.plays, scenario).fillna(one.plays["began"])
    check_that((paid < ends[session_of(one.plays["began"], open_hours)]).all())


@pytest.mark.parametrize("name", NAMES)
def test_demo_venues_keep_their_hours(name: str) -> None:
    scenario = written(name)
    hours = scenario["venue"]["hours"]
    open_hours = openings(hours, DAYS)
    for one in demo(name):
        check_door(one, open_hours, amount(hours.get("last_entry", "0 s")))
        check_coin_box(one, open_hours, scenario)


@pytest.mark.parametrize("name", NAMES)
def test_control_hours_of_another_venue(name: str) -> None:
    scenario = written(name)
    hours = scenario["venue"]["hours"]
    later = [(begin + HOUR, end + HOUR) for begin, end in openings(hours, DAYS)]
    earlier = [(begin - HOUR, end - HOUR) for begin, end in openings(hours, DAYS)]
    with pytest.raises(Disagrees):
        check_door(demo(name)[0], later, amount(hours.get("last_entry", "0 s")))
    with pytest.raises(Disagrees):
        check_door(demo(name)[0], earlier, amount(hours.get("last_entry", "0 s")))
    with pytest.raises(Disagrees):
        long_before = [(begin - 3 * HOUR, end - 3 * HOUR) for begin, end in openings(hours, DAYS)]
        check_coin_box(demo(name)[0], long_before, scenario)


# -- closing time --------------------------------------------------------------------------------------------------

LONG = {
    "venue": {"hours": {"every_day": "10:00-14:00"}},
    "titles": {"walk": {"period_length": "600 s", "break_length": "60 s"}},
    "machines": {"walk": {"title": "walk"}},
}


@cache
def at_closing_time(last_entry: str) -> list[Run]:
    """Contests of five periods of ten minutes, and people who never have enough of them."""
    scenario = textbook(
        {"walk": {"title": "walk", "price": 1, "count": 3}},
        30.0,
        titles={"walk": walk(600, periods=5, break_length="60 s")},
        people={"buy_in": {"again": SURELY}, "wallet": {"off": True}, "stay": {"off": True}},
        hours={"every_day": "10:00-14:00", "last_entry": last_entry},
        days=3,
    )
    return run(scenario, replications=2, seed=41)


def test_a_period_paid_for_is_played_out() -> None:
    open_hours = openings(LONG["venue"]["hours"], 3)
    for one in at_closing_time("0 min"):
        check_coin_box(one, open_hours, LONG)
        ends = np.array(open_hours)[session_of(one.plays["began"], open_hours), 1]
        late = one.plays[one.plays["ended"] > ends]
        # Three machines, busy at each closing, and nobody let off before the period is over.
        assert len(late) >= 6
        overtime = late["ended"] - ends[late.index]
        # Paid for at a break just before closing: that minute and the ten of the period.
        assert overtime.between(0.0, 660.0).all()
        stopped = late[late["periods"] < 5]
        assert len(stopped) and stopped["result"].isna().all()
        length = one.plays["ended"] - one.plays["began"]
        assert np.allclose(length, one.plays["periods"] * 660.0 - 60.0)
        assert set(one.visits["because"]) == {"closing time"}


def test_lines_break_up_at_closing() -> None:
    for one in at_closing_time("0 min"):
        empty_handed = one.visits[one.visits["plays"] == 0]
        assert len(empty_handed) > 20
        # Who still stands in line leaves as the doors close, and has not given up.
        assert np.allclose(empty_handed["left"] % DAY, 14 * HOUR)
        assert (empty_handed["gave_up"] == 0).all()
        assert (empty_handed["lines"] == 1).all()
        assert np.allclose(empty_handed["waited"], empty_handed["left"] - empty_handed["arrived"], rtol=1e-6)


def test_who_rests_is_shown_out_at_closing() -> None:
    # After closing nobody is inside but who plays out what is paid for.
    scenario = textbook(
        {"slide": {"price": 1, "count": 10, "play_time": "1 min"}},
        30.0,
        hours="10:00-12:00",
        days=3,
        people={
            "wallet": {"off": True},
            "stay": {"off": True},
            "choice": {"rest": 4.0, "rest_length": "25 min"},
        },
    )
    (one,) = run(scenario, replications=1, seed=43)
    visits = one.visits.set_index("person")
    played = one.plays.groupby("person")["ended"].max().reindex(visits.index).fillna(0.0)
    closing = visits["arrived"] // DAY * DAY + 12 * HOUR
    assert (visits["left"] <= np.maximum(closing, played) + 1e-6).all()


def check_last_entry(one: Run, last_entry: float) -> None:
    check_that((one.visits["arrived"] % DAY < 14 * HOUR - last_entry).all())


def test_last_entry() -> None:
    for one in at_closing_time("30 min"):
        check_last_entry(one, 30 * MINUTE)
        # Who is inside may go on buying until closing.
        assert (one.plays["began"] % DAY > 13.5 * HOUR).any()


def test_control_last_entry_of_a_venue_without_one() -> None:
    with pytest.raises(Disagrees):
        check_last_entry(at_closing_time("0 min")[0], 30 * MINUTE)


# -- past midnight -------------------------------------------------------------------------------------------------


def desk_open(hours: str | dict[str, str], per_hour: float | dict[str, float], days: int) -> Run:
    machine = {"price": 1, "count": 40, "play_time": "30 min"}
    return run(textbook({"desk": machine}, per_hour, hours=hours, days=days), replications=1, seed=42)[0]


def test_the_small_hours_belong_to_the_evening_before() -> None:
    # The rate is of the day of opening: people from midnight on only, on Fridays and Saturdays only.
    hours = {"every_day": "closed", "friday": "20:00-26:00", "saturday": "20:00-26:00"}
    one = desk_open(hours, {"20:00": 0.0, "24:00": 60.0}, 14)
    day, hour = np.divmod(one.visits["arrived"], DAY)
    assert set(day % 7) == {5.0, 6.0}  # the mornings of Saturday and of Sunday
    assert hour.max() < 2 * HOUR
    assert (hour < 0.2 * HOUR).any() and (hour > 1.8 * HOUR).any()


def test_days_that_meet_are_one_opening() -> None:
    # A venue that never closes: plays run over midnight, and last entry waits for the end of the run.
    one = desk_open({"every_day": "06:00-30:00", "last_entry": "1 h"}, 40.0, 3)
    begun, ended = one.plays["began"] - 6 * HOUR, one.plays["ended"] - 6 * HOUR
    for night in (1, 2):
        assert ((begun < night * DAY) & (ended > night * DAY)).any()
        last_hour = (one.visits["arrived"] - 6 * HOUR).between(night * DAY - HOUR, night * DAY)
        assert last_hour.sum() > 20
    assert (one.visits["arrived"] < 6 * HOUR + 3 * DAY - HOUR).all()
    assert set(one.visits["because"]) == {"time up"}


def test_a_closed_day_between_two_openings() -> None:
    one = desk_open({"every_day": "00:00-24:00", "wednesday": "closed"}, 40.0, 5)
    assert set(one.visits["arrived"] // DAY) == {0.0, 1.0, 3.0, 4.0}
    # Tuesday ends at midnight for who is playing then; nobody plays on, nobody is kept.
    tuesday = one.visits[one.visits["arrived"] < 2 * DAY]
    assert tuesday["left"].max() < 2 * DAY + 0.5 * HOUR
