"""Words that tables and charts of every kind share."""

from __future__ import annotations

from venue.report.columns import paragraph
from venue.scenario.load import Loaded

LONGEST_NAME = 28
STRENGTH = "catch-up strength (0 off, 1 as designed)"


def heading(loaded: Loaded, rest: str, width: int) -> str:
    """What stands above every result: the venue, what was done, what is switched off."""
    off = loaded.scenario.study.switches_off
    switched = f"; switched off: {', '.join(off)}" if off else ""
    return paragraph(f"{loaded.scenario.venue.name}: {rest}{switched}", width)
