"""Units exist only at the edge: people write "2 min", "10:00" or "45 %"; inside, plain floats in one unit.

Durations become seconds, clock times seconds after midnight, chances fractions of one. Every function raises
`ValueError` with a message that says what was expected.
"""

from __future__ import annotations

import re

SECOND = 1.0
MINUTE = 60.0
HOUR = 3600.0
DAY = 86400.0
WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")

_DURATIONS = {
    "s": SECOND, "sec": SECOND, "second": SECOND, "seconds": SECOND,
    "min": MINUTE, "minute": MINUTE, "minutes": MINUTE,
    "h": HOUR, "hour": HOUR, "hours": HOUR,
    "d": DAY, "day": DAY, "days": DAY,
    "week": 7 * DAY, "weeks": 7 * DAY,
}  # fmt: skip
_QUANTITY = re.compile(r"\s*([-+]?\d+(?:\.\d+)?)\s*([a-z%]+)\s*")
_CLOCK = re.compile(r"\s*(\d{1,2}):(\d{2})\s*")


def seconds(value: object) -> float:
    """A duration such as "90 s", "2 min" or "1.5 h", in seconds."""
    if isinstance(value, str):
        total = 0.0
        rest = value.lower()
        while match := _QUANTITY.match(rest):
            if match[2] not in _DURATIONS:
                raise ValueError(f'unknown unit of time "{match[2]}"; use s, min, h, days or weeks')
            total += float(match[1]) * _DURATIONS[match[2]]
            rest = rest[match.end() :]
            if not rest:
                return total
        raise ValueError('not a duration; write it with its unit, like "90 s" or "2 min"')
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueError('not a duration; write it with its unit, like "90 s" or "2 min"')
    raise ValueError(f'a duration needs its unit; write "{value:g} s" or "{value:g} min"')


def clock(value: object) -> float:
    """A time of day such as "10:00", in seconds after midnight; up to "36:00" for hours past midnight."""
    match = _CLOCK.fullmatch(value) if isinstance(value, str) else None
    if match is None:
        raise ValueError('not a time of day; write it like "10:00"')
    hours, minutes = int(match[1]), int(match[2])
    if hours > 36 or minutes > 59 or (hours == 36 and minutes):
        raise ValueError('a time of day lies between "00:00" and "36:00" ("25:00" is one in the morning after)')
    return hours * HOUR + minutes * MINUTE


def fraction(value: object) -> float:
    """A chance or share: 0.45 or "45 %", as a fraction of one. A change of chance may be written "2 pp"."""
    if isinstance(value, str):
        match = _QUANTITY.fullmatch(value.lower())
        if match is None or match[2] not in ("%", "pp"):
            raise ValueError('not a chance; write it like 0.45 or "45 %"')
        return float(match[1]) / 100.0
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueError('not a chance; write it like 0.45 or "45 %"')
    return float(value)


def show_clock(value: float) -> str:
    """Seconds after midnight as "10:00"."""
    minutes = round(value / MINUTE)
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def show_seconds(value: float) -> str:
    """A duration in its most readable unit: "90 s", "2 min", "1.5 h", "14 days"."""
    for unit, size in (("days", DAY), ("h", HOUR), ("min", MINUTE)):
        if value >= size and abs(value / size * 4 - round(value / size * 4)) < 1e-9:
            return f"{value / size:.15g} {unit}"
    return f"{value:.15g} s"
