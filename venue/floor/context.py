"""What all parts of a floor share: its clock, its ledger, and the habits of the people who come."""

from __future__ import annotations

import math

import simpy

from venue.floor.ledger import Ledger
from venue.scenario.people import People
from venue.streams import Streams
from venue.visitors.traits import Traits
from venue.visitors.visit import Visit


class Habits:
    """What holds for all people of a scenario, ready for the floor.

    Attributes
    ----------
    traits
        What each person is and carries.
    notice, notice_given
        Suspicion for each noticeable score conceded, and for each of one's own in the last period of a contest won.
    talk
        Part of the gap to a party's mean suspicion that closes when its people talk.
    rest_length
        How long a rest lasts, in seconds.
    prior_belief
        Chance to win that people believe in who have never played a title.
    """

    __slots__ = ("_patience", "notice", "notice_given", "prior_belief", "rest_length", "talk", "traits")

    def __init__(self, people: People, streams: Streams) -> None:
        self.traits = Traits(people, streams)
        self.notice = people.suspicion.notice
        self.notice_given = people.suspicion.notice * people.suspicion.given_win
        self.talk = people.suspicion.shared
        self.rest_length = people.choice.rest_length
        self.prior_belief = people.belief.wins / (people.belief.wins + people.belief.losses)
        self._patience = people.patience

    def patience(self, visit: Visit) -> float | None:
        """How long a visitor will wait this time, in seconds; None for ever."""
        patience = self._patience
        if patience.off:
            return None
        if patience.varies == "fixed":
            return patience.mean
        return -patience.mean * math.log(1.0 - next(visit.patience or visit.tap("patience")))


class Context:
    """The clock, the ledger and the habits of one run.

    Attributes
    ----------
    env
        SimPy's environment; `env.now` is the time, in seconds from the start of the run.
    closing
        When the venue closes next, or closed last, in seconds from the start of the run.
    keeps_offers
        Whether each offer is kept as a row.
    """

    __slots__ = ("closing", "env", "habits", "keeps_offers", "ledger")

    def __init__(self, habits: Habits, ledger: Ledger, now: float = 0.0) -> None:
        self.env = simpy.Environment(now)
        self.closing = now
        self.habits = habits
        self.ledger = ledger
        self.keeps_offers = ledger.offers.records is not None
