"""What one scenario changes against the first."""

from __future__ import annotations

import math
from collections.abc import Mapping

from venue.report.columns import short
from venue.report.quantities import difference, half, scale_of, written
from venue.report.sentences.parts import NO_SURE_CHANGE, Name, Quantity, Sentence, listed
from venue.study.findings import (
    Changed,
)
from venue.study.floor_records import CompareRecord, Difference
from venue.study.intervals import Estimate
from venue.study.records import Record
from venue.study.registry import MEASURES, TAKE

_NAME = 64
MAY_BE_CHANCE, THE_SAME = "may be chance", "the same"

Rows = Mapping[str, tuple[Estimate, float]]
"""By measure what changes, and the same as a share of the first scenario's (NaN where that is nil)."""


def change(found: Changed, base: str, rows: Rows) -> Sentence:
    """One change against the first scenario in one sentence, in the words of the trade."""
    who: Sentence = (Name(short(found.name, _NAME)), " against ", Name(short(base, _NAME)), ": ")
    if TAKE not in rows:
        return (*who, "the take is not known.")
    take, share = rows[TAKE]
    if found.take == "same":
        return (*who, "the take stays the same", *_also(found, rows), ".")
    if found.take in ("more", "less"):
        up = found.take == "more"
        amount = Quantity(half(take if up else take.turned), take.mean)
        part = "" if math.isnan(share) else f" ({written(100 * abs(share), 1)} %)"
        way = "rises" if up else "falls"
        return (*who, f"the take {way} by ", amount, f" credits per open hour{part}", *_also(found, rows), ".")
    amount = Quantity(half(take, "", "+"), take.mean)
    part = "" if math.isnan(share) else f" ({written(100 * share, 1, '+')} %)"
    if found.take == "unknown":
        told: Sentence = ("the take changes by ", amount, f"{part}; one replication cannot say how sure that is")
    else:
        told = (f"{NO_SURE_CHANGE} of the take, ", amount, f" credits per open hour{part}")
    return (*who, *told, *_also(found, rows), ".")


def of_record(record: Record) -> list[tuple[Changed, Rows]]:
    """The findings of a comparison with what they are made from; nothing for any other record."""
    if not isinstance(record, CompareRecord):
        return []
    return [
        (found, {row.measure: (row.estimate, row.change)
                 for row in item.differences})
        for found, item in zip(record.findings.changes, record.comparisons, strict=True)
    ]  # fmt: skip


def _also(found: Changed, rows: Rows) -> Sentence:
    """What else surely changes: the most important measure, and how many there are."""
    others = [name for name in found.by_importance if name != TAKE]
    if not others:
        return () if found.take == "unknown" else ("; nothing else surely changes",)
    first = others[0]
    more = " surely changes"
    if len(others) > 1:
        more = f", and {len(others) - 1} other measure{'s surely change' if len(others) > 2 else ' surely changes'}"
    return (f"; {_moved(first, rows)}{more}",)


def _moved(measure: str, rows: Rows) -> str:
    """`close finishes −9.5 in a hundred`, or in percent of what it was."""
    item, share = rows[measure]
    registered = MEASURES[measure]
    if registered.is_share:
        return f"{registered.label} {written(100 * item.mean, 1, '+')} in a hundred"
    return f"{registered.label} " + (half(item, "", "+") if math.isnan(share) else f"{written(100 * share, 1, '+')} %")


def change_title(found: Changed, rows: Rows) -> Sentence:
    """How many measures surely differ, in one line."""
    name, sure = Name(short(found.name, 30)), len(found.by_importance)
    if not sure:
        return (name, ": no measure surely differs")
    return (name, f": {sure} of {len(rows)} measures surely {'differs' if sure == 1 else 'differ'}")


def difference_of(name: str, row: Difference) -> Sentence:
    """One measure's difference in a scenario, and whether it may be chance."""
    scale, _ = scale_of(row.unit)
    unit = "" if scale != 1 else f" {row.unit}"
    if row.low == row.high == 0.0:
        return (Name(name), f": {MEASURES[row.measure].meaning}: {THE_SAME}")
    sure = "" if row.told_apart else f" ({NO_SURE_CHANGE})"
    return (
        Name(name),
        f": {MEASURES[row.measure].meaning} {difference(row.estimate, row.unit)}{unit}{sure}",
    )


def not_settled(record: CompareRecord) -> Sentence:
    """In which scenarios the take had not settled, or may not have; nothing where it had in all."""
    found = record.findings
    states = [(record.scenarios[0].name, found.settled), *((item.name, item.settled) for item in found.changes)]
    moving, unclear = (
        listed([Name(short(name, _NAME)) for name, settled in states if settled.state == state])
        for state in ("moving", "unclear")
    )
    if moving:
        rest: Sentence = ("; it may be in ", *unclear) if unclear else ()
        return ("The take is still moving in ", *moving, *rest, ". Longer runs may differ.")
    return ("The take may be still moving in ", *unclear, ". Longer runs may differ.") if unclear else ()
