"""Units: what people write becomes seconds, clock times and fractions, once, and is written back as people write it."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from venue import units


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("90 s", 90), ("90s", 90), ("2 min", 120), ("1.5 h", 5400), ("14 days", 14 * 86400), ("1 week", 604800),
        ("1 h 30 min", 5400), ("1min30s", 90), (".5 s", 0.5), ("5. s", 5), ("  2   MIN ", 120), ("0 s", 0),
        # In decimal: in binary this would be a hair less than a whole second.
        ("1.15 min", 69), ("0.7 min", 42), ("4.35 h", 15660), ("-3 s", -3),
    ],
)  # fmt: skip
def test_durations_people_write(text: str, seconds: float) -> None:
    assert units.seconds(text) == seconds


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (5, 'a duration needs its unit; write "5 s" or "5 min"'),
        (1.5, 'a duration needs its unit; write "1.5 s" or "1.5 min"'),
        ("5", 'a duration needs its unit; write "5 s" or "5 min"'),
        (-5, 'a duration needs its unit; write it like "90 s" or "2 min"'),
        ("5 parsecs", 'unknown unit of time "parsecs"; use s, min, h, days or weeks'),
        ("1,5 min", 'not a duration; write "1.5 min", with a point'),
        *[
            (value, 'not a duration; write it with its unit, like "90 s" or "2 min"')
            for value in ("", "five s", "5s 3", True, None, [5], math.nan, math.inf, 10**400, "9" * 2000 + " s")
        ],
    ],
)
def test_no_durations(value: object, words: str) -> None:
    with pytest.raises(ValueError) as caught:
        units.seconds(value)
    assert str(caught.value) == words


@pytest.mark.parametrize(
    ("text", "seconds"),
    [("10:00", 36000), ("9:05", 32700), (" 00:00 ", 0), ("25:00", 90000), ("36:00", 129600)],
)
def test_clock_times_people_write(text: str, seconds: float) -> None:
    assert units.clock(text) == seconds


@pytest.mark.parametrize("value", ["10", "10:60", "36:01", "40:00", "10:00:00", "ten", "-1:00", "", 10, None, True])
def test_no_clock_times(value: object) -> None:
    with pytest.raises(ValueError, match="time of day"):
        units.clock(value)


@pytest.mark.parametrize(
    ("value", "part"), [(0.45, 0.45), (1, 1.0), ("45 %", 0.45), ("45%", 0.45), ("2.5 pp", 0.025), ("-3 pp", -0.03)]
)
def test_chances_people_write(value: object, part: float) -> None:
    assert units.fraction(value) == units.shift(value) == part


@pytest.mark.parametrize("value", ["45", "half", "", "45 s", True, None, [0.5], math.nan, math.inf, 10**400])
def test_no_chances(value: object) -> None:
    with pytest.raises(ValueError, match='^not a chance; write it like 0.45 or "45 %"$'):
        units.fraction(value)
    with pytest.raises(ValueError, match='^not a change of chance; write it like 0.02 or "2 pp"$'):
        units.shift(value)


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (0, "0 s"), (90, "1.5 min"), (69, "69 s"), (75, "1.25 min"), (5400, "1.5 h"), (86400 * 9, "9 days"),
        (0.00001, "0.00001 s"), (2.5, "2.5 s"), (43200, "12 h"), (86400 * 36500, "36500 days"), (61, "61 s"),
    ],
)  # fmt: skip
def test_durations_are_shown_in_their_most_readable_unit(seconds: float, text: str) -> None:
    assert units.show_seconds(seconds) == text


@given(st.floats(min_value=0, max_value=1e12))
def test_a_shown_duration_reads_back_exactly(seconds: float) -> None:
    assert units.seconds(units.show_seconds(seconds)) == seconds


@given(st.integers(min_value=0, max_value=36 * 60))
def test_a_shown_clock_time_reads_back_exactly(minutes: int) -> None:
    assert units.clock(units.show_clock(minutes * 60.0)) == minutes * 60.0


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_a_plain_number_reads_back_exactly_and_has_no_exponent(value: float) -> None:
    text = units.plain(value)
    assert float(text) == value
    assert "e" not in text


def test_numbers_that_are_none() -> None:
    assert [units.finite(value) for value in (1, 2.5, True, "1", None, math.nan, -math.inf, 10**400)] == [
        1.0, 2.5, None, None, None, None, None, None,
    ]  # fmt: skip
    assert units.plain(-math.inf) == "-inf"
