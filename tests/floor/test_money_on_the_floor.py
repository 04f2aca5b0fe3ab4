"""What visitors pay on the floor: bundles and cards, prices by the clock, limits, and books that balance in it all."""

from __future__ import annotations

import math
from functools import cache
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.checking import Disagrees, check_close, check_that
from venue.contest.table import TitleTables
from venue.floor.run import Floor
from venue.scenario.load import Loaded, check, to_raw
from venue.streams import Streams
from venue.units import DAY, HOUR

from .test_faults import CONTESTS, SOCIAL, hall, rows_of, same
from .textbook import NEVER, Raw, Run, desk, over, run, textbook, walk

# -- the till ------------------------------------------------------------------------------------------------------


def with_till(venue: Loaded, till: Raw, credit_price: float = 1.0) -> Loaded:
    raw = to_raw(venue.scenario)
    return check(over(raw, {"venue": {"till": till, "credit_price": credit_price}}), "till")


def one_play(wallet: int, till: Raw) -> Run:
    """People who play once, for one credit of half a crown, with a wallet for so many single ones."""
    venue = desk(40, 4.0, customers=200, people={"wallet": {"median": wallet, "spread": 0.0}})
    return run(with_till(venue, till, 0.5), replications=1, seed=41)[0]


FIVE_FOR_FOUR: Raw = {"bundles": [{"credits": 5, "price_of": 4}]}


def check_revenue(one: Run, expected: float) -> None:
    check_close(one.measured.venue["revenue_per_play"], expected, rel=1e-12)


def test_revenue_per_play_is_net_of_bundles_by_hand() -> None:
    # With a wallet of 4 the first credit comes in a bundle of five at 2.00 and the others are never played; a wallet
    # of 3 pays for a single one.
    check_revenue(one_play(4, FIVE_FOR_FOUR), 2.0)
    check_revenue(one_play(3, FIVE_FOR_FOUR), 0.5)
    sold = one_play(4, FIVE_FOR_FOUR).account("credits sold")
    assert sold.left == sold.right == 5 * len(one_play(4, FIVE_FOR_FOUR).plays)


def test_revenue_of_those_who_play_all_they_buy() -> None:
    # Ten credits of bundles at 4.00 for a wallet of 8: all are played, at 0.40 each.
    people = {"wallet": {"median": 8, "spread": 0.0}, "stay": {"median": "10 h", "spread": 0.0}}
    venue = textbook({"desk": {"price": 1, "count": 40, "play_time": "1 min"}}, 20.0, people=people)
    (one,) = run(with_till(venue, FIVE_FOR_FOUR, 0.5), replications=1, seed=42)
    assert set(one.visits["credits"]) == {10} and set(one.visits["paid"]) == {8}
    check_revenue(one, 0.4)
    # With 10 % on a card, a credit more.
    (one,) = run(
        with_till(venue, FIVE_FOR_FOUR | {"card": {"holders": 1.0, "bonus": 0.1}}, 0.5), replications=1, seed=42
    )
    assert set(one.visits["credits"]) == {11}
    check_revenue(one, 4.0 / 11)


def test_control_revenue_at_the_price_of_single_credits() -> None:
    with pytest.raises(Disagrees):
        check_revenue(one_play(4, FIVE_FOR_FOUR), 0.5)


def regulars(unplayed: str) -> Run:
    """People who come again every few days and play once each time, with a wallet for one bundle."""
    people = {
        "wallet": {"median": 4, "spread": 0.0},
        "come_back": {"constant": 3.0, "delay_median": "1 days", "delay_spread": 0.1},
    }
    venue = desk(40, 0.5, customers=2000, people=people)
    return run(with_till(venue, FIVE_FOR_FOUR | {"unplayed": unplayed}), replications=1, seed=43)[0]


def test_credits_kept_are_played_at_the_next_visit() -> None:
    kept, lost = regulars("kept"), regulars("lost")
    assert set(lost.visits["paid"]) == {4}
    # Of those who keep them every fifth visit pays: the first, the sixth and so on.
    assert kept.visits["visit"].max() >= 5
    assert (kept.visits["paid"] == np.where(kept.visits["visit"] % 5 == 0, 4, 0)).all()


def test_a_bundle_that_nobody_can_pay_changes_nothing_to_the_last_bit() -> None:
    dear = with_till(hall(), {"bundles": [{"credits": 1_000_000, "price_of": 999_999}]})
    assert same(rows_of(hall()), rows_of(dear))


# -- prices by the clock -------------------------------------------------------------------------------------------

STEPS = {"10:00": (3, 2), "12:00": (5, 2), "13:30": (5, 1), "15:00": (1, 1)}


