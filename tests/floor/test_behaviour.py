"""What somebody of the trade would expect of a venue, each with a control: the same where it should not be seen.

docs/behaviour.md shows the runs. No published values: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence

import pytest

import venue
from venue.study.intervals import Estimate
from venue.study.point import difference
from venue.study.results import SweepResult

from .demos import FOLDER

pytestmark = pytest.mark.slow
DAYS = ("study.days=28", "study.warm_up=7")
# One title and nothing else to go to, people alike in skill, with time and money; nothing but their chance moves them.
ALONE = (
    "machines.lantern.appeal=-50", "machines.shingle.appeal=-50", "machines.tug.count=40", "people.skill.sd=0",
    "people.skill.practice=0", "people.wallet.off=true", "people.stay.off=true", "people.suspicion.notice=0",
    "people.buy_in.closeness=0", "people.party={sizes={1=1.0}}",
)  # fmt: skip


def swept(changes: Sequence[str], over: dict[str, list[float]], replications: int = 8) -> SweepResult:
    loaded = venue.load(FOLDER / "pier.toml", [*DAYS, *changes])
    return venue.sweep(loaded, over=over, replications=replications, workers=2)


def change(result: SweepResult, measure: str, first: int, second: int) -> Estimate:
    """Of a measure from one setting to another, on the same visitors."""
    found = difference(result.points[second], result.points[first], measure)
    assert found is not None
    return found


def rises(item: Estimate) -> bool:
    return item.low > 0.0


def falls(item: Estimate) -> bool:
    return item.high < 0.0


def plays_of(skill: float, *more: str) -> Estimate:
    """Change of plays a visit from mild to strong catch-up, for people who are so much better than the computer."""
    result = swept([*ALONE, f"people.skill.mean={skill}", *more], {"strength": [0.25, 2.5]})
    return change(result, "plays_per_visit", 0, 1)


def test_catch_up_takes_from_the_better_and_gives_to_the_weaker() -> None:
    assert falls(plays_of(0.5))
    assert rises(plays_of(-0.5))


def test_control_people_who_do_not_mind_their_chance() -> None:
    indifferent = ("people.buy_in.chance=0", "people.choice.belief=0")
    for skill in (0.5, -0.5):
        item = plays_of(skill, *indifferent)
        assert not falls(item) and not rises(item)


STRENGTHS = {"strength": [0.0, 1.0, 2.0, 4.0]}


def test_take_rises_with_strength_where_nobody_is_suspicious() -> None:
    result = swept(["people.suspicion.notice=0"], STRENGTHS)
    for weaker, stronger in ((0, 1), (1, 2), (2, 3)):
        assert rises(change(result, "credits_per_hour", weaker, stronger))


def test_suspicion_puts_the_best_strength_in_between() -> None:
    result = swept([], STRENGTHS, replications=20)
    takes = [point.measures()["credits_per_hour"].mean for point in result.points]
    best = takes.index(max(takes))
    assert 0 < best < 3
    assert rises(change(result, "credits_per_hour", 0, best)) and falls(change(result, "credits_per_hour", best, 3))


def test_a_higher_price_lowers_plays_and_moves_the_take_either_way() -> None:
    result = swept([], {"machines.tug.price": [1, 2, 8]})
    for cheaper, dearer in ((0, 1), (1, 2)):
        assert falls(change(result, "plays_per_visit", cheaper, dearer))
    assert rises(change(result, "credits_per_hour", 0, 1)) and falls(change(result, "credits_per_hour", 1, 2))


def test_one_more_of_the_best_adds_less_than_the_first() -> None:
    result = swept([], {"machines.tug.count": [1, 2, 3, 4]})
    means = [change(result, "credits_per_hour", fewer, more).mean for fewer, more in ((0, 1), (1, 2), (2, 3))]
    assert means[0] > 1.25 * means[1] > 0 and means[1] > 1.25 * means[2] > 0
