"""What a check says when the model is not what it is held against, and how it says it.

A control runs a check with the model knowingly wrong and must see it fail. It waits for `Disagrees`, which nothing but
the comparison itself raises. A sample too small, a wrong shape or a value that is not a number is an ordinary
AssertionError: the control fails on it, as it must, because nothing was compared.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd
import pytest


class Disagrees(AssertionError):
    """The model differs from what it is held against by more than is allowed."""


def check_that(holds: object, what: str = "what is said of the model does not hold") -> None:
    """A comparison that no other function here makes; `what` says what was found and expected."""
    if not holds:
        raise Disagrees(what)


def check_equal(found: Any, expected: Any) -> None:
    """Equal, of whatever type."""
    check_that(found == expected, f"{found!r} is not {expected!r}")


def check_close(
    found: Any, expected: Any, *, rel: float | None = None, abs: float | None = None, nan_ok: bool = False
) -> None:
    """Equal to within a tolerance, with the defaults of `pytest.approx`: numbers, or arrays of one shape."""
    shape, wanted = np.shape(found), np.shape(expected)
    assert wanted in ((), shape), f"shape {shape} is not {wanted}"
    if not nan_ok and not isinstance(expected, dict):
        assert not np.isnan(np.asarray(found, dtype=float)).any(), f"{found!r} is not a number"
        assert not np.isnan(np.asarray(expected, dtype=float)).any(), f"{expected!r} is not a number"
    found, expected = (part.to_numpy() if isinstance(part, pd.Series) else part for part in (found, expected))
    check_that(found == pytest.approx(expected, rel=rel, abs=abs, nan_ok=nan_ok), f"{found!r} is not {expected!r}")


def check_within(found: float, expected: float, allowed: float) -> None:
    """Not further apart than allowed, which for a simulation is a number of standard errors."""
    assert all(map(math.isfinite, (found, expected, allowed))), f"{found!r}, {expected!r}, {allowed!r}: not finite"
    check_that(abs(found - expected) <= allowed, f"{found!r} is not {expected!r} to within {allowed!r}")


def check_printed(value: float, printed: str) -> None:
    """Equal to a printed value: within half a unit of its last digit."""
    decimals = len(printed.partition(".")[2])
    check_within(float(value), float(printed), 0.5 * 10.0**-decimals + 1e-12)


def check_mean(values: Sequence[float] | np.ndarray, expected: float, at_least: int = 2) -> None:
    """The mean of at least so many replications lies within 4 standard errors of what it should be."""
    found = np.asarray(values, dtype=float)
    assert len(found) >= at_least, f"{len(found)} values: fewer than {at_least}"
    error = float(found.std(ddof=1)) / math.sqrt(len(found))
    check_within(float(found.mean()), expected, 4 * error)


def check_likely(p_value: float, rare: float) -> None:
    """A test of a distribution does not reject it."""
    assert 0.0 <= p_value <= 1.0, f"{p_value!r} is no chance"
    check_that(p_value > rare, f"a chance of {p_value:.3g} is too small: {rare:.3g} is rare")


def check_same_rows(first: pd.DataFrame, second: pd.DataFrame) -> None:
    """The same rows to the last bit, of tables with the same columns."""
    assert list(first.columns) == list(second.columns), "the tables have other columns"
    try:
        pd.testing.assert_frame_equal(first, second, check_exact=True)
    except AssertionError as error:
        raise Disagrees(str(error)) from error


def check_identical(first: Any, second: Any) -> None:
    """Equal to the last bit, in dictionaries and arrays as well; what is not a number is so in both."""
    assert np.shape(first) == np.shape(second)
    try:
        np.testing.assert_equal(first, second)
    except AssertionError as error:
        raise Disagrees(str(error)) from error
