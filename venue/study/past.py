"""What lies behind a venue in one replication: how it stood on a day, and its take on the way there."""

from __future__ import annotations

import struct
from dataclasses import dataclass, field

from venue.floor.snapshot import Snapshot
from venue.scenario.scenario import Scenario

_HEAD = "<qqd"


@dataclass(frozen=True)
class Past:
    """A venue that has run.

    Attributes
    ----------
    replication
        Which one.
    day
        The first day that has not begun.
    takes
        Credits per open hour of each week so far.
    state
        The venue as it stood, packed.
    seconds
        Wall time that it took.
    """

    replication: int
    day: int
    takes: tuple[float, ...]
    state: bytes = field(repr=False)
    seconds: float

    def snapshot(self) -> Snapshot:
        """The venue as it stood."""
        return Snapshot.unpacked(self.state)

    def packed(self) -> bytes:
        """All of it as bytes."""
        head = struct.pack(_HEAD, self.day, len(self.takes), self.seconds)
        return head + struct.pack(f"<{len(self.takes)}d", *self.takes) + self.state

    @staticmethod
    def unpacked(kept: bytes, replication: int) -> Past:
        """The past that was packed.

        Raises
        ------
        ValueError, struct.error
            If these are not its bytes.
        """
        day, weeks, seconds = struct.unpack_from(_HEAD, kept)
        takes = struct.unpack_from(f"<{weeks}d", kept, struct.calcsize(_HEAD))
        return Past(replication, day, takes, kept[struct.calcsize(_HEAD) + 8 * weeks :], seconds)


def as_before(scenario: Scenario) -> Scenario:
    """A venue as it is in the time before: at the strength of that time, from its opening on."""
    study = scenario.study
    before = None if study.before is None else study.before.strength
    changed = {"before": None, "warm_up": 0, "strength": study.strength if before is None else before}
    return scenario.model_copy(update={"study": study.model_copy(update=changed), "changes": ()})
