"""A person who may come more than once, and one visit of theirs.

A person carries skill, practice, beliefs and suspicion from visit to visit; a visit has a wallet, a time to spend and
a memory of what it was like.
"""

from __future__ import annotations

import math
from array import array
from collections.abc import Iterator, Sequence
from itertools import chain
from statistics import NormalDist
from typing import Any

from venue.scenario.people import People
from venue.streams import Streams
from venue.visitors.company import Company
from venue.visitors.perception import belief_score, weighed

_inverse_normal = NormalDist().inv_cdf
# The least and greatest uniform whose normal quantile is taken.
_LEAST = 1e-15
_MOST = 1.0 - _LEAST
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
_SKILL = 95
_ROW = 96


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
    weight
        The belief as decisions weigh it.
    score
        `belief_score` of the belief.
    experience
        Weight of the experienced reading of the scoreboard.
    talent, skill
        Skill at the title in log-odds, without and with practice.
    """

    __slots__ = ("belief", "contests", "experience", "losses", "score", "skill", "talent", "weight", "wins")

    def __init__(self, wins: float, losses: float, skill: float, weighting: float = 1.0) -> None:
        self.wins = wins
        self.losses = losses
        self.contests = 0
        self.belief = belief = wins / (wins + losses)
        self.weight = weighed(belief, weighting)
        self.score = belief_score(belief)
        self.experience = 0.0
        self.talent = self.skill = skill


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
        self.allowance: Any = None
        self.suspicion = self.wins = self.waited = self.chance_met = self.closeness_met = 0.0
        self.last_no = ""
        self.has_promised = self.follows = self.called_home = False
        self.company: Company | None = None
        self.at: Any = None

    def tap(self, name: str) -> Iterator[float]:
        """Open the source of draws for a purpose: `choice`, `buy_in`, `play` or `patience`."""
        begin, end = _PLACES[name]
        row = self._row or self._begin_row()
        source = chain(row[begin:end], chain.from_iterable(self._streams.blocks(name, self.key)))
        setattr(self, name, source)
        return source

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


def first_row(streams: Streams, person: int) -> array[float]:
    """The row of draws of a person's first visit; their skill has a place in it."""
    return streams.row("first visit", person, _ROW, shared=True)


class Traits:
    """Draws what people are and carry, each from a stream of the person's or visit's own."""

    def __init__(self, people: People, streams: Streams) -> None:
        self._people = people
        self._streams = streams
        self._prior = people.belief.wins, people.belief.losses
        self._half_life = people.belief.learning_half_life
        self._close_loss = people.belief.close_loss
        self._weighting = people.belief.weighting
        self._practice = people.skill.practice
        self._limit = people.skill.practice_limit
        self._fade = math.log(2.0) / people.suspicion.half_life
        wallet, stay = people.wallet, people.stay
        # Median and spread of what is drawn at the door; None where it is switched off.
        self._wallet = None if wallet.off else (wallet.median, wallet.spread)
        self._stay = None if stay.off else (stay.median, stay.spread)
        self._draws = self._wallet is not None or (self._stay is not None and stay.spread > 0.0)

    def begin_visit(self, person: Person, now: float) -> Visit:
        """A new visit of a person, with wallet, time to spend, and the suspicion that is left from before."""
        visit = Visit(person, now, self._streams)
        person.visits += 1
        if person.suspicion:
            visit.suspicion = person.suspicion * math.exp(-self._fade * (now - person.suspicion_at))
        if self._draws:
            wallet_draw, stay_draw = visit.draws("traits")
            visit.wallet = math.floor(_lognormal(self._wallet, wallet_draw) + 0.5) if self._wallet else math.inf
            visit.stay = _lognormal(self._stay, stay_draw) if self._stay else math.inf
        elif self._stay:
            visit.stay = self._stay[0]
        return visit

    def set_out(self, party: Sequence[Person], now: float) -> list[Visit]:
        """The visits of people who come together."""
        if len(party) == 1:
            return [self.begin_visit(party[0], now)]
        visits = [self.begin_visit(person, now) for person in party]
        tastes = self._people.party
        company = Company(len(visits), visits[0].draws("party")[0] < tastes.same_side, visits[:])
        for visit in visits:
            visit.company = company
            visit.follows = visit.draws("party")[1] < tastes.leave_together
        return visits

    def meet(self, person: Person, title: int) -> Record:
        """What a person takes to a title that is new to them: the prior."""
        found = person.records[title] = Record(*self._prior, self.skill(person), self._weighting)
        return found

    def skill(self, person: Person) -> float:
        """Skill in log-odds before practice."""
        if person.skill is None:
            draw = normal(first_row(self._streams, person.number)[_SKILL])
            person.skill = self._people.skill.mean + self._people.skill.sd * draw
        return person.skill

    def learn(self, record: Record, result: float, close: bool) -> None:
        """A finished contest moves belief and practice: a win 1, a loss 0, level one half, a close loss as stated."""
        worth = self._close_loss if close and result == 0.0 else result
        record.wins = wins = record.wins + worth
        record.losses = losses = record.losses + (1.0 - worth)
        record.contests = contests = record.contests + 1
        record.belief = belief = wins / (wins + losses)
        record.weight = belief if self._weighting == 1.0 else weighed(belief, self._weighting)
        record.score = belief_score(belief)
        record.experience = contests / (contests + self._half_life)
        practice = self._practice * contests
        record.skill = record.talent + (practice if practice < self._limit else self._limit)


def _lognormal(scale: tuple[float, float], uniform: float) -> float:
    median, spread = scale
    return median * math.exp(spread * normal(uniform))


def normal(uniform: float) -> float:
    """Standard normal quantile of a uniform."""
    if uniform < _LEAST:
        uniform = _LEAST
    elif uniform > _MOST:
        uniform = _MOST
    return _inverse_normal(uniform)
