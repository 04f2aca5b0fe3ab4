"""A person who may come more than once, and one visit of theirs.

A person carries skill, practice, beliefs and suspicion from visit to visit; a visit has a wallet, a time to spend and
a memory of what it was like.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from statistics import NormalDist

from venue.players.perception import belief_score
from venue.scenario.people import People
from venue.streams import Streams

_inverse_normal = NormalDist().inv_cdf
# The least and greatest uniform whose normal quantile is taken.
_LEAST = 1e-15
VISITS_PER_PERSON = 4096

# Places in a visit's block of draws, by purpose; a purpose that needs more goes on with a stream of its own.
_TRAITS, _HOME, _CHOICE, _BUY_IN, _BLOCK = 2, 5, 15, 50, 96


class Record:
    """What a person has seen of one title, and what follows from it until the next contest.

    Attributes
    ----------
    wins, losses
        The Beta belief: prior and finished contests.
    contests
        Contests finished.
    belief
        Mean of the Beta belief: the chance to win that the person believes in.
    score
        `belief_score` of the belief.
    experience
        Weight of the experienced reading of the scoreboard.
    skill
        Skill at the title in log-odds, practice included.
    """

    __slots__ = ("belief", "contests", "experience", "losses", "score", "skill", "wins")

    def __init__(self, wins: float, losses: float, skill: float) -> None:
        self.wins = wins
        self.losses = losses
        self.contests = 0
        self.belief = belief = wins / (wins + losses)
        self.score = belief_score(belief)
        self.experience = 0.0
        self.skill = skill


class Person:
    """Somebody who may come more than once.

    Attributes
    ----------
    number
        Order of first arrival; the key of the person's random streams.
    visits
        Visits begun so far.
    records
        What they have seen of each title, by its place in the scenario.
    suspicion, suspicion_at
        Level of suspicion, and when (in seconds) it was that high; it fades from there.
    """

    __slots__ = ("number", "records", "skill", "suspicion", "suspicion_at", "visits")

    def __init__(self, number: int) -> None:
        self.number = number
        self.visits = 0
        self.skill: float | None = None
        self.records: dict[int, Record] = {}
        self.suspicion = 0.0
        self.suspicion_at = 0.0


class Visit:
    """One stay at the venue. Times in seconds, amounts in credits."""

    __slots__ = (
        "arrived", "buy_in", "chance_met", "choice", "closeness_met", "credits", "finished", "gave_up", "home", "key",
        "last_no", "lines", "offers", "patience", "person", "play", "plays", "stay", "suspicion", "taken", "traits",
        "waited", "wallet", "wins",
    )  # fmt: skip

    def __init__(self, person: Person, arrived: float, streams: Streams) -> None:
        self.person = person
        self.arrived = arrived
        self.key = key = person.number * VISITS_PER_PERSON + person.visits
        block = streams.block("visit", key, _BLOCK)
        self.traits = block[:_TRAITS]
        self.home = block[_TRAITS:_HOME]
        self.choice = streams.uniforms("choice", key, block[_HOME:_CHOICE])
        self.buy_in = streams.uniforms("buy-in", key, block[_CHOICE:_BUY_IN])
        self.play = streams.uniforms("play", key, block[_BUY_IN:])
        self.patience: Iterator[float] | None = None
        self.wallet = math.inf
        self.stay = math.inf
        self.suspicion = 0.0
        self.credits = self.plays = self.finished = self.offers = self.taken = self.lines = self.gave_up = 0
        self.wins = self.waited = self.chance_met = self.closeness_met = 0.0
        self.last_no = ""


class Traits:
    """Draws what people are and carry, each from a stream of the person's or visit's own."""

    def __init__(self, people: People, streams: Streams) -> None:
        self._people = people
        self._streams = streams
        self._prior = people.belief.wins, people.belief.losses
        self._half_life = people.belief.learning_half_life
        self._close_loss = people.belief.close_loss
        self._practice = people.skill.practice
        self._limit = people.skill.practice_limit
        self._fade = math.log(2.0) / people.suspicion.half_life
        self._nothing_to_draw = people.wallet.off and people.stay.off

    def begin_visit(self, person: Person, now: float) -> Visit:
        """A new visit of a person, with wallet, time to spend, and the suspicion that is left from before."""
        visit = Visit(person, now, self._streams)
        person.visits += 1
        if person.suspicion:
            visit.suspicion = person.suspicion * math.exp(-self._fade * (now - person.suspicion_at))
        if self._nothing_to_draw:
            return visit
        wallet, stay = self._people.wallet, self._people.stay
        if not wallet.off:
            visit.wallet = math.floor(wallet.median * math.exp(wallet.spread * normal(visit.traits[0])) + 0.5)
        if not stay.off:
            visit.stay = stay.median * math.exp(stay.spread * normal(visit.traits[1]))
        return visit

    def record(self, person: Person, title: int) -> Record:
        """What a person has seen of a title; the prior if nothing."""
        found = person.records.get(title)
        if found is None:
            found = person.records[title] = Record(*self._prior, self.skill(person))
        return found

    def skill(self, person: Person) -> float:
        """Skill in log-odds before practice."""
        if person.skill is None:
            draw = normal(next(self._streams.uniforms("skill", person.number)))
            person.skill = self._people.skill.mean + self._people.skill.sd * draw
        return person.skill

    def learn(self, person: Person, record: Record, result: float, close: bool) -> None:
        """A finished contest moves belief and practice: a win 1, a loss 0, level one half, a close loss as stated."""
        worth = self._close_loss if close and result == 0.0 else result
        record.wins += worth
        record.losses += 1.0 - worth
        record.contests = contests = record.contests + 1
        record.belief = belief = record.wins / (record.wins + record.losses)
        record.score = belief_score(belief)
        record.experience = contests / (contests + self._half_life)
        record.skill = self.skill(person) + min(self._limit, self._practice * contests)


def normal(uniform: float) -> float:
    """Standard normal quantile of a uniform."""
    return _inverse_normal(min(max(uniform, _LEAST), 1.0 - _LEAST))
