"""Precision asked for: textbook sample sizes, and studies that stop where they were told to."""

from __future__ import annotations

import math
from collections.abc import Generator, Sequence
from dataclasses import dataclass

import numpy as np
import pytest

import venue
from tests.checking import Disagrees, check_equal
from venue.errors import InputError
from venue.study.intervals import estimate
from venue.study.measures import Measured
from venue.study.point import Point
from venue.study.precision import Precision, Reached, count_for, gather, precisions_of
from venue.study.registry import MEASURES
from venue.study.replicate import Replication, Task
from venue.study.series import Execution, Series, Variant
from venue.study.work import Executor, Outcome, Work

from ..floor.textbook import textbook
from .test_intervals import BANK
from .test_workers import small

DEVIATION = float(np.std(BANK, ddof=1))


def check_bank_days(precision: Precision, days: int) -> None:
    """Law, Simulation Modeling and Analysis, ch. 9: how many days of the bank for a 90 % interval this narrow."""
    check_equal(count_for(precision.allowed(float(np.mean(BANK))), DEVIATION, len(BANK), level=0.9), days)


def test_days_of_a_bank_for_a_quarter_of_a_minute() -> None:
    check_bank_days(Precision("wait_minutes", 0.25, relative=False), 16)


def test_days_of_a_bank_for_ten_percent() -> None:
    check_bank_days(Precision("wait_minutes", 0.10, relative=True), 27)


def test_control_ten_percent_of_the_mean_seen() -> None:
    """Without the correction g / (1 + g) the error relative to the true mean could be greater."""
    share = Precision("wait_minutes", 0.10 * float(np.mean(BANK)), relative=False)
    with pytest.raises(Disagrees):
        check_bank_days(share, 27)


def test_the_formula_is_the_first_count_that_will_do() -> None:
    for half in (0.05, 0.3, 1.0, 3.0):
        count = count_for(half, 1.0, 2)
        values = np.random.default_rng(1).normal(size=max(count, 3))
        scaled = (values - values.mean()) / values.std(ddof=1)
        found = estimate(scaled.tolist())
        assert found is not None and found.half_width <= half
        if count > 2:
            assert count_for(half, 1.0, count - 1) == count
    assert count_for(1e-9, 1.0, 2, most=50) == 50


# -- the procedure, on replications drawn from a known distribution ---------------------------------------------------


@dataclass(frozen=True)
class Drawn(Execution):
    """Stands in for the floor: replications whose take is normal with a known mean."""

    seed: int = 1
    mean: float = 10.0
    deviation: float = 2.0

    def executor(self, works: int) -> Executor:
        return Normals(np.random.default_rng(self.seed).normal(self.mean, self.deviation, size=1000).tolist())


class Normals:
    def __init__(self, values: list[float]) -> None:
        self._values = values

    def run(self, works: Sequence[Work]) -> Generator[Outcome, None, None]:
        for work in works:
            measured = Measured(dict.fromkeys(MEASURES, 1.0), {}, np.zeros(0), {})
            measured.venue["credits_per_hour"] = self._values[work.number]
            yield Outcome(work, Replication(Task(1.0, work.number), measured, [], 0.0))

    def close(self) -> None:
        pass


def studied(seed: int, precision: Precision, ceiling: int = 1000) -> tuple[Point, Reached]:
    shelf = textbook({"row": {"count": 1, "price": 1, "play_time": "1 min"}}, 1.0)
    with Series([Variant(shelf)], Drawn(seed=seed)) as series:
        points, reached = gather(series, [precision], start=10, ceiling=ceiling)
    return points[0], reached[0]


RELATIVE = Precision("credits_per_hour", 0.06, relative=True)


def coverage(mean: float, studies: int = 200) -> float:
    """Share of studies whose final interval holds the mean."""
    held = 0
    for seed in range(studies):
        point, reached = studied(seed, RELATIVE)
        found = point.measures()["credits_per_hour"]
        assert reached.met and found.half_width <= RELATIVE.allowed(found.mean)
        held += found.low <= mean <= found.high
    return held / studies


def test_intervals_that_ended_a_study_cover_near_the_nominal() -> None:
    """A sequential procedure covers a little less than the nominal 0.95 (Law, ch. 9); four standard errors below it."""
    assert coverage(10.0) >= 0.93 - 4 * math.sqrt(0.05 * 0.95 / 200)


def test_control_another_mean() -> None:
    assert coverage(10.5, studies=60) < 0.85


def test_it_stops_as_soon_as_the_formula_lets_it() -> None:
    """About t^2 s^2 / h^2 replications: 2 of 10 within 6 % needs (1.96 * 2 / 0.566)^2, some 48."""
    counts = [len(studied(seed, RELATIVE)[0].replications) for seed in range(60)]
    assert 40 <= float(np.mean(counts)) <= 56
    assert min(counts) >= 10


