"""The decision to buy in as a function of what it weighs, for somebody who can pay and has time."""

from __future__ import annotations

import math
from collections.abc import Callable

from venue.scenario.people import BuyIn
from venue.streams import Streams
from venue.visitors.choices import buy_in_decision
from venue.visitors.person import Person
from venue.visitors.visit import Visit

Accepts = Callable[[float, float, int, float, float, float], bool]


def buy_in_choice(tastes: BuyIn, constant: float, price: int, *, weighting: float = 1.0) -> Accepts:
    """Whether an offer is taken, given chance, closeness, plays, suspicion, tiredness and a uniform draw."""
    refusal = buy_in_decision(tastes, constant, price, weighting=weighting)

    def accepts(chance: float, closeness: float, played: int, suspicion: float, tired: float, uniform: float) -> bool:
        visit = Visit(Person(0), 0.0, Streams(1, 0))
        visit.stay, visit.plays, visit.suspicion, visit.buy_in = 1.0, played, suspicion, iter([uniform])
        return not refusal(visit, tired, math.inf, chance, closeness, chance)

    return accepts
