"""What people are and carry, drawn from streams of their own: skill, wallet, time to spend, company."""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray
from scipy import special

from venue.scenario.people import People
from venue.streams import Streams
from venue.visitors.perception import belief_score, weighed
from venue.visitors.person import Person, Record
from venue.visitors.visit import SKILL, Company, Visit, first_row

_inverse_normal = NormalDist().inv_cdf
# The least and greatest uniform whose normal quantile is taken.
_LEAST = 1e-15
_MOST = 1.0 - _LEAST


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

    def recall(self, person: Person, title: int, wins: float, losses: float, contests: int) -> None:
        """What a person has seen of a title before: beliefs and practice follow from it."""
        record = person.records[title] = Record(wins, losses, self.skill(person), self._weighting)
        record.contests = contests
        self._practise(record)

    def skill(self, person: Person) -> float:
        """Skill in log-odds before practice."""
        if person.skill is None:
            draw = normal(first_row(self._streams, person.number)[SKILL])
            person.skill = self._people.skill.mean + self._people.skill.sd * draw
        return person.skill

    def learn(self, record: Record, result: float, close: bool) -> None:
        """A finished contest moves belief and practice: a win 1, a loss 0, level one half, a close loss as stated."""
        worth = self._close_loss if close and result == 0.0 else result
        record.wins = wins = record.wins + worth
        record.losses = losses = record.losses + (1.0 - worth)
        record.contests += 1
        record.belief = belief = wins / (wins + losses)
        record.weight = belief if self._weighting == 1.0 else weighed(belief, self._weighting)
        record.score = belief_score(belief)
        self._practise(record)

    def _practise(self, record: Record) -> None:
        """What the contests finished so far have taught."""
        contests = record.contests
        record.experience = contests / (contests + self._half_life)
        practice = self._practice * contests
        record.skill = record.talent + (practice if practice < self._limit else self._limit)


def _lognormal(scale: tuple[float, float], uniform: float) -> float:
    median, spread = scale
    return median * math.exp(spread * normal(uniform))


def normals(uniforms: NDArray[np.float64]) -> NDArray[np.float64]:
    """Standard normal quantiles of uniforms, cut as `normal` does."""
    found: NDArray[np.float64] = special.ndtri(np.clip(uniforms, _LEAST, _MOST))
    return found


def normal(uniform: float) -> float:
    """Standard normal quantile of a uniform."""
    if uniform < _LEAST:
        uniform = _LEAST
    elif uniform > _MOST:
        uniform = _MOST
    return _inverse_normal(uniform)
