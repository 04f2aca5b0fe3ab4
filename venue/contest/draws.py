"""Help drawn at random in a race: prizes of lengths, with odds that go by how far back a side is."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from venue.contest import effects
from venue.contest.effects import Array, Moment
from venue.contest.match import Match
from venue.scenario.rules import LuckyDraw, Prize, RuleBase
from venue.scenario.title import Title


@dataclass(frozen=True)
class Draw:
    """What one rule may bring a side within a second.

    Attributes
    ----------
    lengths
        Lengths of each prize.
    chances
        Chance of each prize, shape (prizes, places).
    """

    rule: str
    side: int
    lengths: tuple[int, ...]
    chances: Array


def draws_of(title: Title, rules: Mapping[str, RuleBase], match: Match, side: int, at: Moment) -> Iterator[Draw]:
    """Every draw that a side may make within a second; each side draws for itself, wherever the rule holds."""
    for name, rule in rules.items():
        weight = effects.weight_of(title, match, rule, side)
        if isinstance(rule, LuckyDraw) and weight:
            odds = np.stack([_odds(prize, at.d) for prize in rule.prizes.values()])
            total = odds.sum(axis=0)
            share = np.divide(odds, total, out=np.zeros_like(odds), where=total > 0)
            drawn = np.where(effects.holds(rule, at.d, None), min(1.0, weight / rule.every), 0.0)
            yield Draw(name, side, tuple(prize.lengths for prize in rule.prizes.values()), drawn * share)


def _odds(prize: Prize, d: Array) -> Array:
    behind, odds = zip(*prize.odds, strict=True)
    found: Array = np.interp(d, behind, odds)
    return found


def with_draws(changes: Iterable[tuple[int, Array]], draws: Sequence[Draw]) -> list[tuple[int, Array]]:
    """Chance of each change of the gap in one second, what is drawn included."""
    found = dict(changes)
    for draw in draws:
        before, blank = found, 1.0 - draw.chances.sum(axis=0)
        found = {gain: chance * blank for gain, chance in before.items()}
        for lengths, drawn in zip(draw.lengths, draw.chances, strict=True):
            for gain, chance in before.items():
                to = gain + (lengths if draw.side == 0 else -lengths)
                found[to] = found.get(to, np.zeros_like(chance)) + chance * drawn
    return sorted(found.items())
