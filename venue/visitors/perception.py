"""What a player makes of the scoreboard in the middle of a contest.

The naive reading takes the score for a Brownian motion (Stern 1994, "A Brownian motion model for the progress of
sports scores", J. Am. Stat. Assoc. 89): with a fraction tau of the contest left, margin m and belief b,

    chance = Phi((m / sigma + tau * Phi^-1(b)) / sqrt(tau)).

The experienced reading is the title's true chance, from the chain. A visitor mixes the two; the experienced reading
weighs contests / (contests + learning half-life).

Decisions may weigh a chance otherwise than it is perceived: small ones too heavily, large ones too lightly (Prelec
1998, "The probability weighting function", Econometrica 66).
"""

from __future__ import annotations

import math
from functools import lru_cache
from math import erfc
from statistics import NormalDist

_inverse_normal = NormalDist().inv_cdf
_SQRT2 = math.sqrt(2.0)
_MOST_BELIEF = 1.0 - 1e-9


@lru_cache(maxsize=4096)
def belief_score(belief: float) -> float:
    """Phi^-1(b): a belief as the drift of the Brownian reading."""
    return _inverse_normal(min(max(belief, 1.0 - _MOST_BELIEF), _MOST_BELIEF))


def weighed(chance: float, exponent: float) -> float:
    """Weight of a chance in a decision, exp(-(-ln p)^exponent); an exponent of 1 leaves it as it is."""
    if exponent == 1.0 or not 0.0 < chance < 1.0:
        return chance
    return math.exp(-((-math.log(chance)) ** exponent))


def naive_chance(margin: float, left: float, spread: float, belief: float) -> float:
    """Chance to win as the naive reading has it.

    Parameters
    ----------
    margin
        Points ahead; negative when behind.
    left
        Fraction of the contest left, from 0 to 1.
    spread
        Standard deviation of the final margin between equal sides without catch-up, in points.
    belief
        Chance to win that the player believed in at the start.
    """
    if left <= 0.0:
        return 1.0 if margin > 0 else 0.0 if margin < 0 else 0.5
    scoreboard = Scoreboard(1, spread)
    return scoreboard.read(margin, scoreboard.weights(left), belief_score(belief))


class Closeness(dict[int, float]):
    """How close a score feels, by margin: exp(-(m / sigma)^2 / 2), 1 when level. Worked out when first asked for."""

    def __init__(self, spread: float) -> None:
        self._spread = spread

    def __missing__(self, margin: int) -> float:
        found = self[margin] = math.exp(-0.5 * (margin / self._spread) ** 2)
        return found


class Scoreboard:
    """The naive and the experienced reading of one title, ready for the floor.

    Parameters
    ----------
    periods
        Periods in a contest.
    spread
        Sigma, in points.

    Attributes
    ----------
    closeness
        How close a score feels, by margin.
    """

    def __init__(self, periods: int, spread: float) -> None:
        self.spread = spread
        self._by_period = [self.weights((periods - done) / periods) for done in range(periods)]
        self.closeness = Closeness(spread)

    def weights(self, left: float) -> tuple[float, float]:
        """Weights of margin and belief score in the reading, with a fraction `left` of the contest to come."""
        root = math.sqrt(left)
        return 1.0 / (self.spread * root * _SQRT2), root / _SQRT2

    @staticmethod
    def read(margin: float, weights: tuple[float, float], score: float) -> float:
        """The naive chance, from prepared weights."""
        return 0.5 * math.erfc(-(margin * weights[0] + score * weights[1]))

    def perceived(self, margin: float, done: int, score: float, true: float, experience: float) -> float:
        """Perceived chance after `done` periods: the naive reading mixed with the true chance.

        `experience` is the weight of the true chance; `score` is `belief_score` of the belief.
        """
        by_margin, by_belief = self._by_period[done]
        naive = 0.5 * erfc(-(margin * by_margin + score * by_belief))
        return naive + experience * (true - naive)
