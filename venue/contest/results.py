"""What a designer asks of a title: who wins, by how much, what each rule owes, averaged over the match-ups it meets."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from venue.contest.effects import Array
from venue.contest.match import Match, Player
from venue.contest.skills import attacks_of
from venue.contest.trajectory import Courses, courses
from venue.scenario.title import Title
from venue.threads import one_thread

_NODES = 6
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
                mass = (end - begin) / 2 * weights * np.exp(-0.5 * ((gaps - self.mean) / self.sd) ** 2)
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
        Shares of contests; `level` is the share that ends level. `skill_edge` is NaN where skill counts for nothing.
    lead_changes
        Expected times a contest that the lead goes to the side that did not have it last; a tie is no change.
    comebacks
        Chance that whoever trails at the start of the last period still wins (with one period: half-way through). NaN
        where nobody ever trails then.
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
    lead_changes: float
    comebacks: float
    side_a_wins: float
    margin_mean: float
    margin_sd: float
    assisted: float
    owed: dict[str, tuple[float, float]]
    margin: dict[int, float]


# An edge below this is rounding: the range of margins alone is cut at a mass of 1e-9.
_LEAST_EDGE = 1e-9


def edge_kept(edge: float, unaided: float, contests: float = 1.0) -> float:
    """Part of the unaided edge of skill that is left: NaN where skill counts for nothing without rules either.

    Parameters
    ----------
    edge, unaided
        By how much the better side's wins exceed one half, with the rules and at strength 0, summed over contests.
    contests
        How many contests they are summed over.
    """
    return edge / unaided if abs(unaided) > _LEAST_EDGE * contests else float("nan")


def better_side(gap: float, win_a: float) -> float:
    """Chance that the side with more skill wins; one half between equals."""
    return 0.5 if gap == 0.0 else win_a if gap > 0.0 else 1.0 - win_a


@dataclass(frozen=True)
class Field:
    """A title over all its match-ups at one strength: the course of the contest at each skill gap, with its weight.

    Attributes
    ----------
    parts
        Groups of skill gaps with their weights and courses.
    """

    strength: float
    parts: tuple[tuple[Array, Array, Courses], ...]

    def mean(self, figure: Callable[[Courses], Array]) -> Array:
        """A figure that courses have by gap, averaged over the match-ups."""
        found = [np.tensordot(weights, figure(course), axes=1) for _, weights, course in self.parts]
        return np.asarray(np.sum(found, axis=0))

    def better_side_wins(self) -> float:
        """Chance that the side with more skill wins; one half between equals."""
        wins = [
            weights @ np.where(gaps == 0.0, 0.5, np.where(gaps > 0.0, course.win, 1.0 - course.win))
            for gaps, weights, course in self.parts
        ]
        return float(np.sum(wins))

    def margin(self) -> dict[int, float]:
        """Distribution of the final margin: chance by points."""
        found: dict[int, float] = {}
        for _, weights, course in self.parts:
            for lead, chance in zip(course.solved.margins.tolist(), (weights @ course.margins).tolist(), strict=True):
                found[lead] = found.get(lead, 0.0) + chance
        return dict(sorted(found.items()))

    def total(self, name: str) -> tuple[float, float]:
        """Expected total over a contest by side, see `Courses.total`."""
        a, b = self.mean(lambda course: course.total(name)).tolist()
        return a, b


def field(title: Title, match_ups: MatchUps, strength: float, switches_off: frozenset[str] = frozenset()) -> Field:
    """Follow a title over all its match-ups."""
    nodes = np.array(match_ups.nodes(attacks_of(title)))
    matches = [Match(strength, gap, "visitor", match_ups.side_b, switches_off) for gap in nodes[:, 0].tolist()]
    with one_thread():
        found = courses(title, matches)
    ends = np.cumsum([len(course.final) for course in found])[:-1]
    return Field(strength, tuple((part[:, 0], part[:, 1], course)
                                 for part, course in zip(np.split(nodes, ends), found, strict=True)))  # fmt: skip


def unaided_edge(title: Title, match_ups: MatchUps, switches_off: frozenset[str] = frozenset()) -> float:
    """By how much the better side's wins exceed one half at strength 0."""
    return field(title, match_ups, 0.0, switches_off).better_side_wins() - 0.5


def headline_of(
    title: Title, match_ups: MatchUps, strength: float, edge: float, switches_off: frozenset[str] = frozenset()
) -> Headline:
    """Exact headline results at one strength, where the edge at strength 0 is known (see `unaided_edge`)."""
    return headline(title, field(title, match_ups, strength, switches_off), edge)


def headline(title: Title, found: Field, edge: float) -> Headline:
    """Headline results, read from the courses of all match-ups."""
    margin = found.margin()
    points, chances = np.array(list(margin), dtype=float), np.array(list(margin.values()))
    mean = float(points @ chances)
    owed = {name: found.total(name) for name in title.rules}
    trailing, came_back = found.mean(lambda course: course.comebacks).tolist()
    better_wins = found.better_side_wins()
    return Headline(
        strength=found.strength,
        better_side_wins=better_wins,
        skill_edge=edge_kept(better_wins - 0.5, edge),
        close_finishes=float(chances[np.abs(points) <= title.close].sum()),
        level=margin.get(0, 0.0),
        lead_changes=float(found.mean(lambda course: course.lead_changes)),
        comebacks=came_back / trailing if trailing > 1e-12 else float("nan"),
        side_a_wins=float(found.mean(lambda course: course.win)),
        margin_mean=mean,
        margin_sd=float(np.sqrt(chances @ (points - mean) ** 2)),
        assisted=sum(found.total("assisted")),
        owed=owed,
        margin=margin,
    )
