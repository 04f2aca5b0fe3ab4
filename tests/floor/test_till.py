"""Credits over the counter: bundles, the bonus of a card, and what is left over, by hand and as properties."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.checking import Disagrees, check_equal
from venue.floor.till import Bought, Till, with_bonus, without_bonus
from venue.scenario.till import Bundle, Card
from venue.scenario.till import Till as PriceList
from venue.streams import Streams


def till(*bundles: tuple[int, int], holders: float = 0.0, bonus: float = 0.0, **keys: Any) -> Till:
    listed = tuple(Bundle(credits=credits, price_of=price) for credits, price in bundles)
    return Till(PriceList(bundles=listed, card=Card(holders=holders, bonus=bonus), **keys), Streams(1, 0))


# Worked by hand, 12 credits for the price of 9 and 5 for the price of 4: a wallet of 24 buys 12 (15 left), 12 (6 left),
# 5 (2 left), 1 and 1.
WORKED = [(0, 0, 0), (1, 12, 9), (12, 12, 9), (13, 24, 18), (25, 29, 22), (29, 29, 22), (30, 30, 23), (31, 31, 24)]


@pytest.mark.parametrize(("needed", "credits", "paid"), WORKED)
def test_bundles_worked_by_hand(needed: int, credits: int, paid: int) -> None:
    assert till((5, 4), (12, 9)).buy(needed, 24) == Bought(credits, paid)


def test_the_most_that_a_wallet_buys() -> None:
    shop = till((5, 4), (12, 9))
    assert [shop.most(wallet) for wallet in (0, 3, 4, 8, 9, 24)] == [0, 3, 5, 10, 12, 31]
    assert shop.most(math.inf) == math.inf
    # Nine credits' worth of a card with 10 % on top: 12, and 1 more for every ten bought.
    assert shop.most(9, 0.1) == 13


def test_a_wallet_without_bottom_buys_the_best_bundle_only() -> None:
    assert till((5, 4), (12, 9)).buy(100, math.inf) == Bought(108, 81)


def test_bonus_in_whole_credits_worked_by_hand() -> None:
    # 15 % on top of 5, 6, 7, 13, 14: 0.75, 0.9, 1.05, 1.95, 2.1 and of that whole credits.
    assert [with_bonus(bought, 0.15) for bought in (5, 6, 7, 13, 14)] == [5, 6, 8, 14, 16]
    assert [without_bonus(wanted, 0.15) for wanted in (5, 6, 7, 8, 15, 16)] == [5, 6, 7, 7, 14, 14]


def test_credits_left_over_are_kept_for_the_next_visit() -> None:
    shop = till((5, 4))
    assert shop.purse(7, 8) == 10
    assert shop.settle(7, 8, 6) == 8  # two bundles; four credits are left
    assert shop.kept == {7: 4}
    assert shop.purse(7, 4) == 9
    assert shop.settle(7, 4, 3) == 0  # of those kept
    assert shop.settle(7, 4, 2) == 4  # one kept, one of a new bundle
    assert (shop.kept, shop.sold, shop.lost) == ({7: 4}, 15, 0)


def test_credits_left_over_are_lost_where_the_till_says_so() -> None:
    shop = till((5, 4), unplayed="lost")
    assert shop.settle(7, 8, 6) == 8
    assert (shop.kept, shop.sold, shop.lost) == ({}, 10, 4)
    assert shop.purse(7, 4) == 5


def test_who_has_a_card_keeps_it() -> None:
    shop = till(holders=0.3, bonus=0.5)
    first = [shop.purse(person, 10) for person in range(4000)]
    assert first == [shop.purse(person, 10) for person in range(4000)]
    # Binomial: 4 standard deviations of a share of .3 among 4000 are .029.
    assert abs(sum(purse == 15 for purse in first) / 4000 - 0.3) < 0.029
    assert set(first) == {10, 15}


def check_price(shop: Till, needed: int, wallet: int, paid: int) -> None:
    check_equal(shop.buy(needed, wallet).paid, paid)


def test_control_a_till_that_forgets_its_bundles() -> None:
    with pytest.raises(Disagrees):
        check_price(till(), 12, 24, 9)


bundles = st.lists(
    st.integers(2, 40).flatmap(lambda credits: st.tuples(st.just(credits), st.integers(1, credits - 1))), max_size=4
)


def purchases_one_by_one(listed: list[tuple[int, int]], wallet: int) -> list[tuple[int, int]]:
    """The rule as it is written: each time the most credits for the money among what the rest of the wallet covers."""
    found = []
    while wallet:
        best = min(
            (bundle for bundle in [*listed, (1, 1)] if bundle[1] <= wallet),
            key=lambda bundle: (bundle[1] / bundle[0], -bundle[0]),
        )
        found.append(best)
        wallet -= best[1]
    return found


@given(bundles, st.integers(0, 300), st.sampled_from([0.0, 0.05, 0.1, 0.25, 1.0]), st.data())
def test_a_visit_is_worked_out_at_once_as_purchase_by_purchase(
    listed: list[tuple[int, int]], wallet: int, bonus: float, data: st.DataObject
) -> None:
    shop = till(*listed)
    steps = purchases_one_by_one(listed, wallet)
    most = with_bonus(sum(credits for credits, _ in steps), bonus)
    assert shop.most(wallet, bonus) == most >= wallet
    needed = data.draw(st.integers(0, most))
    have = paid = 0
    for credits, price in steps:
        if with_bonus(have, bonus) >= needed:
            break
        have, paid = have + credits, paid + price
    assert shop.buy(needed, wallet, bonus) == Bought(with_bonus(have, bonus), paid)
    assert paid <= min(wallet, needed if have == needed else wallet)


@given(st.integers(0, 100_000), st.floats(0, 10))
def test_the_fewest_credits_that_do_with_a_bonus(wanted: int, bonus: float) -> None:
    fewest = without_bonus(wanted, bonus)
    assert with_bonus(fewest, bonus) >= wanted
    assert fewest == 0 or with_bonus(fewest - 1, bonus) < wanted


@given(bundles, st.lists(st.tuples(st.integers(0, 3), st.integers(0, 60), st.floats(0, 1)), max_size=12), st.booleans())
def test_credits_sold_are_played_lost_or_kept(
    listed: list[tuple[int, int]], visits: list[tuple[int, int, float]], keeps: bool
) -> None:
    shop = till(*listed, holders=0.5, bonus=0.2, unplayed="kept" if keeps else "lost")
    played = paid = 0
    for person, wallet, share in visits:
        spent = int(share * shop.purse(person, wallet))
        played += spent
        paid += shop.settle(person, wallet, spent)
    assert shop.sold == played + shop.lost + sum(shop.kept.values())
    assert paid <= sum(wallet for _, wallet, _ in visits)
    assert keeps or not shop.kept


# As needed, by hand: 3 are cheaper one by one, 8 are 5 for 4 and three single, 9 cost as much as the bundle of 12
# for 9, and of 21 another 9 are left after it.
NEEDED = [(0, 0, 0), (3, 3, 3), (4, 5, 4), (8, 8, 7), (9, 12, 9), (12, 12, 9), (16, 17, 13), (21, 24, 18)]


@pytest.mark.parametrize(("needed", "credits", "paid"), NEEDED)
def test_a_bundle_is_bought_when_what_is_played_asks_for_it(needed: int, credits: int, paid: int) -> None:
    assert till((5, 4), (12, 9), buys="as needed").buy(needed, 24) == Bought(credits, paid)


def test_control_three_credits_out_of_the_largest_bundle() -> None:
    assert till((5, 4), (12, 9)).buy(3, 24) == Bought(12, 9)


@given(st.integers(0, 60), st.integers(0, 60), st.sampled_from([0.0, 0.15, 0.5]))
def test_as_needed_never_costs_more_and_always_will_do(needed: int, wallet: int, bonus: float) -> None:
    best, asked = (till((5, 4), (12, 9), (40, 25), buys=buys) for buys in ("most for the money", "as needed"))
    if needed <= best.most(wallet, bonus):
        found = asked.buy(needed, wallet, bonus)
        assert found.credits >= needed
        assert found.paid <= wallet
        assert asked.most(wallet, bonus) == best.most(wallet, bonus)
        assert found.paid <= best.buy(needed, wallet, bonus).paid
