"""What somebody of the trade would expect of a venue, most of it with a control where it should not be seen.

docs/behaviour.md shows the runs. No published values: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
import pytest

import venue
from venue.study.intervals import Estimate, paired
from venue.study.point import difference
from venue.study.results import SweepResult

from .demos import FOLDER

pytestmark = pytest.mark.slow
DAYS = ("study.days=28", "study.warm_up=7")
# One title and nothing else to go to, people alike in skill, with time and money; nothing but their chance moves them.
ALONE = (
    "machines.lantern.appeal=-50", "machines.shingle.appeal=-50", "machines.tug.count=40", "people.skill.sd=0",
    "people.skill.practice=0", "people.wallet.off=true", "people.stay.off=true", "people.suspicion.notice=0",
    "people.buy_in.closeness=0", "people.party.together=0", "people.party.leave_together=0",
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


# The pier as it is, its people told apart by their skill before any practice: the run of the document.
BETTER, WEAKER = "better", "weaker"


def contests_by_skill(strength: float, changes: Sequence[str]) -> pd.DataFrame:
    """Contests at the tug after the warm-up in each replication, of people well above the crew and well below it."""
    loaded = venue.load(FOLDER / "pier.toml", changes)
    plays = venue.run(loaded, strength=strength, replications=10, rows=True, workers=2).plays
    tug = plays[plays["machine"] == "tug"]
    skill = tug.groupby(["replication", "person"])["gap"].transform("first")
    who = pd.cut(skill, [-np.inf, -0.3, 0.3, np.inf], labels=[WEAKER, "alike", BETTER])
    found: pd.DataFrame = tug[~tug["warm_up"]].groupby([who, "replication"], observed=True).size().unstack(0)
    return found


def change_by_skill(*changes: str) -> dict[str, Estimate]:
    mild, strong = contests_by_skill(0.25, changes), contests_by_skill(2.5, changes)
    found = {who: paired(strong[who].tolist(), mild[who].tolist()) for who in (BETTER, WEAKER)}
    return {who: item for who, item in found.items() if item is not None}


def test_so_it_does_at_the_pier_as_it_is() -> None:
    item = change_by_skill()
    assert falls(item[BETTER]) and rises(item[WEAKER])


NOBODY_SUSPICIOUS = "people.suspicion.notice=0"
CLOSENESS_IS_NOTHING = ("people.buy_in.closeness=0", "people.come_back.closeness=0")


def test_at_the_pier_that_hangs_on_suspicion_and_the_taste_for_close_scores() -> None:
    trusting = change_by_skill(NOBODY_SUSPICIOUS)
    assert rises(trusting[BETTER]) and rises(trusting[WEAKER])
    by_chance_alone = change_by_skill(NOBODY_SUSPICIOUS, *CLOSENESS_IS_NOTHING)
    assert falls(by_chance_alone[BETTER]) and not rises(by_chance_alone[WEAKER])


def test_control_people_of_the_pier_who_mind_neither_chance_nor_help() -> None:
    chance = (
        "people.buy_in.chance=0",
        "people.choice.belief=0",
        "people.come_back.chance=0",
        "people.come_back.wins=0",
    )
    for item in change_by_skill(NOBODY_SUSPICIOUS, *CLOSENESS_IS_NOTHING, *chance).values():
        assert not falls(item) and not rises(item)


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


def test_control_people_who_do_not_mind_the_price() -> None:
    changes = ("people.buy_in.price=0", "people.choice.price=0", "people.wallet.off=true")
    item = change(swept(changes, {"machines.tug.price": [1, 8]}), "plays_per_visit", 0, 1)
    assert not falls(item)


def test_one_more_of_the_best_adds_less_than_the_first() -> None:
    result = swept([], {"machines.tug.count": [1, 2, 3, 4]})
    means = [change(result, "credits_per_hour", fewer, more).mean for fewer, more in ((0, 1), (1, 2), (2, 3))]
    assert means[0] > 1.25 * means[1] > 0 and means[1] > 1.25 * means[2] > 0


def after_a_fault(*changes: str) -> pd.DataFrame:
    """What people do next whose contest a fault of the favourite breaks off: shares in each replication."""
    faulty = ("machines.tug.faults.mean_use=3 h", "machines.tug.faults.jam=0", *changes)
    loaded = venue.load(FOLDER / "pier.toml", faulty)
    plays = venue.run(loaded, replications=10, rows=True, workers=2).plays
    following = plays.groupby(["replication", "person", "visit"])["machine"].shift(-1).fillna("home")
    broken_off = (plays["machine"] == "tug") & (plays["refunded"] > 0)
    assert broken_off.sum() > 500
    found: pd.DataFrame = (
        following[broken_off].groupby(plays["replication"]).value_counts(normalize=True).unstack(fill_value=0.0)
    )
    return found


def test_a_faulty_favourite_sends_people_to_the_second_choice() -> None:
    shares = after_a_fault()
    elsewhere = shares["lantern"] + shares["shingle"]
    item = paired(elsewhere.tolist(), shares["home"].tolist())
    assert item is not None and rises(item)
    assert shares["lantern"].mean() > shares["home"].mean()


def test_control_with_nothing_else_a_faulty_favourite_sends_them_home() -> None:
    shares = after_a_fault("machines.lantern.appeal=-50", "machines.shingle.appeal=-50")
    assert shares["home"].mean() > 0.5 and "lantern" not in shares and "shingle" not in shares


def test_a_fault_at_the_favourite_costs_few_visits_and_plays() -> None:
    loaded = venue.load(FOLDER / "pier.toml")
    result = venue.compare(loaded, ["machines.tug.faults.mean_use=3 h"], workers=2)
    before, after = (point.measures() for point in result.points)
    lost = {name: 1 - after[name].mean / before[name].mean for name in ("plays_per_visit", "visits_per_hour")}
    # More than a tenth of the favourite's time is lost, which is most of what is played.
    assert all(0.0 < share < 0.05 for share in lost.values())
