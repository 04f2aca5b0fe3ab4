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
from venue.visitors.visit import Visit

_HOPELESS = -700.0


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


# Why a visitor does not take an offer, empty if they do; given the visit, the time, the next closing (both in seconds
# from the start of the run), the perceived chance to win, the closeness, and the chance that they set out with.
Refusal = Callable[[Visit, float, float, float, float, float], str]


def buy_in_decision(
    tastes: BuyIn, constant: float, price: int, *, weighting: float = 1.0, is_another: bool = False
) -> Refusal:
    """The one decision to buy in, for offers with a constant and a price, as a function ready for the floor.

    The function notes in the visit that the offer was met, and says why it is not taken.

    Parameters
    ----------
    constant
        Utility of buying in, before all that the tastes weigh.
    price
        Credits.
    weighting
        Exponent by which decisions weigh chances; with 1 there is nothing to weigh.
    is_another
        Whether another contest is offered: one who has been called home or has no time left begins none.
    """
    offered = constant - tastes.price * price
    by_chance, by_closeness = tastes.chance, tastes.closeness
    by_played, by_suspicion, by_tired = tastes.played, tastes.suspicion, tastes.tired
    why_not = RefusalReason(tastes).why_not
    is_weighed = weighting != 1.0
    exp = math.exp

    def refusal(visit: Visit, now: float, closing: float, chance: float, closeness: float, hoped: float) -> str:
        visit.offers += 1
        visit.chance_met += chance
        visit.closeness_met += closeness
        if now >= closing:
            return "closing time"
        if is_another and visit.called_home:
            return "party left"
        if visit.wallet < price and visit.falls_short(price, now):
            return visit.last_no
        stayed = now - visit.arrived
        if is_another and stayed >= visit.stay:
            return "time up"
        played, suspicion, tired = visit.plays, visit.suspicion, stayed / visit.stay
        utility = (
            offered
            + by_chance * (weighed(chance, weighting) if is_weighed else chance)
            + by_closeness * closeness
            - by_played * played
            - by_suspicion * suspicion
            - by_tired * tired
        )
        draw = next(visit.buy_in or visit.tap("buy_in"))
        if utility > _HOPELESS and draw * (1.0 + exp(-utility)) < 1.0:
            return ""
        return why_not(hoped - chance, closeness, played, suspicion, tired)

    return refusal


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
