"""Choices as logits: to buy in or stop, and where to go next.

An offer to buy in is taken with chance 1 / (1 + exp(-v)). Among several options each is chosen with a chance in
proportion to exp(u): the multinomial logit (McFadden 1974, "Conditional logit analysis of qualitative choice
behavior").
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Callable, Sequence
from itertools import accumulate
from math import exp

from venue.scenario.people import BuyIn
from venue.visitors.perception import weighed

_HOPELESS = -700.0


Accepts = Callable[[float, float, int, float, float, float], bool]


def buy_in_choice(tastes: BuyIn, constant: float, price: int, *, weighting: float = 1.0) -> Accepts:
    """The decision on one kind of offer, with a constant and a price in credits, as a function ready for the floor.

    The function takes the perceived chance, the closeness, contests already played, suspicion, tiredness and a uniform
    draw, and says whether the visitor buys in. `weighting` is the exponent by which decisions weigh chances; with 1
    there is nothing to weigh, and it costs nothing.
    """
    offered = constant - tastes.price * price
    by_chance, by_closeness = tastes.chance, tastes.closeness
    by_played, by_suspicion, by_tired = tastes.played, tastes.suspicion, tastes.tired
    exp = math.exp

    def accepts(chance: float, closeness: float, played: int, suspicion: float, tired: float, uniform: float) -> bool:
        utility = (
            offered
            + by_chance * chance
            + by_closeness * closeness
            - by_played * played
            - by_suspicion * suspicion
            - by_tired * tired
        )
        return utility > _HOPELESS and uniform * (1.0 + exp(-utility)) < 1.0

    if weighting == 1.0:
        return accepts

    def by_weight(chance: float, closeness: float, played: int, suspicion: float, tired: float, uniform: float) -> bool:
        return accepts(weighed(chance, weighting), closeness, played, suspicion, tired, uniform)

    return by_weight


class RefusalReason:
    """Says what weighed most against an offer that was not taken."""

    def __init__(self, tastes: BuyIn) -> None:
        self._chance = tastes.chance
        self._closeness = tastes.closeness
        self._played = tastes.played
        self._suspicion = tastes.suspicion
        self._tired = tastes.tired

    def why_not(self, chance_lost: float, closeness: float, played: int, suspicion: float, tired: float) -> str:
        """What weighed most against an offer that was not taken, as a reason to leave.

        `chance_lost` is how far the perceived chance has fallen below the belief held at the start.
        """
        gone = self._chance * chance_lost + self._closeness * (1.0 - closeness)
        worn = self._tired * tired + self._played * played
        wary = self._suspicion * suspicion
        if gone > 0.0 and gone >= worn and gone >= wary:
            return "chance gone"
        if worn > 0.0 and worn >= wary:
            return "tired"
        return "suspicious" if wary > 0.0 else "had enough"


def takes(utility: float, uniform: float) -> bool:
    """Whether an offer of this utility is taken, given a uniform draw."""
    return utility > _HOPELESS and uniform * (1.0 + math.exp(-utility)) < 1.0


def shares(utilities: Sequence[float]) -> list[float]:
    """Multinomial-logit shares of options, in closed form; an option of utility -inf has none."""
    weights = _weights(utilities)
    total = sum(weights)
    return [weight / total for weight in weights]


def pick(utilities: Sequence[float], uniform: float) -> int:
    """The option chosen, by a uniform draw; options of utility -inf are never chosen."""
    try:
        running = list(accumulate(map(exp, utilities)))
        total = running[-1]
    except OverflowError:
        total = math.inf
    if not 0.0 < total < math.inf:  # out of range: measure from the best
        top = max(utilities)
        if not math.isfinite(top):
            raise ValueError(f"no option can be chosen: the best utility is {top}, must be finite")
        return pick([utility - top for utility in utilities], uniform)
    # A sum is never more than its last, but for rounding.
    place = bisect_right(running, uniform * total)
    return place if place < len(running) else len(running) - 1


def _weights(utilities: Sequence[float]) -> list[float]:
    top = max(utilities)
    return [math.exp(utility - top) for utility in utilities]
