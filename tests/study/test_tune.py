"""Tuning: the value found, laid over the scenario, gives the target; out of reach, the nearest is said."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Sequence

import numpy as np
import pytest

import venue
from tests.checking import Disagrees, check_close, check_equal
from venue.errors import InputError
from venue.study.registry import TITLE_MEASURES
from venue.study.tune import Tuned

from ..scenario.building import FOLDER

PIER = str(FOLDER / "pier.toml")
# Shorter, so that many solutions cost little.
SHORT = ('titles.tug.period_length="20 s"', 'titles.lantern.period_length="12 s"')
GAP = 0.3


def result(measure: str, changes: Sequence[str], title: str = "tug", gap: float | None = GAP) -> float:
    """A headline result at the scenario's own strength, with changes laid over it."""
    loaded = venue.load(PIER, [*SHORT, *changes])
    (found,) = venue.solve(loaded, title, strengths=[loaded.scenario.study.strength], gap=gap).headlines
    return float(getattr(found, measure))


def tuned(
    reach: str, by: str = "strength", title: str = "tug", keep: Sequence[str] = (), gap: float | None = GAP
) -> Tuned:
    return venue.tune(venue.load(PIER, SHORT), title, reach=reach, by=by, keep=keep, gap=gap)


REACHED = [
    ("close_finishes=0.72", "strength", "tug"),
    ("better_side_wins=63 %", "rules.undertow.per_point", "tug"),
    ("lead_changes=0.735", "rules.last-wave.at_least", "tug"),
    ("comebacks=0.25", "titles.tug.rules.undertow.per_point", "tug"),
    ("margin_sd=2.6", "attempts.heave.chance", "tug"),
    ("assisted=0.6", "strength", "tug"),
    ("skill_edge=0.8", "rules.undertow.per_point", "tug"),
    ("side_a_wins=0.5", "opponent", "tug"),
    ("margin_mean=1", "rules.breeze.shift.1.1", "lantern"),
]


@pytest.mark.parametrize(("reach", "by", "title"), REACHED, ids=[f"{reach} by {by}" for reach, by, _ in REACHED])
def test_the_change_reaches_the_target(reach: str, by: str, title: str) -> None:
    gap = None if by == "opponent" else GAP  # one pair of skills does not know the opponent
    found = tuned(reach, by, title, gap=gap)
    measure, goal = found.goal.measure, found.goal.value
    assert found.exact
    assert result(measure, [found.change], title, gap) == pytest.approx(goal, abs=1e-9)
    assert getattr(found.result, measure) == pytest.approx(goal, abs=1e-9)
    assert getattr(found.was, measure) == pytest.approx(result(measure, [], title, gap), abs=1e-12)
    # The control: another value misses.
    key, _, text = found.change.partition("=")
    if not text.startswith("["):
        with pytest.raises(Disagrees):
            wrong = [f"{key}={float(text) * 1.01 + 1e-3!r}"]
            check_close(result(measure, wrong, title, gap), goal, abs=1e-9)


@pytest.mark.parametrize("by", ["strength", "rules.undertow.per_point"])
def test_the_line_is_the_change(by: str) -> None:
    found = tuned("close_finishes=0.7", by)
    key, _, text = found.change.partition("=")
    table = tomllib.loads(found.line)
    for step in key.split("."):
        table = table[step]
    assert table == tomllib.loads(f"x = {text}")["x"] == pytest.approx(found.value, rel=1e-9)


def check_nearest(by: str, goal: float, value: float) -> None:
    near = {cap: abs(result("margin_sd", [f"titles.tug.{by}={cap}"]) - goal) for cap in range(12)}
    check_equal(value, min(near, key=lambda cap: near[cap]))


def test_a_whole_number_comes_as_near_as_it_can() -> None:
    by = "rules.undertow.cap"
    found = tuned("margin_sd=2.3", by)
    assert not found.exact
    check_nearest(by, 2.3, found.value)
    with pytest.raises(Disagrees):
        check_nearest(by, 2.3, found.value + 1)


def test_seconds_are_whole_and_written_as_a_time() -> None:
    found = tuned("lead_changes=0.72", "rules.last-wave.last")
    assert found.value == round(found.value)
    assert found.change.endswith(' s"')
    assert result("lead_changes", [found.change]) == pytest.approx(found.result.lead_changes, abs=1e-12)
    miss = {
        last: abs(result("lead_changes", [f'titles.tug.rules.last-wave.last="{last} s"']) - 0.72)
        for last in range(1, 21)
    }
    assert found.value == min(miss, key=lambda last: miss[last])


def nearest_said(message: str) -> tuple[float, float]:
    found = re.search(r"the nearest is ([-\d.e]+), at [^=]+ = ([-\d.e]+)$", message)
    assert found is not None, message
    return float(found[1]), float(found[2])


@pytest.mark.parametrize(
    ("reach", "goal"), [("lead_changes=40", 40.0), ("margin_sd=0.01", 0.01), ("better_side_wins=99 %", 0.99)]
)
def test_out_of_reach_says_how_near(reach: str, goal: float) -> None:
    with pytest.raises(InputError) as caught:
        tuned(reach)
    assert "\n" not in str(caught.value)
    value, strength = nearest_said(str(caught.value))
    measure = reach.partition("=")[0]
    assert result(measure, [f"study.strength={strength}"]) == pytest.approx(value, rel=1e-5)
    # Nothing that can be had is nearer.
    tried = [result(measure, [f"study.strength={at}"]) for at in np.linspace(0, 10, 21).tolist()]
    assert min(abs(each - goal) for each in tried) >= abs(value - goal) - 1e-5


def test_bounds_are_kept() -> None:
    # The pull that brings sides together takes from the better one: a bound above what it leaves cannot be kept.
    free = tuned("close_finishes=0.75")
    left = free.result.better_side_wins
    assert tuned("close_finishes=0.75", keep=[f"better_side_wins>={left - 0.001}"]).value == free.value
    assert tuned("close_finishes=0.75", keep=[f"better_side_wins<={left + 0.001}"]).value == free.value
    for keep in (f"better_side_wins>={left + 0.001}", f"better_side_wins<={left - 0.001}"):
        with pytest.raises(
            InputError, match=r"reaches it, but better_side_wins is 0\.\d+ there, must be [<>]= 0\.\d+$"
        ):
            tuned("close_finishes=0.75", keep=[keep])


def test_bounds_choose_among_solutions() -> None:
    # Level ends are as frequent at two chances of an attempt; where few are made, margins are narrower.
    both = tuned("level=0.2", "attempts.haul.chance")
    assert both.others
    values = [both.value, *both.others]
    for value in values:
        change = [f"titles.tug.attempts.haul.chance={value!r}"]
        assert result("level", change) == pytest.approx(0.2, abs=1e-8)
    spread = [result("margin_sd", [f"titles.tug.attempts.haul.chance={value!r}"]) for value in values]
    assert abs(spread[0] - spread[1]) > 1e-3
    other = spread[1]
    sign = ">=" if other > spread[0] else "<="
    kept = tuned("level=0.2", "attempts.haul.chance", keep=[f"margin_sd{sign}{(spread[0] + other) / 2}"])
    assert kept.value == pytest.approx(both.others[0])


def test_everything_that_is_said_can_be_read_as_data() -> None:
    found = tuned("close_finishes=0.7").to_dict()
    assert set(found["result"]) == set(found["was"]) == set(TITLE_MEASURES)
    assert found["exact"] is True and found["change"].startswith("study.strength=")