def by_the_clock() -> Run:
    """Contests of three periods whose prices step four times a day, and a pastime whose price does."""
    venue = textbook(
        over({key: CONTESTS[key] for key in ("walk", "pair", "slide")}, {
            "walk": {"prices": {"12:00": 5, "15:00": 1}, "prices_to_go_on": {"13:30": 1}},
            "pair": {"prices": {"12:00": 4}},
            "slide": {"prices": {"14:00": 2}},
        }),
        40.0, days=3, titles={"walk": walk(40, periods=3)}, people=SOCIAL, hours="10:00-18:00",
    )  # fmt: skip
    return rows_of(venue, 44)


def price_at(times: pd.Series, steps: dict[str, tuple[int, int]]) -> tuple[Any, Any]:
    """Price and price to go on at times of the run."""
    starts = [int(key[:2]) * HOUR + int(key[3:]) * 60 for key in steps]
    place = np.searchsorted(starts, times % DAY, side="right") - 1
    first, later = np.array(list(steps.values())).T
    return first[place], later[place]


def check_prices(plays: pd.DataFrame, steps: dict[str, tuple[int, int]]) -> None:
    first, later = price_at(plays["began"], steps)
    check_that((plays["credits"] == first + (plays["periods"] - 1) * later).all())


def test_prices_by_the_clock() -> None:
    plays = by_the_clock().plays
    walks = plays[plays["machines"] == 0]
    assert all(len(walks[price_at(walks["began"], STEPS)[0] == price]) > 5 for price in (1, 3, 5))
    # A contest holds the price of its beginning, also where its end lies beyond a step.
    check_prices(walks, STEPS)
    check_prices(plays[plays["machines"] == 2], {"10:00": (1, 0), "14:00": (2, 0)})
    # At a machine for two, the price when the visitor sat down; nobody waits there for over a minute.
    pair = plays[plays["machines"] == 1]
    clear = pair[(pair["began"] % DAY < 12 * HOUR) | (pair["began"] % DAY > 12 * HOUR + 61)]
    check_prices(clear, {"10:00": (1, 1), "12:00": (4, 4)})


def test_control_prices_that_step_an_hour_earlier() -> None:
    plays = by_the_clock().plays
    with pytest.raises(Disagrees):
        check_prices(
            plays[plays["machines"] == 0], {"10:00": (3, 2), "11:00": (5, 2), "13:30": (5, 1), "15:00": (1, 1)}
        )


def test_a_price_step_to_the_same_price_changes_nothing_to_the_last_bit() -> None:
    level = hall().vary(['machines.walk.prices={"12:00" = 3}', 'machines.slide.prices={"13:00" = 1, "15:00" = 1}'])
    assert same(rows_of(hall()), rows_of(level))


def test_a_higher_price_in_the_evening_turns_people_to_other_machines_then() -> None:
    people = {
        "wallet": {"median": 30, "spread": 0.0},
        "stay": {"median": "1 h", "spread": 0.2},
        "choice": {"price": 1.0},
    }
    machines = {
        "one": {"price": 1, "count": 10, "play_time": "2 min", "prices": {"14:00": 3}},
        "two": {"price": 1, "count": 10, "play_time": "2 min"},
    }
    (one,) = run(textbook(machines, 30.0, days=2, people=people, hours="10:00-18:00"), replications=1, seed=45)
    late = one.plays["began"] % DAY > 14 * HOUR
    shares = [(one.plays["machines"][part] == 0).mean() for part in (~late, late)]
    # Logit: one half, and 1 / (1 + exp(2)); far from each other for any sample.
    assert shares == pytest.approx([0.5, 1 / (1 + math.exp(2))], abs=0.05)


# -- limits --------------------------------------------------------------------------------------------------------


def limited(**limits: int) -> Run:
    people = {
        "wallet": {"median": 30, "spread": 0.3}, "stay": {"median": "100 min", "spread": 0.2},
        "choice": {"leave": -2.0, "rest": -2.0, "rest_length": "30 min"},
    }  # fmt: skip
    venue = hall(people=people)
    return rows_of(venue.vary([f"limits.{key}={value}" for key, value in limits.items()]), 46)


def test_a_limit_on_the_visit() -> None:
    free, capped = limited(), limited(spend_per_visit=12)
    assert free.visits["credits"].max() > 12 >= capped.visits["credits"].max()
    assert (capped.visits["credits"] >= 11).any()
    reached = capped.visits["because"] == "limit reached"
    assert 0.2 < reached.mean() <= capped.measured.venue["limit_reached"] < 1
    assert capped.visits["limited"][reached].all()
    assert free.measured.venue["limit_reached"] == 0
    # Nobody's wallet is called empty for it.
    assert not (capped.visits["empty"].astype(bool) & reached).any()
    assert capped.measured.venue["empty_wallets"] < free.measured.venue["empty_wallets"]


