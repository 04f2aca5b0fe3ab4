"""A control passes on a disagreement and on nothing else."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pandas as pd
import pytest

from .checking import (
    Disagrees,
    check_close,
    check_equal,
    check_identical,
    check_likely,
    check_mean,
    check_printed,
    check_same_rows,
    check_that,
    check_within,
)

ROWS = pd.DataFrame({"credits": [1, 2]})
AGREE: list[Callable[[], None]] = [
    lambda: check_that([1], "nothing"),
    lambda: check_equal("a", "a"),
    lambda: check_close(1.0 + 1e-9, 1.0),
    lambda: check_close(np.array([1.0, math.nan]), np.array([1.0, math.nan]), nan_ok=True),
    lambda: check_close(np.ones(3), 1.0),
    lambda: check_close(ROWS["credits"], pd.Series([1, 2], index=[5, 6])),
    lambda: check_within(1.0, 1.5, 0.5),
    lambda: check_printed(0.3449, "0.34"),
    lambda: check_mean([1.0, 2.0, 3.0], 2.5),
    lambda: check_likely(0.2, 0.1),
    lambda: check_same_rows(ROWS, ROWS.copy()),
    lambda: check_identical({"a": math.nan}, {"a": math.nan}),
]
DISAGREE: list[Callable[[], None]] = [
    lambda: check_that([], "nothing"),
    lambda: check_equal("a", "b"),
    lambda: check_close(1.0 + 1e-5, 1.0),
    lambda: check_close(np.ones(3), 1.1, rel=1e-3),
    lambda: check_close(0.1, 0.0, abs=0.09),
    lambda: check_close(ROWS["credits"], ROWS["credits"] + 1),
    lambda: check_within(1.0, 1.5, 0.49),
    lambda: check_printed(0.3451, "0.34"),
    lambda: check_mean([1.0, 2.0, 3.0], 4.5),
    lambda: check_likely(0.05, 0.1),
    lambda: check_same_rows(ROWS, ROWS + 1),
    lambda: check_same_rows(ROWS, ROWS[:1]),
    lambda: check_identical({"a": 1.0}, {"a": 1.0 + 2**-52}),
]
NOTHING_COMPARED: list[Callable[[], None]] = [
    lambda: check_close(np.ones(2), np.ones(3)),
    lambda: check_close(1.0, np.ones(3)),
    lambda: check_close(math.nan, 1.0),
    lambda: check_close(1.0, math.nan),
    lambda: check_within(math.nan, 1.0, 0.1),
    lambda: check_within(1.0, 2.0, math.nan),
    lambda: check_mean([1.0, 1.0], 2.0, at_least=3),
    lambda: check_mean([1.0, math.nan, 1.0], 2.0),
    lambda: check_likely(math.nan, 0.1),
    lambda: check_same_rows(ROWS, ROWS.rename(columns={"credits": "plays"})),
    lambda: check_identical(np.ones(2), np.ones(3)),
]


def control(comparison: Callable[[], None]) -> None:
    with pytest.raises(Disagrees):
        comparison()


@pytest.mark.parametrize("comparison", AGREE)
def test_what_agrees(comparison: Callable[[], None]) -> None:
    comparison()
    with pytest.raises(pytest.fail.Exception, match="DID NOT RAISE"):
        control(comparison)


@pytest.mark.parametrize("comparison", DISAGREE)
def test_a_control_passes_on_what_disagrees(comparison: Callable[[], None]) -> None:
    control(comparison)


@pytest.mark.parametrize("comparison", NOTHING_COMPARED)
def test_a_control_fails_where_nothing_was_compared(comparison: Callable[[], None]) -> None:
    with pytest.raises(AssertionError) as failure:
        control(comparison)
    assert not isinstance(failure.value, Disagrees)
