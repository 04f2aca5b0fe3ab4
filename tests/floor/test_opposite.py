"""Two-seat machines: who meets whom, who waits in vain, and who plays on in a seat that was given up."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import cache

import numpy as np
import pandas as pd
import pytest

from tests.checking import Disagrees, check_close, check_equal, check_that
from venue.contest.table import TitleTables
from venue.floor.run import Floor
from venue.floor.seating import Seating
from venue.streams import Streams
from venue.visitors.person import Person

from .demos import NAMES, demo
from .textbook import Run, assert_close, assert_simulated, run, textbook, walk

PER_HOUR = 20.0
MINUTES_BETWEEN = 60.0 / PER_HOUR
MANY = 60  # machines, so that there is never a line


def duels(one: Run) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Contests between visitors: the rows of one of the two, and in the same order those of the other."""
    began = one.plays.groupby("contest")["against"]
    two = (began.transform("min") == 1) & (began.transform("size") <= 2)
    rows = one.plays[two].sort_values(["machines", "contest", "ended", "person"])
    return rows.iloc[::2], rows.iloc[1::2]


def check_pairs(one: Run) -> int:
    """Whoever plays a visitor is played by that visitor; returns how many contests were seen to the end by both."""
    first, second = duels(one)
    check_equal(len(first), len(second))
    for column in ("machines", "began", "against", "grid_gap", "close", "better_won"):
        check_close(first[column].to_numpy(float), second[column].to_numpy(float), rel=1e-5, nan_ok=True)
    check_that((first["person"].to_numpy() != second["person"].to_numpy()).all())
    check_that(np.allclose(first["gap"], -second["gap"].to_numpy(), atol=1e-6))
    check_that(np.allclose(first["true_chance"], 1 - second["true_chance"].to_numpy(), atol=1e-6))
    both = (first["result"].notna().to_numpy()) & (second["result"].notna().to_numpy())
    a, b = first[both], second[both]
    check_that((a["ended"].to_numpy() == b["ended"].to_numpy()).all())
    check_that((a["margin"].to_numpy() == -b["margin"].to_numpy()).all())
    check_that((a["result"].to_numpy() + b["result"].to_numpy() == 1).all())
    return int(both.sum())


@cache
def meetings(alone: str, minutes: float, patience: float | None = None, skill: float = 0.0) -> tuple[Run, ...]:
    """Visitors 20 an hour, each for one contest of twenty seconds."""
    machine = {"title": "walk", "price": 1, "seats": 2, "count": MANY, "alone": alone}
    scenario = textbook(
        {"walk": {**machine, "wait_for_opponent": f"{minutes:g} min"}},
        PER_HOUR,
        titles={"walk": walk(20)},
        people={"patience": {"off": patience is None, "mean": f"{patience or 0:g} min"}, "skill": {"sd": skill}},
    )
    return tuple(run(scenario, seed=51))


# -- who meets whom ------------------------------------------------------------------------------------------------


def test_visitors_play_each_other_in_pairs() -> None:
    for one in meetings("computer", 1.0):
        assert check_pairs(one) > 50
    for name in NAMES:
        assert sum(check_pairs(one) for one in demo(name)) > 20


def test_control_pairs_with_a_row_torn_out() -> None:
    one = meetings("computer", 1.0)[0]
    with pytest.raises(Disagrees):
        check_pairs(replace(one, plays=one.plays.drop(index=duels(one)[0].index[7])))


def check_alone(runs: Sequence[Run], minutes: float) -> None:
    # From the definition: whoever sits down alone is joined with chance 1 - exp(-rate x wait); those two are a pair,
    # otherwise one visitor has played the computer. Waiting ends at the least of the wait and an exponential time.
    nobody = math.exp(-minutes / MINUTES_BETWEEN)
    assert_simulated([(one.plays["against"] == 0).mean() for one in runs], nobody / (2 - nobody))
    mean_wait = MINUTES_BETWEEN * (1 - nobody) / (2 - nobody)  # over both of a pair, of whom one does not wait
    assert_simulated([one.visits["waited"].mean() / 60.0 for one in runs], mean_wait)


