"""Units exist only at the edge: people write "2 min", "10:00" or "45 %"; inside, plain floats in one unit.

Durations become seconds, clock times seconds after midnight, chances fractions of one. Every function raises
`ValueError` with a message that says what was expected.
"""

from __future__ import annotations

import math
import re
from decimal import Decimal

from venue.errors import Fault, in_brief

SECOND = 1.0
MINUTE = 60.0
HOUR = 3600.0
DAY = 86400.0
WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")

DURATIONS = {
    "s": SECOND, "sec": SECOND, "second": SECOND, "seconds": SECOND,
    "min": MINUTE, "minute": MINUTE, "minutes": MINUTE,
    "h": HOUR, "hour": HOUR, "hours": HOUR,
    "d": DAY, "day": DAY, "days": DAY,
    "week": 7 * DAY, "weeks": 7 * DAY,
}  # fmt: skip
_QUANTITY = re.compile(r"\s*([-+]?(?:\d+(?:\.\d*)?|\.\d+))\s*([a-z%]+)\s*")
_CLOCK = re.compile(r"\s*(\d{1,2}):(\d{2})\s*")
_LONGEST_TEXT = 1000
_NO_DURATION = ("not a duration", 'write it with its unit, like "90 s" or "2 min"')


def finite(value: object) -> float | None:
    """A number as a float; None for anything else, for NaN and infinities, and for a number too large for a float."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    try:
        number = float(value)
    except OverflowError:
        return None
    return number if math.isfinite(number) else None


def seconds(value: object) -> float:
    """A duration such as "90 s", "2 min" or "1 h 30 min", in seconds."""
    if isinstance(value, str):
        return _duration(value)
    number = finite(value)
    if number is None:
        raise Fault(*_NO_DURATION)
    if not 0 <= number < 1e9:
        raise Fault("a duration needs its unit", 'write it like "90 s" or "2 min"')
    raise Fault("a duration needs its unit", f'write "{number:.15g} s" or "{number:.15g} min"')


def _duration(text: str) -> float:
    if len(text) > _LONGEST_TEXT:
        raise Fault(*_NO_DURATION)
    total = Decimal(0)
    rest = text.lower()
    while match := _QUANTITY.match(rest):
        if match[2] not in DURATIONS:
            raise Fault(f'unknown unit of time "{in_brief(match[2])}"', "use s, min, h, days or weeks")
        # In decimal, so that "1.15 min" is 69 s and not a hair less.
        total += Decimal(match[1]) * Decimal(DURATIONS[match[2]])
        rest = rest[match.end() :]
        if not rest:
            return float(total)
    if re.fullmatch(r"\s*\d+(\.\d+)?\s*", text):
        raise Fault(
            "a duration needs its unit", f'write "{in_brief(text.strip())} s" or "{in_brief(text.strip())} min"'
        )
    if re.search(r"\d,\d", text):
        raise Fault("not a duration", f'write "{in_brief(text.strip().replace(",", "."))}", with a point')
    raise Fault(*_NO_DURATION)


def clock(value: object) -> float:
    """A time of day such as "10:00", in seconds after midnight; up to "36:00" for hours past midnight."""
    match = _CLOCK.fullmatch(value) if isinstance(value, str) else None
    if match is None:
        found = f'"{in_brief(value)}" is ' if isinstance(value, str) else ""
        raise Fault(f"{found}not a time of day", 'write it like "10:00"')
    hours, minutes = int(match[1]), int(match[2])
    if hours > 36 or minutes > 59 or (hours == 36 and minutes):
        raise Fault(
            f'"{match[0].strip()}" is no time of day, must lie between "00:00" and "36:00"',
            '"25:00" is one in the morning after',
        )
    return hours * HOUR + minutes * MINUTE


def fraction(value: object) -> float:
    """A chance or share: 0.45 or "45 %", as a fraction of one."""
    return _part(value, "chance", '0.45 or "45 %"')


def shift(value: object) -> float:
    """A change of chance: 0.02 or "2 pp" (percentage points), as a fraction of one."""
    return _part(value, "change of chance", '0.02 or "2 pp"')


def _part(value: object, what: str, like: str) -> float:
    if isinstance(value, str):
        match = _QUANTITY.fullmatch(value.lower())
        if match is not None and match[2] in ("%", "pp"):
            return float(match[1]) / 100.0
        raise Fault(f"not a {what}", f"write it like {like}")
    number = finite(value)
    if number is None:
        raise Fault(f"not a {what}", f"write it like {like}")
    return number


def show_clock(value: float) -> str:
    """Seconds after midnight as "10:00"."""
    minutes = round(value / MINUTE)
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def show_seconds(value: float) -> str:
    """A duration in its most readable unit: "90 s", "2 min", "1.5 h", "14 days"; `seconds` reads it back exactly."""
    for unit, size in (("days", DAY), ("h", HOUR), ("min", MINUTE)):
        quarters = round(value / size * 4)
        # One day is 24 h.
        if value >= size and (unit, value) != ("days", DAY) and quarters < 1e9 and quarters * size / 4 == value:
            return f"{quarters / 4:.15g} {unit}"
    return f"{plain(value)} s"


def plain(value: float) -> str:
    """A number in full, without an exponent, that reads back as the same number: 0.00001, 1000000."""
    if not math.isfinite(value):
        return str(value)
    text = f"{Decimal(repr(float(value))):f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
