"""What people of the trade say of a catch-up rule, in chances that anyone can work out. Common practice, no source."""

from __future__ import annotations

import pytest

from tests.checking import Disagrees
from venue.contest.chain import Chain
from venue.contest.match import Match
from venue.scenario.title import Title

from .building import assert_closed, pull, turns_title


def shot(chance: str) -> dict[str, object]:
    return {"shot": {"share": 1.0, "points": 1, "chance": chance}}


def chance_at(title: Title, behind: int, side: int = 0) -> float:
    """Chance of the attempt of a side that trails by `behind`."""
    chain = Chain(title, Match())
    chance = chain.chances(title.rules, left=1.0, side=side, attempt="shot").chance
    return float(chance[chain.zero + (behind if side else -behind)])


def check_two_points_each(title: Title, side: int) -> None:
    # Common practice, no source: two percentage points for each point behind make 30 % at five behind 40 %, and 20 %
    # at five ahead.
    assert_closed(chance_at(title, 5, side), 0.40)
    assert_closed(chance_at(title, 0, side), 0.30)
    assert_closed(chance_at(title, -5, side), 0.20)


@pytest.mark.parametrize("side", [0, 1])
def test_two_points_for_each_point_behind(side: int) -> None:
    check_two_points_each(turns_title("60 s", attempts=shot("30 %"), rules=pull("2 pp")), side)


@pytest.mark.parametrize("side", [0, 1])
@pytest.mark.parametrize("wrong", ["-2 pp", "1 pp", "2.5 pp"])
def test_control_two_points_for_each_point_behind(side: int, wrong: str) -> None:
    with pytest.raises(Disagrees):
        check_two_points_each(turns_title("60 s", attempts=shot("30 %"), rules=pull(wrong)), side)


def check_doubled(title: Title) -> None:
    # Common practice, no source: 25 percentage points at ten behind double a chance of 25 % there; beyond the cap
    # there is no more, ahead or behind.
    assert_closed(chance_at(title, 10), 0.50)
    for behind in (11, 15, 20):
        assert_closed(chance_at(title, behind), 0.50)
    assert_closed(chance_at(title, 4), 0.35)


def test_chance_doubled_at_ten_behind() -> None:
    check_doubled(turns_title("60 s", attempts=shot("25 %"), rules=pull("2.5 pp", cap=10)))


@pytest.mark.parametrize("cap", [8, 12, None])
def test_control_chance_doubled_at_another_cap(cap: int | None) -> None:
    with pytest.raises(Disagrees):
        check_doubled(turns_title("60 s", attempts=shot("25 %"), rules=pull("2.5 pp", cap=cap)))
