"""People who come together: how many, when, to which machines, how they go home and come back."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from functools import cache
from typing import Any

import numpy as np
import pytest

from tests.checking import Disagrees

from .textbook import Run, assert_simulated, run, textbook, walk

SIZES = {"1": 0.5, "2": 0.3, "4": 0.2}
MEAN = 0.5 * 1 + 0.3 * 2 + 0.2 * 4
SQUARE = 0.5 * 1 + 0.3 * 4 + 0.2 * 16
PER_HOUR, OPEN = 30.0, 22.0  # the door is shut for the last two hours


@cache
def outings(leave_together: float = 0.5, **party: Any) -> tuple[Run, ...]:
    """Parties at a great many machines, a play each of some minutes."""
    machine = {"price": 1, "count": 400, "play_time": "5 min", "play_time_varies": "exponential"}
    people = {
        "party": {"sizes": SIZES, "leave_together": leave_together, **party},
        "wallet": {"median": 3},
        "stay": {"median": "1 h"},
        "choice": {"leave": 0.0},
    }
    return tuple(run(textbook({"desk": machine}, PER_HOUR, people=people), seed=61))


def arrivals(one: Run) -> np.ndarray[Any, np.dtype[np.int64]]:
    """How many people came at each moment at which anybody came."""
    counts: np.ndarray[Any, np.dtype[np.int64]] = one.visits.groupby("arrived").size().to_numpy()
    return counts


# -- how many ------------------------------------------------------------------------------------------------------


def check_compound(runs: Sequence[Run], sizes: Mapping[str, float]) -> None:
    # A compound Poisson process (Feller, Introduction to Probability Theory I, ch. XII; from memory): with parties at
    # rate r and sizes N, the number of people in a time T has mean r T E[N] and variance r T E[N^2].
    mean = sum(int(size) * share for size, share in sizes.items())
    square = sum(int(size) ** 2 * share for size, share in sizes.items())
    counted = np.array([len(one.visits) for one in runs])
    expected = PER_HOUR * OPEN
    assert_simulated(counted, expected)
    assert_simulated((counted - expected) ** 2, expected * square / mean)
    for size, share in sizes.items():
        assert_simulated([(arrivals(one) == int(size)).mean() for one in runs], share)


def test_parties_come_as_a_compound_poisson_process() -> None:
    check_compound(outings(), SIZES)


def test_control_parties_of_other_sizes() -> None:
    with pytest.raises(Disagrees):
        check_compound(outings(), {"1": 0.6, "2": 0.2, "4": 0.2})


def test_a_row_tells_how_many_came() -> None:
    for one in outings():
        came = one.visits.groupby("arrived")["party"]
        assert (came.transform("size") == one.visits["party"]).all()
        assert (one.visits["party"].value_counts().index.sort_values() == [1, 2, 4]).all()


def test_without_company_everybody_comes_alone() -> None:
    machine = {"price": 1, "count": 9, "play_time": "1 min"}
    (one,) = run(textbook({"desk": machine}, PER_HOUR), replications=1, seed=61)
    assert (one.visits["party"] == 1).all() and (arrivals(one) == 1).all()


# -- to which machines ---------------------------------------------------------------------------------------------


@cache
def pairs(together: float) -> tuple[Run, ...]:
    """Parties of two before two rows of machines that are alike."""
    machine = {"price": 1, "count": 200, "play_time": "1 min"}
    people = {"party": {"sizes": {"2": 1.0}, "together": together}}
    return tuple(run(textbook({"left": machine, "right": machine}, 40.0, people=people), seed=62))


def check_together(runs: Sequence[Run], together: float) -> None:
    # Multinomial logit (McFadden 1974): of two options alike but for a friend at one of them, that one is chosen with
    # chance 1 / (1 + exp(-u)).
    shares = [(one.plays.groupby("began")["machines"].nunique() == 1).mean() for one in runs]
    assert_simulated(shares, 1.0 / (1.0 + math.exp(-together)))


@pytest.mark.parametrize("together", [0.0, 1.5, -1.0])
def test_friends_look_for_each_other(together: float) -> None:
    check_together(pairs(together), together)


def test_control_friends_who_like_each_other_less() -> None:
    with pytest.raises(Disagrees):
        check_together(pairs(1.5), 1.2)


# -- home and back -------------------------------------------------------------------------------------------------


def first_to_go(one: Run) -> tuple[int, int]:
    """Of the friends whom one left behind: how many left because the party did, and how many there were."""
    visits = one.visits.sort_values(["arrived", "left"])
    behind = visits[visits.duplicated("arrived")]
    return int((behind["because"] == "party left").sum()), len(behind)


def test_friends_go_home_together_or_not_at_all() -> None:
    gone, behind = np.array([first_to_go(one) for one in outings(0.0)]).sum(axis=0)
    assert gone == 0 and behind > 1000
    for one in outings(1.0):
        # Whoever plays on when one has gone leaves when that play is over, at once if it was the last credit.
        visits = one.visits.sort_values(["arrived", "left"])
        behind = visits[visits.duplicated("arrived")]
        assert set(behind["because"]) <= {"party left", "closing time", "time up"}
        assert (behind["because"] == "party left").mean() > 0.5


def test_leaving_together_has_the_chance_that_was_set() -> None:
    # Whoever goes along does so after the play under way; so the share among those left behind lies between 0 and it.
    shares = [np.divide(*first_to_go(one)) for one in outings(0.5)]
    always = [np.divide(*first_to_go(one)) for one in outings(1.0)]
    assert 0.3 < np.mean(shares) / np.mean(always) < 0.7


@cache
def regulars() -> tuple[Run, ...]:
    people = {
        "party": {"sizes": {"1": 0.4, "3": 0.6}, "leave_together": 0.3},
        "wallet": {"median": 4, "spread": 0.8},
        "stay": {"median": "1 h"},
        "choice": {"leave": -1.0},
        "come_back": {"constant": 0.3, "delay_median": "2 days", "delay_spread": 0.3},
    }
    machine = {"price": 1, "count": 60, "play_time": "4 min", "play_time_varies": "exponential"}
    return tuple(run(textbook({"desk": machine}, 8.0, people=people, days=10), replications=3, seed=63))


def test_those_who_came_together_come_back_together() -> None:
    for one in regulars():
        later = one.visits[one.visits["visit"] > 0]
        assert len(later) > 200
        threes = later[later["party"] == 3].groupby("arrived")
        assert (threes.size() == 3).all() and (threes["visit"].nunique() == 1).all()
        # Members of a party are numbered in a row.
        assert (threes["person"].max() - threes["person"].min() == 2).all()
        told = one.visits[one.visits["party"] == 3].groupby(["arrived"])["next_visit"]
        assert (told.nunique() == 1).all()
        assert (one.visits["next_visit"] > one.visits["left"]).all()


def test_one_game_for_two_friends() -> None:
    """A pair at a two-seat machine plays at once, against each other."""
    machine = {"title": "walk", "price": 1, "seats": 2, "count": 60, "wait_for_opponent": "2 min"}
    scenario = textbook({"walk": machine}, PER_HOUR, titles={"walk": walk(20)}, people={"party": {"sizes": {"2": 1.0}}})
    (one,) = run(scenario, replications=1, seed=64)
    assert len(one.plays) > 500
    assert (one.plays["against"] == 1).all() and (one.visits["waited"] == 0).all()
    assert (one.plays.groupby("contest")["began"].nunique() == 1).all()
    arrived = one.visits.set_index("person")["arrived"]
    assert (one.plays["began"].to_numpy() == arrived.loc[one.plays["person"]].to_numpy()).all()
