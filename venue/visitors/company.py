"""The people who came together: one outing of a party, from the door to the last of them gone.

Friends look for each other on the floor, and when one goes home others may go as well. Whoever came alone has no
company. The party decides about another outing when all have left, so that friends come back together.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    from venue.visitors.person import Visit


class Leave(NamedTuple):
    """How one visit ended: when, why, and whether nothing was left to spend."""

    visit: Visit
    now: float
    reason: str
    empty: bool


@dataclass(eq=False)
class Company:
    """One outing of two to four people.

    Attributes
    ----------
    size
        How many came.
    same_side
        Whether they want to play on one side where they can, or against each other.
    inside
        Visits that have not ended.
    gone
        How the others ended, in that order.
    """

    size: int
    same_side: bool
    inside: list[Visit] = field(default_factory=list)
    gone: list[Leave] = field(default_factory=list)

    def friends_at(self, visit: Visit) -> dict[Any, int]:
        """Friends at each row of machines, playing or waiting."""
        found: dict[Any, int] = {}
        for other in self.inside:
            if other.at is not None and other is not visit:
                found[other.at] = found.get(other.at, 0) + 1
        return found

    def talk(self, share: float) -> None:
        """Those who are not busy at a machine of their own talk."""
        talk([visit for visit in self.inside if visit.at is None or visit.at.seats > 1], share)

    def say_goodbye(self, leave: Leave) -> bool:
        """One of them goes; those who want to go along are told. Returns whether nobody is left."""
        self.inside.remove(leave.visit)
        self.gone.append(leave)
        for other in self.inside:
            other.called_home = other.follows
        return len(self.gone) == self.size


def talk(visits: Sequence[Visit], share: float) -> None:
    """Each moves by `share` of the way towards their mean suspicion, which stays as it is."""
    if share and len(visits) > 1:
        mean = sum(visit.suspicion for visit in visits) / len(visits)
        for visit in visits:
            visit.suspicion += share * (mean - visit.suspicion)
