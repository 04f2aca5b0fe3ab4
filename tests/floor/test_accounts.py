"""The books of the demo venues, added up again from the rows, and books that were tampered with."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
import pytest

from tests.checking import Disagrees, check_equal, check_that
from venue.contest.table import TitleTables
from venue.errors import RunError
from venue.floor.run import Floor
from venue.streams import Streams
from venue.units import DAY, HOUR

from .demos import NAMES, demo, written
from .textbook import Run, assert_close, textbook, walk

everywhere = pytest.mark.parametrize("name", NAMES)
at_strengths = pytest.mark.parametrize(("name", "strength"), [*((name, 1.0) for name in NAMES), ("pier", 0.0)])


@at_strengths
def test_every_account_balances(name: str, strength: float) -> None:
    for one in demo(name, strength):
        assert len(one.accounts) >= 5
        for account in one.accounts:
            assert math.isclose(account.left, account.right, rel_tol=1e-9)


def contests(plays: pd.DataFrame) -> pd.DataFrame:
    """One row a contest: from when the first visitor's part began to when the last one's ended."""
    found = plays[plays["against"] >= 0].groupby("contest")
    return found.agg(machines=("machines", "first"), began=("began", "min"), ended=("ended", "max")).reset_index()


def check_books(one: Run) -> None:
    """What the accounts say is what the rows add up to."""
    plays, visits = one.plays, one.visits
    for table in (plays, visits):
        check_equal(one.account("credits out of wallets").left, table["credits"].sum() + table["refunded"].sum())
    check_that(one.account("credits in plays").left == visits["credits"].sum() == plays["credits"].sum())
    check_equal(one.account("visitors in").left, len(visits))
    fought = contests(plays)
    begun = one.account("contests begun")
    check_that(begun.left == begun.right == len(fought))
    in_play = (fought["ended"] - fought["began"]).sum()
    pastimes = plays[plays["against"] == -1]
    in_play += (pastimes["ended"] - pastimes["began"]).sum()
    assert_close(one.account("machine time in play =").left, in_play, 1e-9)


@at_strengths
def test_rows_add_up_to_the_accounts(name: str, strength: float) -> None:
    for one in demo(name, strength):
        check_books(one)


@everywhere
def test_control_books_with_a_row_torn_out(name: str) -> None:
    one = demo(name)[0]
    with pytest.raises(Disagrees):
        check_books(replace(one, plays=one.plays.iloc[1:]))
    with pytest.raises(Disagrees):
        check_books(replace(one, visits=one.visits.iloc[1:]))


@everywhere
def test_plays_of_a_visit_add_up_to_the_visit(name: str) -> None:
    for one in demo(name):
        found = one.plays.groupby(["person", "visit"]).agg(
            credits=("credits", "sum"),
            refunded=("refunded", "sum"),
            plays=("credits", "size"),
            finished=("result", "count"),
            wins=("result", "sum"),
            begun=("began", "min"),
            ended=("ended", "max"),
        )
        visits = one.visits.set_index(["person", "visit"])
        assert visits.index.is_unique
        played = visits[visits["plays"] > 0]
        assert len(played) == len(found)
        for column in ("credits", "refunded", "plays", "finished", "wins"):
            assert (played[column] == found.loc[played.index, column]).all(), column
        assert (found.loc[played.index, "begun"] >= played["arrived"]).all()
        assert (found.loc[played.index, "ended"] <= played["left"] + 1e-9).all()
        assert (visits[visits["plays"] == 0]["credits"] == 0).all()
        assert (visits["left"] >= visits["arrived"]).all()


def on_the_list(steps: dict[str, int], began: pd.Series[float]) -> Any:
    """Prices that hold from each time of day on, at the times at which plays began."""
    starts = [int(clock[:2]) * HOUR + int(clock[3:]) * 60 for clock in steps]
    return np.array(list(steps.values()))[np.searchsorted(starts, began % DAY, side="right") - 1]


@everywhere
def test_credits_are_the_prices_on_the_machines(name: str) -> None:
    machines = list(written(name)["machines"].values())
    for one in demo(name):
        for number, machine in enumerate(machines):
            plays = one.plays[one.plays["machines"] == number]
            first = on_the_list({"00:00": machine["price"]} | machine.get("prices", {}), plays["began"])
            later = first
            if "price_to_go_on" in machine:
                steps = {"00:00": machine["price_to_go_on"]} | machine.get("prices_to_go_on", {})
                later = on_the_list(steps, plays["began"])
            # What the first period may have cost: as priced, less for another go, nothing for a winner, or to join.
            firsts = [first, first - machine.get("discount_again", 0)]
            firsts += [0 * first] if machine.get("winner_free") else []
            firsts += [later + 0 * first] if machine.get("seats", 1) > 1 else []
            paid = np.zeros(len(plays), dtype=bool)
            for begin in firsts:
                bought = begin + (plays["periods"] - 1) * later
                # A fault refunds the period under way; a jam is refunded and paid again.
                last = np.where(plays["periods"] == 1, begin, later)
                paid |= ((plays["refunded"] > 0) & (plays["credits"] == bought - last)) | (plays["credits"] == bought)
            assert len(plays) and paid.all()
            assert (plays["credits"] == first + (plays["periods"] - 1) * later).mean() > 0.3


@everywhere
def test_nobody_plays_at_two_machines_at_once(name: str) -> None:
    for one in demo(name):
        done = one.plays.groupby(["person", "visit"])["ended"].shift()
        assert done.notna().any()
        assert (one.plays["began"] >= done.fillna(0.0) - 1e-9).all()


@everywhere
def test_no_more_plays_at_once_than_machines(name: str) -> None:
    counts = [machine.get("count", 1) for machine in written(name)["machines"].values()]
    for one in demo(name):
        alone = one.plays[one.plays["against"] == -1]
        busy = pd.concat([contests(one.plays), alone])[["machines", "began", "ended"]]
        for machine, rows in busy.groupby("machines"):
            times = np.concatenate((rows["ended"], rows["began"]))
            steps = np.repeat([-1, 1], len(rows))
            order = np.lexsort((steps, np.round(times, 6)))
            assert np.cumsum(steps[order]).max() <= counts[int(str(machine))]


@everywhere
def test_visits_of_a_person_follow_each_other(name: str) -> None:
    # Each begins on a later day of opening than the one before ended, and when that one said it would. The small hours
    # belong to the evening before; no demo venue is open at five in the morning.
    for one in demo(name):
        visits = one.visits
        before = visits.groupby("person").shift()
        again = visits["visit"] > 0
        assert again.any()
        assert (visits["visit"] == visits.groupby("person").cumcount()).all()
        assert (visits["arrived"][again] == before["next_visit"][again]).all()
        arrived, left = visits["arrived"][again] - 5 * HOUR, before["left"][again] - 5 * HOUR
        assert (arrived // DAY > left // DAY).all()
        assert np.isinf(visits.drop_duplicates("person", keep="last")["next_visit"]).all()


@at_strengths
def test_reasons_for_leaving_sum_to_one(name: str, strength: float) -> None:
    for one in demo(name, strength):
        because = one.measured.left_because
        assert sum(because.values()) == pytest.approx(1.0, abs=1e-12)
        counted = one.visits["because"].value_counts(normalize=True).to_dict()
        assert because == pytest.approx(counted)


# -- tampering -----------------------------------------------------------------------------------------------------


SMALL = textbook(
    {"walk": {"title": "walk", "price": 2, "count": 3}, "slide": {"price": 1, "count": 2, "play_time": "1 min"}},
    30.0,
    titles={"walk": walk(10, periods=2)},
    people={"wallet": {"median": 6, "spread": 0.7}, "stay": {"median": "5 min"}},
    hours="10:00-13:00",
).scenario


def small() -> Floor:
    """A floor on which nothing has happened yet."""
    tables = {key: TitleTables(title, 1.0, frozenset()) for key, title in SMALL.titles.items()}
    return Floor(SMALL, tables, Streams(1, 0), 1)


def a_refund_unpaid(floor: Any) -> None:
    floor.rows[0].coin_box.refunded += 1


def a_refund_from_nowhere(floor: Any) -> None:
    append = floor.ledger.plays.append
    place = [name for name, _, _ in floor.ledger.plays.columns].index("refunded")

    def one_more(row: tuple[Any, ...]) -> None:
        append((*row[:place], row[place] + 1, *row[place + 1 :]))
        floor.ledger.plays.append = append

    floor.ledger.plays.append = one_more


def somebody_too_many(floor: Any) -> None:
    floor.ledger.entered += 1


def somebody_lost(floor: Any) -> None:
    floor.ledger.left -= 1


def a_contest_too_many(floor: Any) -> None:
    floor.ledger.begun += 1


def a_contest_unfinished(floor: Any) -> None:
    floor.ledger.finished -= 1


def longer_contests(floor: Any) -> None:
    floor.ledger.contest_time += 1.0


def longer_waits(floor: Any) -> None:
    floor.rows[0].waited += 1.0


def a_credit_in_the_coin_box(floor: Any) -> None:
    floor.rows[0].coin_box.by_hour[12] += 1


def a_credit_from_nowhere(floor: Any) -> None:
    """A visitor whose credits nobody took."""
    append = floor.ledger.visits.append
    place = [name for name, _, _ in floor.ledger.visits.columns].index("credits")

    def one_more(row: tuple[Any, ...]) -> None:
        append((*row[:place], row[place] + 1, *row[place + 1 :]))
        floor.ledger.visits.append = append

    floor.ledger.visits.append = one_more


TRICKS = [
    (somebody_too_many, "visitors in"),
    (somebody_lost, "visitors in"),
    (a_contest_too_many, "contests begun"),
    (a_contest_unfinished, "contests begun"),
    (longer_contests, "machine time in play"),
    (longer_waits, "time in lines"),
    (a_credit_in_the_coin_box, "take of all machines"),
    (a_credit_from_nowhere, "credits out of wallets"),
    (a_refund_unpaid, "take of all machines \\+ refunds"),
    (a_refund_from_nowhere, "refunds in plays"),
]


@pytest.mark.parametrize(("trick", "account"), TRICKS)
def test_a_run_whose_books_are_wrong_fails(trick: Callable[[Any], None], account: str) -> None:
    floor = small()
    trick(floor)
    with pytest.raises(RunError, match=account):
        floor.run()


def test_control_a_run_whose_books_are_right() -> None:
    floor = small()
    assert [account.name for account in floor.run() if account.left == account.right == 0] == [
        "refunds in plays = refunds to visitors"
    ]
    assert len(floor.ledger.plays.table()) > 50
