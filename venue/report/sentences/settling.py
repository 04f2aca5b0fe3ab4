"""Whether the take has settled within a run, and what to do where it has not."""

from __future__ import annotations

import shlex
from collections.abc import Sequence

from venue.report.quantities import shown
from venue.report.sentences.parts import Command, Quantity, Sentence
from venue.study.findings import (
    Settling,
)


def longer(days: int, warm_up: int, own_days: int) -> list[str]:
    """Options for a run of twice the days, with twice as many of them left out where the scenario's own days allow."""
    more = 2 * max(warm_up, 7)
    return ["--days", str(2 * days), *(["--set", f"study.warm_up={more}"] if more < own_days else [])]


def not_settled(found: Settling) -> Sentence:
    """A warning in few words where the take still moves, or may; nothing where it has settled, or nobody can say."""
    if found.state not in ("moving", "unclear"):
        return ()
    return (f"The take {'is' if found.state == 'moving' else 'may be'} still moving.",)


def how_unsettled(found: Settling) -> Sentence:
    """By how much, and what it means."""
    if found.state not in ("moving", "unclear") or found.first is None or found.last is None:
        return ()
    means = (
        "The figures are of a venue that has not settled; a longer run may give others."
        if found.state == "moving"
        else "That may be chance: these replications cannot tell."
    )
    first, last = found.first.estimate, found.last.estimate
    return (Quantity(shown(first), first.mean), " credits per open hour in the first week counted, ",
            Quantity(shown(last), last.mean), f" in the last. {means}")  # fmt: skip


def settled_title(found: Settling) -> Sentence:
    """Whether the take has settled, in one line."""
    if found.first is None or found.last is None:
        return ("Take by week",)
    first, last = found.first.estimate, found.last.estimate
    if found.state == "too short":
        return ("One replication cannot tell if the take has settled",)
    head = {"moving": "Take still moving", "unclear": "Take may still be moving", "settled": "Take settled"}
    return (f"{head[found.state]}: ", Quantity(shown(first), first.mean), " in the first week, ",
            Quantity(shown(last), last.mean), " in the last")  # fmt: skip


def run_longer(found: Settling, options: Sequence[str]) -> Sentence:
    """What to do about a take that has not settled; nothing where it has, or nobody can say."""
    return see_it_settled(options) if found.state in ("moving", "unclear") else ()


def see_it_settled(options: Sequence[str]) -> Sentence:
    """With which options the take settles."""
    return ("To see it settled: ", Command(shlex.join(options)), ".")
