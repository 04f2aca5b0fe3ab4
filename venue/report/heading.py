"""Words that tables and charts of every kind share."""

from __future__ import annotations

from venue.report.columns import paragraph, short
from venue.scenario.load import Loaded

LONGEST_NAME = 28
_NAME_WIDTH = 24
STRENGTH = "catch-up strength (0 off, 1 as designed)"


def heading(loaded: Loaded, rest: str, width: int) -> str:
    """What stands above every result: the venue, what was done, what is switched off."""
    off = loaded.scenario.study.switches_off
    switched = f"; switched off: {', '.join(off)}" if off else ""
    return paragraph(f"{loaded.scenario.venue.name}: {rest}{switched}", width)


def note(loaded: Loaded, replications: int, what: str) -> str:
    """What stands under a chart: the place, what was run, and with more than one replication what the marks mean."""
    study = loaded.scenario.study
    runs = f"{replications} replications" if replications > 1 else "1 replication"
    what = f" {what}" if replications > 1 else ""
    name = short(loaded.scenario.venue.name, 2 * _NAME_WIDTH)
    return f"{name}: {runs} of {study.days} days, the first {study.warm_up} left out; seed {study.seed}.{what}"
