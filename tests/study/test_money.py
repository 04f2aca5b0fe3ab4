"""Money by hand: what a credit brings, the split, and what is left after upkeep."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from tests.checking import Disagrees, check_close
from venue.scenario.load import check
from venue.scenario.machine import Machine
from venue.scenario.site import Site
from venue.study.money import money_per_credit, of_venue, weekly

from ..scenario.building import demo


def site(share: float = 1.0) -> Site:
    return check(demo() | {"venue": demo()["venue"] | {"operator_share": share}}, "pier").scenario.venue


def machine(**keys: Any) -> Machine:
    return Machine.model_validate({"price": 1, "play_time": "1 min", **keys})


def visits(*rows: tuple[int, int]) -> Any:
    return np.array(list(rows), dtype=[("credits", "i4"), ("paid", "i4")])


def check_rate(rate: float, expected: float) -> None:
    check_close(rate, expected, rel=1e-12)


def test_a_credit_brings_what_was_paid_for_it() -> None:
    # Five credits for the price of four at 0.50: 2.00 for 5; a visitor who buys two bundles and plays 7 paid 4.00.
    check_rate(money_per_credit(visits((5, 4)), 0.5), 0.40)
    check_rate(money_per_credit(visits((5, 4), (7, 8), (3, 3)), 0.5), 7.5 / 15)
    assert money_per_credit(visits((0, 0)), 0.5) == 0.5


def test_control_a_credit_at_the_price_of_a_single_one() -> None:
    with pytest.raises(Disagrees):
        check_rate(0.5, money_per_credit(visits((5, 4)), 0.5))


def test_margin_of_a_machine_worked_by_hand() -> None:
    # Two machines take 600 credits in two weeks at 0.50: 75.00 a machine-week; 60 % of it 45.00; less 12.50 and 8.00.
    found = weekly(machine(count=2, upkeep=12.5, floor_cost=8), site(0.6), 600, 0.5, 2.0)
    assert found == pytest.approx(
        {"take_per_week": 75.0, "operator_share_per_week": 45.0, "site_share_per_week": 30.0, "profit_per_week": 24.5},
        rel=1e-12,
    )


def test_a_machine_may_have_a_split_of_its_own() -> None:
    own = weekly(machine(operator_share=0.0, upkeep=3), site(0.6), 100, 1.0, 1.0)
    assert (own["operator_share_per_week"], own["profit_per_week"]) == (0.0, -3.0)


def test_the_venue_is_all_its_machines() -> None:
    rows = [machine(count=3, upkeep=1), machine(count=1, floor_cost=5)]
    earned = [weekly(rows[0], site(), 30, 1.0, 1.0), weekly(rows[1], site(), 7, 1.0, 1.0)]
    assert of_venue(zip(rows, earned, strict=True)) == pytest.approx(
        {"take_per_week": 37.0, "operator_share_per_week": 37.0, "site_share_per_week": 0.0, "profit_per_week": 29.0},
        rel=1e-12,
    )
