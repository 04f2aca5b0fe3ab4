"""A venue that has run before its settings are compared: each setting goes on from the same days, to the last bit."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import venue
from venue.errors import FailedReplications, ScenarioError, Stopped
from venue.scenario.load import Loaded
from venue.scenario.scenario import Scenario
from venue.study.before import PILOT, pilot
from venue.study.observer import Observer
from venue.study.past import Past, as_before
from venue.study.replicate import Bench, Replication
from venue.study.results import SweepResult
from venue.study.series import Execution, Series
from venue.study.store import Store

from .test_workers import check_same, small

STRENGTHS = (0.0, 1.0)
REPLICATIONS = 3


def lived_in(days: int | None = 14) -> Loaded:
    """The small venue of other tests, with some of its people coming again."""
    before = {} if days is None else {"days": days}
    return small().change(days=7, warm_up=0, before=before, seed=17)


def swept(**more: object) -> SweepResult:
    return venue.sweep(lived_in(), strengths=STRENGTHS, replications=REPLICATIONS, rows=True, **more)  # type: ignore[arg-type]


@cache
def here() -> SweepResult:
    return swept()


def kept(path: Path, **more: object) -> SweepResult:
    return venue.sweep(lived_in(), strengths=STRENGTHS, replications=REPLICATIONS, store=path, **more)  # type: ignore[arg-type]


def check_same_numbers(first: SweepResult, second: SweepResult) -> None:
    assert first.to_dict() == second.to_dict()


def test_every_setting_begins_with_the_same_people() -> None:
    """Who comes on the first day was decided before anything differed."""
    visits = here().visits
    first_day = visits[visits["arrived"] < 86400.0]
    arrivals = [set(zip(rows["replication"], rows["person"], rows["arrived"], strict=True))
                for _, rows in first_day.groupby("strength")]  # fmt: skip
    assert arrivals[0] == arrivals[1]
    assert (first_day["visit"] > 0).any()
    # Later they differ.
    assert visits[visits["strength"] == 0.0]["credits"].sum() != visits[visits["strength"] == 1.0]["credits"].sum()


def test_control_without_the_time_before_nobody_knows_the_venue() -> None:
    opened = venue.run(lived_in(0), replications=1, rows=True).visits
    assert not (opened[opened["arrived"] < 86400.0]["visit"] > 0).any()


def test_run_and_sweep_say_the_same() -> None:
    alone = venue.run(lived_in(), strength=0.0, replications=REPLICATIONS)
    np.testing.assert_equal(
        [item.measured.venue for item in alone.point.replications],
        [item.measured.venue for item in here().points[0].replications],
    )


def test_the_first_of_a_comparison_is_what_is_there_today() -> None:
    changed = venue.compare(lived_in(), "machines.solo.price=2", replications=REPLICATIONS)
    over = venue.sweep(lived_in(), over={"machines.solo.price": [1, 2]}, replications=REPLICATIONS)
    for point, other in zip(changed.points, over.points, strict=True):
        assert point.values("credits_per_hour") == other.values("credits_per_hour")


def test_workers_change_nothing() -> None:
    check_same(here(), swept(workers=2))


def test_a_past_that_is_run_alone_is_the_same() -> None:
    """A replication told of no past finds it by itself."""
    scenario = lived_in().scenario
    bench = Bench()
    past = bench.run_before(as_before(scenario), 0, 14)
    again = Past.unpacked(past.packed(), 0)
    assert again == past
    assert len(again.takes) == 2
    one, other = bench.run(scenario, 0), bench.run(scenario, 0, again)
    np.testing.assert_equal(one.measured.venue, other.measured.venue)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "runs.db"


class Stops(Observer):
    """Ctrl-C after so many replications, or before any, while the venues run before."""

    def __init__(self, after: int) -> None:
        self._after = after

    def done(self, done: int, total: int) -> None:
        if done == self._after:
            raise KeyboardInterrupt

    def before(self, done: int, total: int) -> None:
        if self._after == 0 and done == 2:
            raise KeyboardInterrupt


@pytest.mark.parametrize("after", [0, 4])
def test_after_a_stop_the_numbers_are_the_same(path: Path, after: int) -> None:
    with pytest.raises(Stopped):
        kept(path, progress=Stops(after))
    check_same_numbers(here(), kept(path))


def test_pasts_are_kept(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    kept(path)
    forbid(monkeypatch, "run_before")
    venue.sweep(lived_in(), strengths=[0.5], replications=REPLICATIONS, store=path)
    forbid(monkeypatch, "run")
    check_same_numbers(here(), kept(path))
    with pytest.raises(FailedReplications, match="run_before"):
        venue.run(lived_in(21), replications=1, store=path)


def forbid(monkeypatch: pytest.MonkeyPatch, what: str) -> None:
    def fail(bench: Bench, scenario: Scenario, number: int, *_: object) -> Replication:
        raise AssertionError(what)

    monkeypatch.setattr(Bench, what, fail)


def test_a_damaged_past_is_made_again(path: Path) -> None:
    kept(path)
    scenario = as_before(lived_in().scenario)
    store = Store(path)
    whole = store.read_past(scenario, range(REPLICATIONS), 14)
    assert len(whole) == REPLICATIONS
    store._connection.execute("UPDATE past SET state = ? WHERE number = 1", (whole[0].packed(),))
    assert sorted(store.read_past(scenario, range(REPLICATIONS), 14)) == [0, 2]
    store.close()


def test_pruning_takes_pasts_along(path: Path) -> None:
    kept(path)
    store = Store(path)
    store.prune([study.number for study in store.studies()])
    assert store._connection.execute("SELECT count(*) FROM past").fetchone()[0] == 0
    store.close()


@pytest.mark.parametrize(("weeks_of_growth", "expected"), [(0, 56), (12, 168), (100, 364)])
def test_the_pilot_ends_when_the_take_no_longer_moves(
    weeks_of_growth: int, expected: int, monkeypatch: pytest.MonkeyPatch
) -> None:  # fmt: skip
    """Takes made up: straight up to a level, with a noise of one in a hundred."""
    noise = np.random.default_rng(3).normal(0.0, 1.0, (PILOT, 52))
    takes = 100.0 - 2.0 * np.clip(weeks_of_growth - np.arange(52), 0, None) + noise

    def made_up(
        _: Series, today: Scenario, numbers: range, day: int, **more: object
    ) -> tuple[dict[int, Past], list[Any]]:
        return {number: Past(number, day, tuple(takes[number, : day // 7]), b"", 0.0) for number in numbers}, []

    monkeypatch.setattr(Series, "run_up_to", made_up)
    found = pilot(lived_in(None), Execution())
    assert found.days == expected
    assert found.settled == (weeks_of_growth < 52)


@pytest.mark.slow
def test_what_the_pilot_ran_is_what_a_study_begins_with() -> None:
    found = pilot(lived_in(None), Execution())
    assert found.days % 28 == 0
    assert found.days >= 56
    result = venue.run(lived_in(None), replications=2)
    assert result.record.before == found.days
    same = venue.run(lived_in(found.days), replications=2)
    assert same.point.values("credits_per_hour") == result.point.values("credits_per_hour")


def test_the_time_before_keeps_its_strength() -> None:
    changed = lived_in().change(strength=0.0)
    assert as_before(changed.scenario).study.strength == 1.0
    assert as_before(changed.change(strength=0.5).scenario).study.strength == 1.0
    assert changed.change(strength=1.0).scenario.study.strength == 1.0


@pytest.mark.parametrize(("value", "said"), [("10", "must be whole weeks; write 7"), ("-7", "study.before.days")])
def test_mistakes(value: str, said: str) -> None:
    with pytest.raises(ScenarioError, match=said):
        lived_in().vary([f"study.before.days={value}"])


def test_unused_is_as_ever() -> None:
    """No days before are the plain run."""
    plain, none = small().change(seed=17), small().change(seed=17, before={"days": 0})
    assert venue.run(plain, replications=1).point.values("credits_per_hour") == venue.run(
        none, replications=1
    ).point.values("credits_per_hour")
