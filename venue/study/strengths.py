"""Catch-up strengths asked for: sound or refused."""

from __future__ import annotations

from collections.abc import Sequence
from numbers import Real

from venue.errors import InputError

# What the key `study.strength` is called for short.
STRENGTH = "strength"


def check_strengths(strengths: Sequence[float]) -> None:
    """Raise `InputError` unless there are strengths, each once and each between 0 and 100."""
    if not strengths:
        raise InputError("strengths: none given, at least 1 is needed; name some, like 0:2:0.25")
    if len(set(strengths)) != len(strengths):
        raise InputError(f"strengths: {', '.join(map(str, strengths))} names one twice; name each once")
    wrong = [value for value in strengths if not isinstance(value, Real) or not 0 <= value <= 100]
    if wrong:
        raise InputError(f"strengths: {wrong[0]} is out of bounds, must lie between 0 and 100; 1 is as designed")
