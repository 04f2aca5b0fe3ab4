"""Whether something has settled: false alarms at the stated rate, and power against a known drift.

Weeks are made up: an autoregression of order one, x = 0.7 x before + normal noise, begun in its stationary law (Box &
Jenkins, Time Series Analysis, ch. 3, location from memory). Each of 500 studies has replications of their own.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

from tests.checking import Disagrees, check_within
from venue.study.trend import later_half, trend

STUDIES, REPLICATIONS, WEEKS, KEPT = 500, 10, 26, 0.7
WITHIN = 1.5


@cache
def stationary(studies: int = STUDIES) -> NDArray[np.float64]:
    """Shape (studies, replications, weeks), each week with standard deviation 1."""
    generator = np.random.default_rng(7)
    weeks = np.empty((studies, REPLICATIONS, WEEKS))
    weeks[..., 0] = generator.standard_normal((studies, REPLICATIONS))
    for week in range(1, WEEKS):
        fresh = generator.standard_normal((studies, REPLICATIONS)) * np.sqrt(1 - KEPT**2)
        weeks[..., week] = KEPT * weeks[..., week - 1] + fresh
    return weeks


def share(state: str, drift: float = 0.0, weeks: NDArray[np.float64] | None = None) -> float:
    """Share of studies that are in a state, with so much added from the first week to the last."""
    weeks = stationary() if weeks is None else weeks
    moved = weeks + np.linspace(0.0, drift, weeks.shape[-1])
    return float(np.mean([trend(study, WITHIN).state == state for study in moved]))


def check_false_alarms(found: float) -> None:
    # 5 % of 500, within four standard errors of a binomial share.
    check_within(found, 0.05, 4 * np.sqrt(0.05 * 0.95 / STUDIES))


def test_false_alarms_are_as_rare_as_said() -> None:
    check_false_alarms(share("moving"))


def test_control_weeks_taken_for_independent() -> None:
    """The same with one line through all weeks of all replications, as if each week were a run of its own."""
    alarms = []
    for study in stationary():
        at = np.tile(np.arange(WEEKS), REPLICATIONS)
        alarms.append(stats.linregress(at, study.ravel()).pvalue < 0.05)
    with pytest.raises(Disagrees):
        check_false_alarms(float(np.mean(alarms)))


def slope_error() -> float:
    """Standard deviation of the change by the line through one replication, from the covariance of its weeks."""
    lag = np.abs(np.subtract.outer(np.arange(WEEKS), np.arange(WEEKS)))
    along = np.arange(WEEKS) - (WEEKS - 1) / 2
    weights = along / (along @ along) * (WEEKS - 1)
    return float(np.sqrt(weights @ KEPT**lag @ weights))


@pytest.mark.parametrize("drift", [1.0, 2.0])
def test_power_against_a_drift(drift: float) -> None:
    # Noncentral t with the drift over its standard error as noncentrality (textbook).
    away = drift / slope_error() * np.sqrt(REPLICATIONS)
    edge = stats.t.ppf(0.975, REPLICATIONS - 1)
    power = stats.nct.sf(edge, REPLICATIONS - 1, away) + stats.nct.cdf(-edge, REPLICATIONS - 1, away)
    assert 0.2 < power < 1.0
    assert abs(share("moving", drift) - power) < 4 * np.sqrt(power * (1 - power) / STUDIES) + 1e-3


def test_what_moves_as_far_as_the_bound_is_rarely_called_settled() -> None:
    # Two one-sided tests at 5 % (Schuirmann 1987): at the bound itself at most one in twenty.
    assert share("settled", WITHIN) < 0.05 + 4 * np.sqrt(0.05 * 0.95 / STUDIES)
    assert share("settled") > 0.3


def test_too_short_to_say() -> None:
    weeks = stationary(1)[0]
    assert trend(weeks[:, :3], WITHIN).state == "too short"
    assert trend(weeks[:1], WITHIN).state == "too short"
    half, first = later_half(weeks)
    assert half.shape == (REPLICATIONS, 13)
    assert first == 14
    found = trend(half, WITHIN, first=first)
    assert (found.first, found.last) == (14, 26)


def test_a_straight_line_is_found_to_the_digit() -> None:
    weeks = np.array([[1.0, 2.0, 3.0, 4.0, 5.0], [2.0, 3.5, 5.0, 6.5, 8.0]])
    found = trend(weeks, 0.1)
    assert found.change is not None
    assert found.change.mean == pytest.approx(5.0)  # (4 + 6) / 2