def spent_by(one: Run, after: float) -> pd.Series:
    """Most credits that visits had put in so long after they arrived, by what their plays cost in the end."""
    plays = one.plays.merge(one.visits[["person", "visit", "arrived"]], on=["person", "visit"])
    early = plays[plays["ended"] - plays["arrived"] < after]
    return early.groupby(["person", "visit"])["credits"].sum()


def check_hourly(one: Run, limit: int) -> None:
    for hours in (1, 2, 3):
        check_that(spent_by(one, hours * HOUR).max() <= hours * limit)
    assert spent_by(one, 2 * HOUR).max() > limit


def test_a_limit_on_the_hour() -> None:
    hourly = limited(spend_per_hour=8)
    check_hourly(hourly, 8)
    assert (hourly.visits["because"] == "limit reached").any()


def test_control_a_limit_on_the_hour_that_is_not_kept() -> None:
    with pytest.raises(Disagrees):
        check_hourly(limited(spend_per_hour=10), 8)


def test_who_can_rest_waits_for_the_next_hour() -> None:
    machines = {"desk": {"price": 1, "count": 40, "play_time": "1 min"}}
    people = {
        "wallet": {"median": 9, "spread": 0.0}, "stay": {"median": "5 h", "spread": 0.0},
        "choice": {"rest": 0.0, "rest_length": "5 min", "leave": NEVER},
    }  # fmt: skip
    venue = textbook(machines, 10.0, people=people, hours="10:00-20:00").vary(["limits.spend_per_hour=3"])
    (one,) = run(venue, replications=1, seed=47)
    early = one.visits[one.visits["arrived"] < 14 * HOUR]
    assert set(early["credits"]) == {9} and set(early["because"]) == {"wallet empty"}
    for hours in (1, 2):
        assert spent_by(one, hours * HOUR).max() == 3 * hours


def test_limits_that_nobody_reaches_change_nothing_to_the_last_bit() -> None:
    far = hall().vary(["limits.spend_per_visit=100000", "limits.spend_per_hour=100000"])
    assert same(rows_of(hall()), rows_of(far))


# -- extremes ------------------------------------------------------------------------------------------------------

EVERYTHING: Raw = {
    "venue": {
        "till": {"bundles": [{"credits": 6, "price_of": 5}, {"credits": 15, "price_of": 11}],
                 "card": {"holders": 0.5, "bonus": 0.15}},
        "technician": {"response": "2 min", "repair_time": "15 min"},
        "operator_share": 0.6,
    },
    "limits": {"spend_per_visit": 25, "spend_per_hour": 12},
    "machines": {
        "walk": {"prices": {"12:00": 4, "16:00": 2}, "winner_free": True, "upkeep": 10.0,
                 "faults": {"mean_plays": 40, "mean_use": "5 h", "jam": 0.05}},
        "pair": {"seats": 4, "winner_stays": True, "discount_again": 1, "faults": {"mean_time": "4 h", "jam": 0.02}},
        "slide": {"prices": {"13:00": 2}, "floor_cost": 5.0, "faults": {"mean_plays": 50}},
    },
    "people": {"party": {"sizes": {"1": 0.4, "2": 0.3, "3": 0.2, "4": 0.1}}, "choice": {"rest": -1.0}},
}  # fmt: skip


def everything(*changes: str) -> Loaded:
    return check(over(to_raw(hall().scenario), EVERYTHING), "everything").vary(list(changes))


def test_everything_at_once() -> None:
    one = rows_of(everything(), 48)
    assert "limit reached" in set(one.visits["because"])
    assert one.measured.venue["availability"] < 1.0
    assert (one.plays["refunded"] > 0).any()
    paid = one.visits["paid"].sum() / one.visits["credits"].sum()
    assert 0.6 < paid < 1.2
    assert one.measured.venue["revenue_per_play"] == pytest.approx(one.plays["credits"].mean() * paid)
    by_machine = one.measured.machines
    for key, count in (("walk", 2), ("pair", 2), ("slide", 2)):
        machine = one.measured.machines[key]
        assert machine["operator_share_per_week"] == pytest.approx(0.6 * machine["take_per_week"])
        assert count * machine["take_per_week"] <= one.measured.venue["take_per_week"]
    assert by_machine["walk"]["profit_per_week"] == pytest.approx(by_machine["walk"]["operator_share_per_week"] - 10)
    # 0 or 1 of a day is a seventh of a week.
    total = one.plays["credits"].sum() * paid * 7
    assert one.measured.venue["take_per_week"] == pytest.approx(total)


def test_wallets_of_nothing() -> None:
    one = rows_of(everything("people.wallet.median=0.01", "people.wallet.spread=0"), 49)
    assert len(one.plays) == 0 and set(one.visits["paid"]) == {0}
    assert set(one.visits["because"]) <= {"wallet empty", "party left"}


