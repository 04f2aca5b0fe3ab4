"""For how long after a change an answer holds, and whether what it brings still changes."""

from __future__ import annotations

from venue.report.quantities import half
from venue.report.sentences.parts import Part, Quantity, Sentence, listed
from venue.report.sentences.sweeps import Settings
from venue.study.findings import Changed, Drift
from venue.study.plain import Interval


def _amount(item: Interval) -> Quantity:
    return Quantity(half(item.estimate, "", "+"), item.mean)


def disagree(view: Settings) -> Sentence:
    """Which setting is best for how long, where the recommended one surely is not the best for all; said first."""
    parts: list[Part] = []
    unit = view.units.get(view.findings.aim, "")
    for item in view.findings.horizons:
        if not item.agrees and item.behind is not None:
            parts += ["; " if parts else "The answer depends on how long it is to hold: "]
            parts += [f"over the first {item.weeks} weeks ", view.named(item.best)]
            parts += [" brings more than the recommended, by ", _amount(item.behind), f" {unit}"]
    return (*parts, ".") if parts else ()


def agree(view: Settings) -> Sentence:
    """For how long the recommendation holds."""
    found = [str(item.weeks) for item in view.findings.horizons if item.agrees]
    if not found or view.findings.recommended is None:
        return ()
    return ("No other surely brings more over the first ", *listed(found), " weeks after the change.")


def drifting(view: Settings) -> Sentence:
    """A warning where the difference of some setting from the reference surely still changes; the one that moves most
    is named."""
    findings = view.findings
    if not findings.horizons:
        return ()
    moving = {
        place: item.change for place, item in enumerate(findings.drifts)
        if item is not None and item.state == "moving" and item.change is not None
    }  # fmt: skip
    if not moving:
        return ()
    most = max(moving, key=lambda place: abs(moving[place].mean))
    more = f" (and {len(moving) - 1} more)" if len(moving) > 1 else ""
    return ("The difference of ", view.named(most), more, " from ", view.named(findings.reference), " still changes",
            _by(findings.drifts[most]), ".")  # fmt: skip


def of_change(found: Changed) -> Sentence:
    """What a change brings over the first weeks after it, and whether that still changes."""
    if not found.over:
        return ()
    parts: list[Part] = ["Over the first "]
    for place, item in enumerate(found.over):
        parts += [", " if place else "", f"{item.weeks} weeks ", _amount(item.difference)]
    if found.drift is not None and found.drift.state == "moving":
        return (*parts, "; it still changes", _by(found.drift), ".")
    return (*parts, ".")


def _by(item: Drift | None) -> str:
    if item is None or item.change is None:
        return ""
    return f" ({half(item.change.estimate, '', '+')} over weeks {item.first} to {item.last})"