@pytest.mark.parametrize("minutes", [0.5, 1.0])
def test_the_computer_steps_in(minutes: float) -> None:
    runs = meetings("computer", minutes)
    check_alone(runs, minutes)
    for one in runs:
        assert (one.visits["plays"] == 1).all()
        solo = one.plays[one.plays["against"] == 0].set_index("person")
        waited = solo["began"] - one.visits.set_index("person")["arrived"].loc[solo.index]
        assert np.allclose(waited, minutes * 60.0)


def test_control_a_longer_wait_for_an_opponent() -> None:
    with pytest.raises(Disagrees):
        check_alone(meetings("computer", 0.5), 0.65)


def test_the_computer_steps_in_at_once() -> None:
    machine = {"title": "walk", "price": 1, "seats": 2, "count": MANY, "wait_for_opponent": "0 s"}
    (one,) = run(textbook({"walk": machine}, PER_HOUR, titles={"walk": walk(20)}), replications=1, seed=52)
    assert (one.plays["against"] == 0).all()
    assert (one.visits["waited"] == 0).all()


def check_in_vain(runs: Sequence[Run], mean_minutes: float) -> None:
    # From the definition: of two exponential times, patience and the next visitor's coming, the first decides.
    nobody = (1 / mean_minutes) / (1 / mean_minutes + 1 / MINUTES_BETWEEN)
    assert_simulated([(one.visits["plays"] == 0).mean() for one in runs], nobody / (2 - nobody))


def test_waiting_for_an_opponent_in_vain() -> None:
    runs = meetings("wait", 1.0, patience=1.5)
    check_in_vain(runs, 1.5)
    for one in runs:
        assert (one.plays["against"] == 1).all()
        check_pairs(one)


def test_control_visitors_who_wait_longer() -> None:
    with pytest.raises(Disagrees):
        check_in_vain(meetings("wait", 1.0, patience=1.5), 1.8)


def test_nobody_plays_alone_where_visitors_only_wait() -> None:
    for one in demo("bar"):
        moth = one.plays[one.plays["machines"] == 0]
        assert len(moth) and (moth["against"] == 1).all()


