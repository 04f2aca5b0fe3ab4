"""The weeks after a change: sums by hand, and made-up settings whose best changes from one horizon to the next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

import venue
from venue.study.findings import Drift, Horizon
from venue.study.horizons import drift, horizons, over_first
from venue.study.measures import Measured
from venue.study.point import Point
from venue.study.replicate import Replication, Task
from venue.study.weeks import Week

from .test_before import lived_in

WEEKS, REPLICATIONS = 26, 8
LEVEL = 0.975


def made_up(strength: float, course: Sequence[float], seed: int = 4) -> Point:
    """A setting whose weekly take follows a course, with noise that all settings share and a little of its own."""
    shared = np.random.default_rng(seed).normal(0.0, 5.0, (REPLICATIONS, WEEKS))
    own = np.random.default_rng([seed, int(10 * strength)]).normal(0.0, 0.5, (REPLICATIONS, WEEKS))
    takes = np.asarray(course) + shared + own
    return Point(strength, tuple(
        Replication(Task(strength, number), Measured({}, {}, np.zeros((1, 24)), {}, weeks=tuple(
            Week(week + 1, False, 1.0, float(take), 0.0, 70.0) for week, take in enumerate(row)
        )), [], 0.0)
        for number, row in enumerate(takes)
    ))  # fmt: skip


def falling(strength: float, start: float, end: float) -> Point:
    """From a start to an end within thirteen weeks, and level from there."""
    return made_up(strength, np.interp(np.arange(WEEKS), [0, 12], [start, end]))


def told(*points: Point, days: int = 7 * WEEKS, allowed: Sequence[int] = (0, 1), best: int = 0) -> tuple[Horizon, ...]:
    return horizons(points, allowed, best, days=days, level=LEVEL)


def test_hours_weigh_what_is_by_the_hour() -> None:
    weeks = (Week(1, False, 1.0, 10.0, 0.0, 60.0), Week(2, False, 1.0, 40.0, 0.0, 20.0), Week(3, False, 1.0, 9.0, 0.0))
    item = Replication(Task(1.0, 0), Measured({}, {}, np.zeros((1, 24)), {}, weeks=weeks), [], 0.0)
    assert over_first(Point(1.0, (item,)), "credits_per_hour", 2) == [pytest.approx((600 + 800) / 80)]


def test_what_is_best_for_a_month_may_not_be_for_half_a_year() -> None:
    steady, fading = falling(0.0, 100.0, 100.0), falling(1.0, 108.0, 96.0)
    found = told(steady, fading)
    assert [(item.weeks, item.best, item.agrees) for item in found] == [(4, 1, False), (13, 1, False), (26, 0, True)]
    assert found[0].behind is not None
    # The first four weeks of the line from 108 to 96 over twelve weeks: 108, 107, 106, 105.
    assert found[0].behind.mean == pytest.approx(6.5, abs=1.0)


def test_control_the_same_course_with_another_name() -> None:
    found = told(falling(0.0, 100.0, 100.0), falling(1.0, 100.0, 100.0))
    assert all(item.agrees for item in found)


def test_only_what_keeps_the_requirements_and_fits_into_the_run() -> None:
    points = falling(0.0, 100.0, 100.0), falling(1.0, 108.0, 96.0)
    assert [item.weeks for item in told(*points, days=180)] == [4, 13]
    assert [item.best for item in told(*points, allowed=[0])] == [0, 0, 0]
    assert told(*points, allowed=[]) == ()


def drift_of(point: Point, other: Point, days: int = 7 * WEEKS) -> Drift:
    return drift(point, other, days=days, level=0.95)


def test_a_difference_that_still_falls_is_found_where_the_level_is_lost_in_noise() -> None:
    steady = falling(0.0, 100.0, 100.0)
    still = made_up(1.0, np.linspace(110.0, 98.0, WEEKS))
    assert drift_of(still, steady).state == "moving"
    assert drift_of(falling(1.0, 108.0, 96.0), steady).state == "settled"
    found = drift_of(still, steady)
    assert (found.first, found.last) == (14, 26)
    assert found.change is not None
    assert found.change.mean == pytest.approx(-12.0 * 12 / 25, abs=1.0)


def test_control_settings_not_taken_in_pairs() -> None:
    """Of venues with other visitors the same drift is lost."""
    steady = made_up(0.0, [100.0] * WEEKS, seed=5)
    still = made_up(1.0, np.linspace(110.0, 98.0, WEEKS), seed=6)
    assert drift_of(still, steady).state != "moving"


def test_too_short() -> None:
    steady, still = falling(0.0, 100.0, 100.0), falling(1.0, 108.0, 96.0)
    assert drift_of(still, steady, days=42).state == "too short"
    one = replace(still, replications=still.replications[:1])
    assert drift_of(one, steady).state == "too short"


def test_a_sweep_tells_horizons_where_the_venue_has_run_before() -> None:
    result = venue.sweep(lived_in().change(days=28), strengths=(0.0, 1.0), replications=3)
    assert [item.weeks for item in result.findings.horizons] == [4]
    assert result.findings.drifts.count(None) == 1
    opening = venue.sweep(lived_in(0).change(days=28), strengths=(0.0, 1.0), replications=3)
    assert opening.findings.horizons == ()


def test_weeks_add_up_to_the_measures() -> None:
    """Money by the week and take by the hour, over whole weeks, are those of the run."""
    item = venue.run(lived_in().change(days=28), replications=1).point.replications[0].measured
    for name in ("take_per_week", "operator_share_per_week", "profit_per_week"):
        assert np.mean([getattr(week, name) for week in item.weeks]) == pytest.approx(item.venue[name])
    hours = [week.open_hours for week in item.weeks]
    takes = np.average([week.credits_per_hour for week in item.weeks], weights=hours)
    assert takes == pytest.approx(item.venue["credits_per_hour"])
