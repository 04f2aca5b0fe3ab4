"""One visit of a person, and the company of those who came together.

A visit has a wallet, a time to spend and a memory of what it was like. Friends look for each other in the hall. When
one goes home, others may go as well. A visitor who came alone has no company. The party decides about another outing
when all have left, so that friends come back together.
"""

from __future__ import annotations

import math
from array import array
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import chain
from typing import NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

from venue.streams import Streams
from venue.visitors.allowance import Allowance
from venue.visitors.person import Person

VISITS_PER_PERSON = 4096

# Places in a visit's row of draws, by purpose; a purpose that needs more goes on with a stream of its own.
_PLACES = {
    "traits": (0, 2),
    "home": (2, 5),
    "patience": (5, 11),
    "choice": (11, 20),
    "buy_in": (20, 50),
    "play": (50, 93),
    "party": (93, 95),
}
SKILL = 95
_ROW = 96


class Place(Protocol):
    """Where a visitor plays or waits: a row of machines with so many seats each."""

    seats: int


class Visit:
    """One stay at the venue. Times in seconds, amounts in credits.

    Draws are made when they are first needed: `tap` opens a source, which is then an endless iterator of uniforms under
    the name of its purpose.

    Attributes
    ----------
    key
        Number of the visit's own streams.
    company
        Who came along, if anybody; `follows` says whether the visitor goes home when one of them does, `called_home`
        that one has gone.
    at
        The row of machines where the visitor plays or waits.
    brought
        What the visitor is prepared to spend, in single credits; the till makes the wallet's credits of it.
    allowance
        What limits hold back of the wallet, where there are any.
    refunded
        Credits paid and given back.
    """

    __slots__ = (
        "_row", "_streams", "allowance", "arrived", "at", "brought", "buy_in", "called_home", "chance_met", "choice",
        "closeness_met", "company", "credits", "finished", "follows", "gave_up", "has_promised", "key", "last_no",
        "lines", "moved", "number", "offers", "patience", "person", "play", "plays", "refunded", "rung", "stay",
        "suspicion", "taken", "waited", "wallet", "wins",
    )  # fmt: skip

    def __init__(self, person: Person, arrived: float, streams: Streams) -> None:
        self.person = person
        self.arrived = arrived
        self.number = person.visits
        self.key = person.number * VISITS_PER_PERSON + self.number
        self._streams = streams
        self._row: array[float] | None = None
        self.choice: Iterator[float] | None = None
        self.buy_in: Iterator[float] | None = None
        self.play: Iterator[float] | None = None
        self.patience: Iterator[float] | None = None
        self.brought = self.wallet = self.stay = math.inf
        self.rung = self.credits = self.plays = self.finished = self.offers = self.taken = self.lines = self.gave_up = 0
        self.moved = self.refunded = 0
        self.allowance: Allowance | None = None
        self.suspicion = self.wins = self.waited = self.chance_met = self.closeness_met = 0.0
        self.last_no = ""
        self.has_promised = self.follows = self.called_home = False
        self.company: Company | None = None
        self.at: Place | None = None

    def tap(self, name: str) -> Iterator[float]:
        """Open the source of draws for a purpose: `choice`, `buy_in`, `play` or `patience`."""
        begin, end = _PLACES[name]
        row = self._row or self._begin_row()
        source = chain(row[begin:end], chain.from_iterable(self._streams.blocks(name, self.key)))
        setattr(self, name, source)
        return source

    def falls_short(self, price: int, now: float) -> bool:
        """Whether a wallet that does not cover a price still does not when limits have released what they may.

        `last_no` then says why.
        """
        allowance = self.allowance
        if allowance is None:
            self.last_no = "wallet empty"
            return True
        self.wallet += allowance.release(now - self.arrived)
        if self.wallet >= price:
            return False
        self.last_no = "limit reached" if allowance.holds_back(self.wallet, price) else "wallet empty"
        return True

    def draws(self, name: str) -> array[float]:
        """The few draws of a purpose that needs no source."""
        begin, end = _PLACES[name]
        return (self._row or self._begin_row())[begin:end]

    def _begin_row(self) -> array[float]:
        if self.number == 0:
            row = first_row(self._streams, self.person.number)
        else:
            row = self._streams.row("visit", self.key, _ROW)
        self._row = row
        return row


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

    def friends_at(self, visit: Visit) -> dict[Place, int]:
        """Friends at each row of machines, playing or waiting."""
        found: dict[Place, int] = {}
        for other in self.inside:
            if other.at is not None and other is not visit:
                found[other.at] = found.get(other.at, 0) + 1
        return found

    def talk(self, share: float) -> None:
        """Those who are not busy at a machine of their own talk."""
        talk([visit for visit in self.inside if visit.at is None or visit.at.seats > 1], share)

    def say_goodbye(self, leave: Leave) -> bool:
        """One of them goes; those who want to go along are called. Returns whether nobody is left."""
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


def first_draws(
    streams: Streams, persons: Sequence[int], visits: Sequence[int]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Of visits that are over, the uniforms that made the wallet and the time to spend, and the one that decides about
    coming again."""
    begin, home = _PLACES["traits"][0], _PLACES["home"][0]
    places = (begin, begin + 1, home)
    found = np.empty((len(persons), len(places)))
    for index, (person, number) in enumerate(zip(persons, visits, strict=True)):
        row = streams.row("visit", person * VISITS_PER_PERSON + number, _ROW) if number else first_row(streams, person)
        found[index] = [row[place] for place in places]
    wallet, stay, whether = found.T
    return wallet, stay, whether


def first_row(streams: Streams, person: int) -> array[float]:
    """The row of draws of a person's first visit; their skill has a place in it."""
    return streams.row("first visit", person, _ROW, shared=True)