def test_a_ceiling_ends_it_and_says_so() -> None:
    point, reached = studied(1, Precision("credits_per_hour", 0.001, relative=True), ceiling=25)
    assert len(point.replications) == 25 and not reached.met and reached.replications == 25
    assert reached.half_width > 0.001


def test_what_never_varies_is_precise_at_once() -> None:
    point, reached = studied(1, Precision("utilisation", 0.001, relative=True))
    assert len(point.replications) == 10 and reached.met and reached.half_width == 0.0


# -- through the program ----------------------------------------------------------------------------------------------


@pytest.mark.slow
def test_a_precise_study_is_the_fixed_one_with_as_many_replications() -> None:
    precise = venue.run(small(), precision={"credits_per_hour": "8%"}, workers=2)
    count = precise.to_dict()["replications"]
    assert count > 10 and precise.reached[0].met
    fixed = venue.run(small(), replications=count)
    assert {**precise.to_dict(), "precision": []} == fixed.to_dict()
    assert precise.to_dict()["precision"][0]["wanted"] == 0.08


@pytest.mark.slow
def test_the_slowest_setting_decides_for_all() -> None:
    result = venue.sweep(small(), strengths=[0.0, 1.0], precision={"buy_in_rate": 0.03}, at_most=40)
    counts = {len(point.replications) for point in result.points}
    assert len(counts) == 1
    widest = max(result.points, key=lambda point: point.measures()["buy_in_rate"].half_width)
    assert result.reached[0].where == widest.name
    assert result.reached[0].half_width == widest.measures()["buy_in_rate"].half_width


def test_a_comparison_is_as_precise_in_its_differences() -> None:
    result = venue.compare(small(), "machines.solo.price=2", precision={"credits_per_play": 0.05}, at_most=60)
    found = {item.measure: item for item in result.comparisons[0].differences}["credits_per_play"]
    assert result.reached[0].met and found.estimate.half_width <= 0.05


@pytest.mark.parametrize(
    ("wanted", "words"),
    [
        ({"credits": 1.0}, '--precision credits: is no measure; did you mean "credits_per'),
        ({"utilisation": "0%"}, "--precision utilisation=0%: must lie above 0 and below 100 %"),
        ({"utilisation": "100%"}, "must lie above 0 and below 100 %"),
        ({"utilisation": -0.1}, "--precision utilisation=-0.1: must be a number above 0"),
        ({"utilisation": "nan"}, "must be a number above 0"),
    ],
)
def test_precisions_that_cannot_be(wanted: dict[str, str | float], words: str) -> None:
    with pytest.raises(InputError) as caught:
        precisions_of(wanted)
    assert words in str(caught.value)


def test_studies_that_cannot_be_precise() -> None:
    with pytest.raises(InputError, match="--at-most 5: must be at least 10"):
        venue.run(small(), precision={"utilisation": "5%"}, at_most=5)
    with pytest.raises(InputError, match="--precision return_28d: no replication at strength 1 could tell it"):
        venue.run(small(), precision={"return_28d": "5%"})
    with pytest.raises(InputError, match="one replication alone"):
        venue.run(small(), precision={"utilisation": "5%"}, only=1)


# -- a thousand studies of a queue whose mean wait is known -----------------------------------------------------------


def studies_of_a_queue(count: int) -> list[list[float]]:
    """Minutes waited in M/M/2 at load 1, plays of 10 minutes, in ten replications of two days after a day's warm-up."""
    row = {"row": {"count": 2, "price": 1, "play_time": "10 min", "play_time_varies": "exponential"}}
    queue = textbook(row, 6.0, days=3).change(warm_up=1, replications=10)
    return [venue.run(queue, seed=seed).point.values("wait_minutes") for seed in range(count)]


@pytest.mark.slow
def test_coverage_over_a_thousand_studies_of_a_queue() -> None:
    """Erlang's formula C: with c = 2 and a load of 1 the chance to wait is 1/3 and the mean wait 1/3 of a play."""
    found = [estimate(values) for values in studies_of_a_queue(1000)]
    held = [item is not None and item.low <= 10.0 / 3.0 <= item.high for item in found]
    assert 0.92 <= float(np.mean(held)) <= 0.97
    # The twin: intervals by the normal curve, as if ten replications told their spread, cover too rarely.
    narrow = [item is not None and abs(item.mean - 10.0 / 3.0) <= item.half_width * 1.96 / 2.262 for item in found]
    assert float(np.mean(narrow)) < 0.92


def test_a_width_that_is_not_known_is_null() -> None:
    wanted = Precision("credits_per_hour", 2.0, relative=False)
    assert Reached(wanted, 1.5, "0", True, 9).to_dict()["reached"] == 1.5
    assert Reached(wanted, math.inf, "0", False, 9).to_dict()["reached"] is None