def test_visitors_in_line_are_called_to_the_open_seat() -> None:
    # One machine and a long line: nobody who sits down has to wait for an opponent.
    machine = {"title": "walk", "price": 1, "seats": 2, "count": 1, "alone": "wait"}
    scenario = textbook({"walk": machine}, 400.0, titles={"walk": walk(20)}, hours="10:00-14:00")
    for one in run(scenario, replications=2, seed=53):
        assert check_pairs(one) > 600
        first, second = duels(one)
        began = np.sort(first["began"].to_numpy())
        busy = began[len(began) // 2 :]
        # From one contest's start to the next: its twenty seconds and nothing more.
        assert np.allclose(np.diff(busy), 20.0)


# -- neither seat is the better one --------------------------------------------------------------------------------


def check_even(runs: Sequence[Run], who: int) -> None:
    """By symmetry those who sat down first win half of their contests, and by as much as they lose."""
    results, margins = [], []
    for one in runs:
        rows = one.plays[one.plays["against"] == who]
        pairs = rows.sort_values(["began", "person"]).iloc[:: 1 + who]
        results.append(pairs["result"].mean())
        margins.append(pairs["margin"].mean())
    assert_simulated(results, 0.5)
    assert_simulated(margins, 0.0)


def test_first_and_second_seat_win_alike() -> None:
    check_even(meetings("computer", 1.0), 1)
    check_even(meetings("computer", 1.0, skill=0.8), 1)


@cache
def given_up(opponent: float) -> tuple[Run, ...]:
    """Contests of two periods of 40 steps; some visitors can pay for one period only."""
    machine = {"title": "walk", "price": 1, "seats": 2, "count": MANY, "wait_for_opponent": "3 min"}
    scenario = textbook(
        {"walk": machine},
        PER_HOUR,
        titles={"walk": walk(40, periods=2, opponent=opponent)},
        people={"wallet": {"median": 1.6, "spread": 0.5}},
    )
    return tuple(run(scenario, seed=54))


def test_control_a_seat_against_a_better_computer() -> None:
    with pytest.raises(Disagrees):
        check_even(given_up(0.5), 0)


# -- a seat that is given up ---------------------------------------------------------------------------------------


def left_alone(one: Run) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Contests that one visitor saw to the end without the other: rows of who left and of who stayed."""
    first, second = duels(one)
    stayed = (first["periods"].to_numpy() < 2) & (second["periods"].to_numpy() == 2)
    return first[stayed], second[stayed]


def check_seat_taken_over(runs: Sequence[Run], gap: float) -> None:
    # From the definition: 40 steps at a skill gap drift by 40 tanh(gap / 2) and spread by 40 / cosh(gap / 2)^2.
    gained = []
    for one in runs:
        left, stayed = left_alone(one)
        gained.append(stayed["margin"].to_numpy() + left["margin"].to_numpy())
    assert sum(map(len, gained)) > 500
    drift = 40 * math.tanh(gap / 2)
    assert_simulated([part.mean() for part in gained], drift)
    assert_simulated([((part - drift) ** 2).mean() for part in gained], 40 / math.cosh(gap / 2) ** 2)


def test_the_computer_takes_over_a_seat() -> None:
    runs = given_up(0.5)
    check_seat_taken_over(runs, -0.5)
    for one in runs:
        left, stayed = left_alone(one)
        assert left["result"].isna().all() and stayed["result"].notna().all()
        assert np.allclose(left["ended"] - left["began"], 40.0)
        assert np.allclose(stayed["ended"] - stayed["began"], 90.0)
        won = np.select([stayed["margin"] > 0, stayed["margin"] < 0], [1.0, 0.0], 0.5)
        assert (stayed["result"] == won).all()
        assert (left["credits"] == 1).all() and (stayed["credits"] == 2).all()


def test_control_a_computer_as_good_as_the_visitor() -> None:
    with pytest.raises(Disagrees):
        check_seat_taken_over(given_up(0.0), -0.5)


def test_a_contest_ends_early_when_nobody_is_left() -> None:
    seen = 0
    for one in given_up(0.5):
        first, second = duels(one)
        both = (first["periods"].to_numpy() == 1) & (second["periods"].to_numpy() == 1)
        a, b = first[both], second[both]
        seen += len(a)
        assert a["result"].isna().all() and b["result"].isna().all()
        assert (a["margin"].to_numpy() == -b["margin"].to_numpy()).all()
        assert np.allclose(a["ended"] - a["began"], 40.0)
        assert np.allclose(b["ended"] - b["began"], 40.0)
    assert seen > 50


def draws_left(purses: Sequence[float], draws: Sequence[int]) -> list[int]:
    """Plays a contest of three periods between two visitors; how many of their outcome draws are left over."""
    machine = {"title": "walk", "price": 1, "seats": 2, "count": 1}
    scenario = textbook({"walk": machine}, PER_HOUR, titles={"walk": walk(40, periods=3, tie="draw")}).scenario
    tables = {key: TitleTables(title, 1.0, frozenset()) for key, title in scenario.titles.items()}
    floor = Floor(scenario, tables, Streams(55, 0), 1)
    floor.context.closing = math.inf
    visits = [floor.context.habits.traits.begin_visit(Person(number), 0.0) for number in (0, 1)]
    row = floor.rows[0]
    assert row.title is not None
    seating = Seating(floor.context, row, row.title, row.free.pop())
    for visit, purse, count in zip(visits, purses, draws, strict=True):
        visit.wallet, visit.play = purse, iter([0.4] * count)
        seating.sit(visit)
    seating.begin()
    floor.context.env.run()
    return [len(list(visit.play or ())) for visit in visits]


def test_whoever_gets_up_takes_their_draws_along() -> None:
    # Two draws make the contest up, then each period takes one. Draws of somebody who plays elsewhere by now would make
    # the outcome hang on the order of events.
    assert draws_left((3, 3), (10, 10)) == [5, 10]
    assert draws_left((3, 1), (10, 10)) == [10 - 6, 10]  # the side is played by the computer: made up anew, one draw
    assert draws_left((1, 3), (10, 10)) == [10 - 3, 10 - 3]
    assert draws_left((1, 3), (3, 3)) == [0, 0]


def test_a_machine_is_busy_until_the_last_seat_is_given_up() -> None:
    for one in given_up(0.5):
        plays = one.plays
        both = plays["against"] == 1
        longest = plays[both].groupby(["machines", "began"]).agg(begin=("began", "min"), end=("ended", "max"))
        busy = (longest["end"] - longest["begin"]).sum() + (plays["ended"] - plays["began"])[~both].sum()
        assert_close(one.account("machine time in play =").left, busy, 1e-9)
