"""What help is noticed, and what holding back is worth, by hand or by a search of its own."""

from __future__ import annotations

from functools import cache
from typing import Any

import pytest

from venue.contest.best_play import holding_back
from venue.contest.chain import Chain
from venue.contest.match import Match

from .building import turns_title


def test_a_score_is_noticed_by_the_share_of_its_chance_that_help_gave() -> None:
    # One attack, by either side with chance a half. It succeeds at 0.8 instead of 0.5: of scores 0.3 are due to help,
    # and each is noticed by the share of its chance that help gave, 0.3 / 0.8. So 0.5 * 0.3 and 0.5 * 0.3 * 0.3 / 0.8.
    title = turns_title("1 s", rules={"lift": {"kind": "least chance", "at_least": 0.8}})
    chain = Chain(title, Match())
    assert chain.expected("assisted") == pytest.approx([0.15, 0.15], abs=1e-12)
    assert chain.expected("noticeable") == pytest.approx([0.05625, 0.05625], abs=1e-12)


ATTEMPTS: dict[str, dict[str, Any]] = {
    "one": {"share": 0.5, "points": 1, "chance": 0.3},
    "three": {"share": 0.5, "points": 3, "chance": 0.3},
}


def best_by_search(seconds: int, *, may_hold: bool) -> float:
    """Side A's chance to win at an attack a second, certain to succeed from two behind; it may pass up a success."""

    @cache
    def win(left: int, side: int, margin: int) -> float:
        if left == 0:
            return 1.0 if margin > 0 else 0.0 if margin < 0 else 0.5
        behind = -margin if side == 0 else margin
        total = 0.0
        for attempt in ATTEMPTS.values():
            chance = 1.0 if behind >= 2 else attempt["chance"]
            missed = win(left - 1, 1 - side, margin)
            scored = win(left - 1, 1 - side, margin + (attempt["points"] if side == 0 else -attempt["points"]))
            if side == 0 and may_hold:
                scored = max(scored, missed)
            total += attempt["share"] * (chance * scored + (1.0 - chance) * missed)
        return total

    return (win(seconds, 0, 0) + win(seconds, 1, 0)) / 2


@pytest.mark.parametrize("seconds", [2, 5, 8])
def test_holding_back_by_a_search_of_its_own(seconds: int) -> None:
    rules = {"gift": {"kind": "least chance", "at_least": 1.0, "behind_from": 2}}
    chain = Chain(turns_title(f"{seconds} s", attempts=ATTEMPTS, rules=rules), Match())
    assert chain.win_chance == pytest.approx(best_by_search(seconds, may_hold=False), abs=1e-9)
    assert holding_back(chain) == pytest.approx(best_by_search(seconds, may_hold=True), abs=1e-9)


def test_holding_back_is_worth_something_here() -> None:
    assert best_by_search(8, may_hold=True) > best_by_search(8, may_hold=False) + 0.01
