"""L = lambda W, exactly, in runs that start and end empty (Little 1961, Operations Research 9(3))."""

from __future__ import annotations

import numpy as np
import pytest

from venue.units import DAY

from .demos import NAMES, demo
from .textbook import PLAY, Run, assert_close, number_inside, run, textbook

# A line long enough to be left, broken up by closing time each evening.
EVENINGS = textbook(
    {"desk": {"price": 1, "count": 2, "play_time": f"{PLAY:g} s", "play_time_varies": "exponential", "line_limit": 9}},
    60.0,
    days=6,
    hours="10:00-22:00",
    people={"patience": {"off": False, "mean": "6 min"}},
)


@pytest.fixture(scope="module")
def evenings() -> list[Run]:
    return run(EVENINGS, replications=3, seed=21)


def parts_of_visits(one: Run) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """When each visitor came, was done with waiting, and left."""
    visits = one.visits.set_index("person")
    began = one.plays.set_index("person")["began"].reindex(visits.index)
    return visits["arrived"].to_numpy(), began.fillna(visits["left"]).to_numpy(), visits["left"].to_numpy()


def check_line(one: Run, end: float) -> None:
    """The line: its mean length, area by area, against arrivals times the wait that each visitor was clocked at."""
    arrived, done, _ = parts_of_visits(one)
    length = number_inside(arrived, done, 0.0, end)
    seen = arrived < end
    waited = one.visits["waited"].to_numpy(dtype=float)[seen]
    # Waits are kept to seven digits.
    assert_close(length, seen.sum() / end * waited.mean(), 1e-7)


def check_venue(one: Run, end: float) -> None:
    """The venue: its mean number inside is the mean line plus the mean number of machines in play, by their clocks."""
    arrived, done, left = parts_of_visits(one)
    inside = number_inside(arrived, left, 0.0, end)
    assert_close(inside, (arrived < end).sum() / end * (left - arrived)[arrived < end].mean(), 1e-9)
    line = number_inside(arrived, done, 0.0, end)
    assert_close(inside, line + one.account("machine time in play =").left / end, 1e-9)


def test_little_in_the_line(evenings: list[Run]) -> None:
    for one in evenings:
        assert set(one.visits["because"]) == {"time up", "closing time", "no room"}
        assert (one.visits["gave_up"] > 0).any()
        check_line(one, one.days * DAY + DAY)


def test_little_in_the_venue(evenings: list[Run]) -> None:
    for one in evenings:
        check_venue(one, one.days * DAY + DAY)


def test_control_observed_until_somebody_is_half_through_the_line(evenings: list[Run]) -> None:
    longest = evenings[0].visits.nlargest(1, "waited").iloc[0]
    until = longest["arrived"] + longest["waited"] / 2
    with pytest.raises(AssertionError):
        check_line(evenings[0], until)
    with pytest.raises(AssertionError):
        check_venue(evenings[0], until)


@pytest.mark.parametrize("name", NAMES)
def test_little_in_the_demo_venues(name: str) -> None:
    for one in demo(name):
        arrived, left = one.visits["arrived"].to_numpy(), one.visits["left"].to_numpy()
        end = 40 * DAY
        assert left.max() < end
        inside = number_inside(arrived, left, 0.0, end)
        assert_close(inside, len(arrived) / end * (left - arrived).mean(), 1e-9)


def test_everybody_is_counted_once(evenings: list[Run]) -> None:
    for one in evenings:
        assert one.account("visitors in").left == len(one.visits) == one.visits["person"].nunique()
        assert one.visits["person"].tolist() == list(range(len(one.visits)))
