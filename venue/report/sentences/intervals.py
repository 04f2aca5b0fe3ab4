"""How an interval is explained where it first stands, and the figures that it belongs to."""

from __future__ import annotations

from venue.report.quantities import span
from venue.study.intervals import Estimate

WHERE_MEAN = "where the true mean likely lies"
MEAN = f"95 % interval ({WHERE_MEAN})"
DIFFERENCE = "95 % intervals (where the true difference likely lies)"


def of_mean(item: Estimate, unit: str = "", sign: str = "") -> str:
    """The interval in words; why there is none where there is none."""
    between = span(item, unit, sign)
    if between:
        return f"95 % interval (likely true range): {between}"
    return "no interval: one replication" if item.replications == 1 else "the same in every replication"
