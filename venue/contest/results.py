"""What a designer asks of a title: who wins, by how much, what each rule owes, averaged over the match-ups it meets."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy import stats

from venue.contest.chain import Chain, unaided_spread
from venue.contest.effects import Array
from venue.contest.setting import Player, Setting
from venue.scenario.title import Title
from venue.threads import one_thread

_NODES = 8
_REACH = 4.5
_PANEL = 3.0


@dataclass(frozen=True)
class MatchUps:
    """Skill gaps that people bring to a title, as a normal distribution cut at 4.5 standard deviations.

    Attributes
    ----------
    mean, sd
        Of the gap between side A and side B, in log-odds; sd 0 is one pair of skills.
    side_b
        Who sits opposite.
    """

    mean: float
    sd: float
    side_b: Player

    def nodes(self, attacks: float) -> list[tuple[float, float]]:
        """Gaps and weights (summing to one) for averages over the match-ups.

        Gauss-Legendre on panels that meet at gap 0, where "the better side" changes, and that are no wider near it than
        a contest of so many attacks needs to tell skills apart.

        Parameters
        ----------
        attacks
            Expected attacks (in open play: scores) in a contest.
        """
        if self.sd == 0.0:
            return [(self.mean, 1.0)]
        low, high = self.mean - _REACH * self.sd, self.mean + _REACH * self.sd
        # The chance to win turns from lost to won over a gap of about 4 / sqrt(attacks).
        steep = 6.0 / math.sqrt(max(attacks, 1.0))
        edges = sorted({low, high, *(min(max(edge, low), high) for edge in (-steep, 0.0, steep))})
        abscissas, weights = np.polynomial.legendre.leggauss(_NODES)
        found = []
        for left, right in zip(edges, edges[1:], strict=False):
            parts = max(1, math.ceil((right - left) / (_PANEL * self.sd)))
            bounds = np.linspace(left, right, parts + 1)
            for begin, end in zip(bounds, bounds[1:], strict=False):
                gaps = (begin + end) / 2 + (end - begin) / 2 * abscissas
                mass = (end - begin) / 2 * weights * stats.norm.pdf(gaps, self.mean, self.sd)
                found += list(zip(gaps.tolist(), mass.tolist(), strict=True))
        total = sum(weight for _, weight in found)
        return [(gap, weight / total) for gap, weight in found]


@dataclass(frozen=True)
class Headline:
    """Exact results of a title at one strength, averaged over match-ups.

    Attributes
    ----------
    strength
        Catch-up strength.
    better_side_wins, skill_edge, close_finishes, level
        Shares of contests; `level` is the share that ends level. `skill_edge` is NaN when skills never differ.
    side_a_wins
        Chance that side A wins; a level end counts as the title says.
    margin_mean, margin_sd
        Of the final margin of side A, in points.
    assisted
        Expected scores a contest, both sides, that would have failed unaided.
    owed
        Expected points a contest beyond the base chances, by rule: (side A, side B).
    margin
        Distribution of the final margin: chance by points.
    """

    strength: float
    better_side_wins: float
    skill_edge: float
    close_finishes: float
    level: float
    side_a_wins: float
    margin_mean: float
    margin_sd: float
    assisted: float
    owed: dict[str, tuple[float, float]]
    margin: dict[int, float]


def better_side(gap: float, win_a: float) -> float:
    """Chance that the side with more skill wins; one half between equals."""
    return 0.5 if gap == 0.0 else win_a if gap > 0.0 else 1.0 - win_a


def headlines(
    title: Title, match_ups: MatchUps, strengths: Sequence[float], switches_off: frozenset[str] = frozenset()
) -> list[Headline]:
    """Exact headline results at each strength."""
    nodes = match_ups.nodes(title.periods * title.period_length / title.mean_attack)

    def chains(strength: float) -> list[tuple[float, float, Chain]]:
        return [
            (gap, weight, Chain(title, Setting(strength, gap, "visitor", match_ups.side_b, switches_off)))
            for gap, weight in nodes
        ]

    def better(solved: list[tuple[float, float, Chain]]) -> float:
        return sum(weight * better_side(gap, chain.win_chance) for gap, weight, chain in solved)

    with one_thread():
        unaided_edge = better(chains(0.0)) - 0.5
        return [_headline(title, strength, chains(strength), better, unaided_edge) for strength in strengths]


def _headline(
    title: Title,
    strength: float,
    solved: list[tuple[float, float, Chain]],
    better: Callable[[list[tuple[float, float, Chain]]], float],
    unaided_edge: float,
) -> Headline:
    margin: dict[int, float] = {}
    for _, weight, chain in solved:
        for points, chance in zip(chain.margins.tolist(), chain.final_margin.tolist(), strict=True):
            margin[points] = margin.get(points, 0.0) + weight * chance
    margin = dict(sorted(margin.items()))
    points, chances = np.array(list(margin)), np.array(list(margin.values()))
    mean = float(points @ chances)
    owed = {name: _pair(sum(weight * chain.expected(name) for _, weight, chain in solved)) for name in title.rules}
    better_wins = better(solved)
    return Headline(
        strength=strength,
        better_side_wins=better_wins,
        skill_edge=(better_wins - 0.5) / unaided_edge if abs(unaided_edge) > 1e-12 else float("nan"),
        close_finishes=float(chances[np.abs(points) <= title.close].sum()),
        level=margin.get(0, 0.0),
        side_a_wins=sum(weight * chain.win_chance for _, weight, chain in solved),
        margin_mean=mean,
        margin_sd=float(np.sqrt(chances @ (points - mean) ** 2)),
        assisted=float(sum(weight * chain.expected("assisted").sum() for _, weight, chain in solved)),
        owed=owed,
        margin=margin,
    )


def _pair(values: Array | int) -> tuple[float, float]:
    a, b = np.broadcast_to(np.asarray(values, dtype=float), (2,)).tolist()
    return a, b


def spread(title: Title) -> float:
    """Standard deviation of the final margin between equal sides without any rule, in points."""
    with one_thread():
        return unaided_spread(title)