def test_a_price_nobody_pays() -> None:
    changes = [f"machines.{key}.price=1000000" for key in ("walk", "pair", "slide")]
    changes += [
        'machines.walk.prices={ "12:00" = 900000, "16:00" = 900000 }',
        'machines.slide.prices={ "13:00" = 900000 }',
    ]
    one = rows_of(everything(*changes), 50)
    assert len(one.plays) == 0
    # Of limits and wallets it is the wallet that does not do.
    assert set(one.visits["because"]) <= {"wallet empty", "party left"}
    assert one.measured.venue["limit_reached"] == 0


def test_a_venue_open_one_hour() -> None:
    one = rows_of(everything('venue.hours.every_day="10:00-11:00"', 'venue.hours.last_entry="0 s"'), 51)
    assert len(one.plays) > 5
    for account in one.accounts:
        assert account.balances


# -- the books -----------------------------------------------------------------------------------------------------


@st.composite
def venues(draw: st.DrawFn) -> Raw:
    """A venue with every part of this page drawn, off as often as on."""

    def maybe(strategy: st.SearchStrategy[Any]) -> Any:
        return draw(st.none() | strategy)

    def faults() -> Raw:
        found = {
            "mean_plays": maybe(st.integers(1, 60).map(float)), "mean_use": maybe(st.sampled_from(["5 min", "2 h"])),
            "mean_time": maybe(st.sampled_from(["10 min", "4 h"])), "jam": draw(st.sampled_from([0.0, 0.1, 0.5])),
        }  # fmt: skip
        return {key: value for key, value in found.items() if value is not None}

    prices = st.dictionaries(st.sampled_from(["10:00", "10:30", "11:00", "12:15"]), st.integers(0, 6), max_size=3)
    bundle = st.tuples(st.integers(2, 20), st.integers(1, 19)).filter(lambda pair: pair[1] < pair[0])
    bundles = [{"credits": credits, "price_of": price} for credits, price in draw(st.lists(bundle, max_size=2))]
    limits = {"spend_per_visit": maybe(st.integers(0, 30)), "spend_per_hour": maybe(st.integers(0, 15))}
    return {
        "venue": {
            "till": {"bundles": bundles, "card": {"holders": 0.5, "bonus": draw(st.sampled_from([0.0, 0.1, 1.0]))},
                     "unplayed": draw(st.sampled_from(["kept", "lost"]))},
            "technician": {"count": draw(st.integers(0, 2)), "response": "1 min", "repair_time": "10 min"},
        },
        "limits": {key: value for key, value in limits.items() if value is not None},
        "machines": {
            "walk": {"faults": faults(), "prices": draw(prices), "prices_to_go_on": draw(prices),
                     "winner_free": draw(st.booleans())},
            "pair": {"faults": faults(), "prices": draw(prices), "seats": draw(st.integers(2, 4)),
                     "alone": draw(st.sampled_from(["wait", "computer"])), "winner_stays": draw(st.booleans()),
                     "discount_again": draw(st.integers(0, 1))},
            "slide": {"faults": faults(), "prices": draw(prices)},
        },
        "people": {"wallet": {"off": draw(st.booleans())},
                   "choice": {"rest": draw(st.sampled_from([NEVER, -1.0]))},
                   "come_back": {"constant": draw(st.sampled_from([NEVER, 1.0])), "delay_median": "1 days"}},
    }  # fmt: skip


@cache
def solved() -> dict[str, TitleTables]:
    return {key: TitleTables(title, 1.0, frozenset()) for key, title in hall().scenario.titles.items()}


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(venues(), st.integers(0, 1000))
def test_the_books_balance_exactly_with_everything_on(parts: Raw, seed: int) -> None:
    raw = over(to_raw(hall().scenario), parts)
    raw["venue"]["hours"] = {"every_day": "10:00-12:30"}
    scenario = check(raw, "drawn").scenario
    floor = Floor(scenario, solved(), Streams(seed, 0), 2)
    for account in floor.run():  # raises where one does not
        assert account.balances
    plays, visits = floor.ledger.plays.table(), floor.ledger.visits.table()
    assert (plays["credits"] >= 0).all() and (plays["refunded"] >= 0).all()
    assert (visits["paid"] >= 0).all() and (visits["refunded"] >= 0).all()
    assert floor.ledger.inside == 0 and floor.ledger.in_play == 0
    assert all(take >= 0 for row in floor.rows for take in row.coin_box.by_hour)
    cap = scenario.limits.spend_per_visit
    assert cap is None or visits["credits"].max(initial=0) <= cap
    assert floor.door.till is not None or (visits["paid"] == visits["credits"]).all()
    by_visit = np.bincount(plays["person"].astype(np.int64) * 4096 + plays["visit"], plays["credits"]).sum()
    assert by_visit == visits["credits"].sum()
    for row in floor.rows:
        assert row.working == sum(not cabinet.has_failed for cabinet in row.cabinets)
        assert row.waiting == 0
