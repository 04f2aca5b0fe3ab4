"""What is kept of a replication reads back to the very same values, whatever they are."""

from __future__ import annotations

import struct
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from venue.floor.accounts import Account
from venue.study.by_margin import OffersAt
from venue.study.codec import packed, unpacked
from venue.study.measures import Measured
from venue.study.replicate import Replication, Task
from venue.study.retention import Cohort, Curve
from venue.study.weeks import Week

FLOATS = st.floats() | st.sampled_from([0.0, -0.0, 5e-324, 0.1, 1e16, float("inf"), float("nan")])
WHOLE = st.integers(-(2**70), 2**70)
# Columns are all floats, all whole, or mixed.
NUMBERS = FLOATS | WHOLE | FLOATS.map(np.float64) | st.integers(-(2**40), 2**40).map(np.int64)
NAMED = st.dictionaries(st.text(max_size=5), FLOATS, max_size=4) | st.dictionaries(st.text(max_size=5), NUMBERS)
COLUMN = st.lists(FLOATS, max_size=4).map(tuple) | st.lists(NUMBERS, max_size=4).map(tuple)
CURVES = st.builds(Curve, COLUMN, COLUMN, COLUMN, COLUMN)
MEASURED = st.builds(
    Measured,
    NAMED,
    st.dictionaries(st.text(max_size=5), NAMED, max_size=3),
    st.integers(1, 3).flatmap(
        lambda rows: st.lists(FLOATS, min_size=24, max_size=24).map(lambda x: np.array([x] * rows))
    ),
    NAMED,
    NAMED,
    st.lists(st.builds(OffersAt, st.text(), WHOLE, WHOLE, WHOLE, WHOLE, FLOATS, NUMBERS), max_size=4).map(tuple),
    CURVES,
    st.lists(st.builds(Cohort, WHOLE, WHOLE, CURVES), max_size=3).map(tuple),
    st.lists(st.builds(Week, WHOLE, st.booleans(), FLOATS, FLOATS, NUMBERS), max_size=3).map(tuple),
)
REPLICATIONS = st.builds(
    Replication,
    st.builds(Task, st.just(1.0), st.just(3)),
    MEASURED,
    st.lists(st.builds(Account, st.text(), NUMBERS, NUMBERS), max_size=4),
    FLOATS,
)


def exactly(value: Any) -> Any:
    """A value with its type and its last bit, as text where it is a number; one NaN is as good as another."""
    if isinstance(value, np.generic):
        value = value.item()
    if isinstance(value, float):
        return f"float {value.hex()}"
    if isinstance(value, np.ndarray):
        return [str(value.dtype), value.shape, exactly(value.ravel().tolist())]
    if isinstance(value, dict):
        return {key: exactly(found) for key, found in value.items()}, list(value)
    if isinstance(value, list | tuple):
        return type(value), [exactly(found) for found in value]
    if hasattr(value, "__dict__"):
        return type(value), exactly(vars(value))
    return type(value), value


def back(replication: Replication) -> Replication:
    return unpacked(packed(replication), replication.task.strength, replication.task.replication)


@settings(max_examples=40, deadline=None)
@given(REPLICATIONS)
def test_whatever_is_kept_reads_back_to_the_same_bits(replication: Replication) -> None:
    assert exactly(back(replication)) == exactly(replication)


@pytest.mark.parametrize(("one", "other"), [(0.0, -0.0), (1.0, 1), (0.1, float(np.nextafter(0.1, 1.0))), (1, True)])
def test_control_what_differs_by_a_bit_or_a_type_is_told_apart(one: float, other: float) -> None:
    measured = Measured({"credits_per_hour": one}, {}, np.zeros((1, 24)), {})
    first = Replication(Task(1.0, 3), measured, [], 0.5)
    second = replace(first, measured=replace(measured, venue={"credits_per_hour": other}))
    assert exactly(back(first)) != exactly(back(second))


@pytest.mark.parametrize("cut", [1, 8, 40, 200])
def test_bytes_that_lack_their_end_are_no_replication(cut: int) -> None:
    measured = Measured({"credits_per_hour": 1.5, "suspicion": 0.25}, {}, np.zeros((1, 24)), {})
    with pytest.raises((ValueError, struct.error)):
        unpacked(packed(Replication(Task(1.0, 3), measured, [], 0.5))[:-cut], 1.0, 3)
