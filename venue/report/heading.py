"""Words that tables and charts of every kind share."""

from __future__ import annotations

from venue.report.columns import short
from venue.scenario.load import Loaded
from venue.scenario.study import Study

LONGEST_NAME = 28
_NAME_WIDTH = 24
STRENGTH = "catch-up strength (0 off, 1 as designed)"


RESTRICTED = "changing chances without telling players may be restricted, above all where prizes or stakes are involved"
# The full caution stands by every full table of figures on spending, the short one by the answer alone.
CAUTION = (
    "Caution: the dial that earns can also hurt. The figures on empty wallets and the largest spenders stand for "
    f"people, minors among them. {RESTRICTED.capitalize()}; local law and licensed practice decide, not this model."
)
CAUTION_SHORT = (
    "Caution: what earns can hurt people, minors among them; local law and licensed practice decide, not this model."
)


def heading(loaded: Loaded, rest: str) -> str:
    """What stands above every result: the venue, what was done, what is switched off."""
    off = loaded.scenario.study.switches_off
    switched = f"; switched off: {', '.join(off)}" if off else ""
    return f"{loaded.scenario.venue.name}: {rest}{switched}"


def how(loaded: Loaded, replications: int) -> str:
    """Days, replications and seed in words."""
    study = loaded.scenario.study
    runs = "1 replication" if replications == 1 else f"{replications} replications"
    return f"{counted(study)}; {runs}; seed {study.seed}"


def counted(study: Study) -> str:
    """What time was run, and what of it is counted."""
    before = study.days_before
    left_out = f", the first {study.warm_up} left out" if study.warm_up or before == 0 else ""
    if before == 0:
        return f"{study.days} days{left_out}"
    how_long = "a time before, until it has settled," if before is None else f"{before} days before that,"
    return f"{study.days} days{left_out}, with {how_long} as it is today"


def note(loaded: Loaded, replications: int, what: str) -> str:
    """What stands under a chart: the place, what was run, and with more than one replication what the marks mean."""
    study = loaded.scenario.study
    runs = f"{replications} replications" if replications > 1 else "1 replication"
    what = f" {what}" if replications > 1 else ""
    name = short(loaded.scenario.venue.name, 2 * _NAME_WIDTH)
    return f"{name}: {runs} of {counted(study)}; seed {study.seed}.{what}"
