"""How one machine wears: countdowns to its next fault and to its next jammed coin.

A machine fails after so many plays, so much time in play, or so much open time, whichever comes first. All three are
drawn anew when it works again. Since neither a geometric number of plays nor an exponential time remembers anything,
a cause that did not strike loses nothing by being drawn anew.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from venue.floor.hours_clock import HoursClock
from venue.scenario.faults import Faults
from venue.streams import Streams


class Wear:
    """The state of wear of one machine.

    Parameters
    ----------
    faults
        How often it fails.
    streams
        Of the replication; the draws are the machine's own.
    number
        Number of the machine among all of the venue.
    clock
        The venue's opening hours as a clock.
    now
        From when it wears, in seconds.

    Attributes
    ----------
    fails_by_clock
        When it fails for having been switched on so long, in seconds; infinite if it does not.
    """

    __slots__ = (
        "_began", "_clock", "_clock_from", "_clock_left", "_draws", "_faults", "_jam_draws", "_jams_drawn", "_part",
        "_plays_left", "_renewed", "_to_jam", "_use_left", "fails_by_clock",
    )  # fmt: skip

    def __init__(
        self, faults: Faults, streams: Streams, number: int, clock: HoursClock, now: float = 0.0
    ) -> None:  # fmt: skip
        self._faults = faults
        self._clock = clock
        self._draws = streams.uniforms("fault", number)
        self._jam_draws = streams.uniforms("jam", number)
        self._began = 0.0
        self._renewed = self._jams_drawn = 0
        self.renew(now)
        self._to_jam = self._until_jam()

    def renew(self, now: float) -> None:
        """Draw the next fault for a machine that works as it should from now on."""
        faults = self._faults
        plays, use, clock, part = (next(self._draws) for _ in range(4))
        self._renewed += 1
        self._plays_left = math.inf if faults.mean_plays is None else 1 + until(plays, 1.0 / faults.mean_plays)
        self._use_left = math.inf if faults.mean_use is None else -faults.mean_use * math.log(1.0 - use)
        self._clock_from = now
        self._clock_left = math.inf if faults.mean_time is None else -faults.mean_time * math.log(1.0 - clock)
        self._follow_clock()
        self._part = part

    def _follow_clock(self) -> None:
        left = self._clock_left
        self.fails_by_clock = math.inf if left == math.inf else self._clock.after(self._clock_from, left)

    def state(self) -> list[float]:
        """Where it stands, as plain numbers that `resume` takes."""
        return [
            self._renewed, self._jams_drawn, self._plays_left, self._use_left, self._clock_from, self._clock_left,
            self._part, self._to_jam,
        ]  # fmt: skip

    def resume(self, state: Sequence[float]) -> None:
        """Go on from where another stood that had the same faults: it has drawn what that one had drawn."""
        renewed, jams_drawn = int(state[0]), int(state[1])
        self._skip(self._draws, 4 * (renewed - self._renewed))
        self._skip(self._jam_draws, jams_drawn - self._jams_drawn)
        self._renewed, self._jams_drawn = renewed, jams_drawn
        self._plays_left, self._use_left, self._clock_from, self._clock_left, self._part, self._to_jam = state[2:]
        self._follow_clock()

    @staticmethod
    def _skip(draws: Iterator[float], count: int) -> None:
        for _ in range(count):
            next(draws)

    def begin(self, now: float, length: float) -> float:
        """A play begins; when the machine fails if it is in play until then, in seconds.

        Parameters
        ----------
        length
            How long the first period takes: a machine that fails by plays does so within it, at any moment alike.
        """
        self._began = now
        self._plays_left -= 1
        fails_at = now + self._use_left
        if fails_at > self.fails_by_clock:
            fails_at = self.fails_by_clock
        return fails_at if self._plays_left > 0 else min(fails_at, now + self._part * length)

    def end(self, now: float) -> None:
        """The play is over."""
        self._use_left -= now - self._began

    def jams(self, buy_ins: int) -> Sequence[int]:
        """Which of the next buy-ins jam the coin slot, by their places; one that jams is tried again and may jam again.

        Those that went through are the buy-ins counted.
        """
        if self._to_jam >= buy_ins:
            self._to_jam -= buy_ins
            return ()
        found: list[int] = []
        through = 0
        while self._to_jam < buy_ins - through:
            through += int(self._to_jam)
            found.append(through)
            self._to_jam = self._until_jam()
        self._to_jam -= buy_ins - through
        return found

    def _until_jam(self) -> float:
        chance = self._faults.jam
        if not chance:
            return math.inf
        self._jams_drawn += 1
        return until(next(self._jam_draws), chance)


def until(uniform: float, chance: float) -> float:
    """Trials before the first success, each with the same chance: geometric, from a uniform on [0, 1)."""
    return 0.0 if chance >= 1.0 else float(math.floor(math.log1p(-uniform) / math.log1p(-chance)))
