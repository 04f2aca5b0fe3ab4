"""The range of margins that a contest against the clock is solved on: where the margin goes in this very match.

The unaided drift and spread of the score say how far it can come at most. How far it does come under the rules is found
by following the contest without what play remembers, which is small; what memory adds is then checked on the contest
itself (`Chain.cut`), and the range widened where it must be.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from venue.contest.automaton import Automaton
from venue.contest.clock_segments import period_stretches
from venue.contest.effects import Array
from venue.contest.match import Match
from venue.contest.repeated_steps import SparseSteps
from venue.contest.scoreboard import MarginBoard, joined
from venue.contest.skills import attack_gap, even_gap
from venue.contest.transitions import TransitionBuilder, Transitions, with_skill
from venue.scenario.rules import Drought, RunBoost
from venue.scenario.title import Title

# Mass that may leave the range of margins over a contest, both ends together.
CUT = 1e-10
# Part of it that the contest without memory may use up at either end, so that memory finds room.
_MARGIN = 0.1

Span = tuple[int, int]


def span_in_hand(title: Title, match: Match) -> Span:
    """Least and greatest margin that matter in a match, memory left out."""
    (found,) = spans_in_hand(title, match, [match.gap])
    return found


def spans_in_hand(title: Title, match: Match, gaps: Sequence[float]) -> list[Span]:
    """Least and greatest margin that matter at each of many skill gaps, memory left out."""
    light = title.model_copy(
        update={"rules": {name: rule for name, rule in title.rules.items() if not isinstance(rule, RunBoost | Drought)}}
    )
    spans = [unaided_span(light, match, gap) for gap in gaps]
    low, high = min(span[0] for span in spans), max(span[1] for span in spans)
    while True:
        flows = _flows(light, match, gaps, MarginBoard(low, high))
        wider = wider_span(low, high, float(flows[:, 0, 0].max()), float(flows[:, 1, -1].max()))
        if wider is None:
            return [_within(low, high, down, up) for down, up in flows]
        low, high = wider


def _flows(title: Title, match: Match, gaps: Sequence[float], single: MarginBoard) -> Array:
    """Expected times a contest that the margin comes to each place or beyond, downward and upward: shape (gaps, 2,
    places)."""
    automaton = Automaton(title, match)
    copies, size = len(gaps), len(single.margins)
    board = joined([single] * copies)
    builder = TransitionBuilder(title, match, automaton, board, gap=np.repeat(np.asarray(gaps, dtype=float), size))
    breaks = np.zeros((automaton.breaks, copies * size))
    breaks[:, board.starts] = automaton.start()[:, None]
    built: dict[object, tuple[Transitions, SparseSteps, Array]] = {}
    for period in range(title.periods):
        rows = (automaton.entry(period).T @ breaks).reshape(-1, 1)
        for stretch in period_stretches(title, period):
            if stretch.signature not in built:
                made = builder.build({name: title.rules[name] for name in stretch.active}, float(stretch.left))
                built[stretch.signature] = made, SparseSteps(made.quick(), title.hazard), np.zeros(rows.shape)
            _, steps, visits = built[stretch.signature]
            rows, seen = steps.follow(rows, stretch.seconds)
            visits += seen
        breaks = np.zeros_like(breaks)
        np.add.at(breaks, automaton.exits, rows.reshape(len(automaton.modes), -1))
    found = np.zeros((2, copies, size))
    for made, _, visits in built.values():
        seen = visits.reshape(made.shape)
        for jump in made.jumps:
            flow = (seen[jump.modes] * jump.chance).sum(axis=0).reshape(copies, size)
            # A jump passes all places on its way; the last of them stands for what lies beyond.
            for step in range(1, abs(jump.gain) + 1):
                to = np.clip(np.arange(size) + (step if jump.gain > 0 else -step), 0, size - 1)
                for copy in range(copies):
                    found[int(jump.gain > 0), copy] += np.bincount(to, flow[copy], minlength=size)
    return found.transpose(1, 0, 2)


def _within(low: int, high: int, down: Array, up: Array) -> Span:
    """The places that the margin comes to often enough to matter, and the start."""
    met_low, met_high = np.flatnonzero(down > _MARGIN * CUT), np.flatnonzero(up > _MARGIN * CUT)
    return (
        min(-1, low + int(met_low[0])) if len(met_low) else -1,
        max(1, low + int(met_high[-1])) if len(met_high) else 1,
    )


def unaided_span(title: Title, match: Match, gap: float) -> Span:
    """How far the margin can come by the unaided drift and spread of the score."""
    seconds = title.periods * title.seconds
    drift = variance = 0.0
    if title.race is not None:
        faster = title.race.pace_per_skill * float(even_gap(title, match, gap, title.race.skill))
        drift = title.race.pace * faster
        variance = title.race.wander**2
    for name, attempt in title.attempts.items():
        if title.play == "turns":
            gaps = [attack_gap(title, match, gap, side, name) for side in (0, 1)]
            chances = [float(with_skill(attempt.chance, each)) for each in gaps]
            drift += attempt.share * attempt.points * (chances[0] - chances[1]) / 2
            variance += attempt.share * attempt.points**2 * sum(chances) / 2
        else:
            lead = 2 * float(with_skill(0.5, even_gap(title, match, gap, attempt.skill))) - 1
            drift += attempt.share * attempt.points * lead
            variance += attempt.share * attempt.points**2
    mean = seconds * title.attack_rate * drift
    reach = 6.8 * math.sqrt(seconds * title.attack_rate * max(variance, 1e-3)) + 2 * title.most_points
    # Nobody can score more often than once a second.
    limit = seconds * title.most_points + 1 if title.race is None else 10**6
    return max(math.floor(min(0.0, mean) - reach), -limit), min(math.ceil(max(0.0, mean) + reach), limit)


def wider_span(low: int, high: int, cut_low: float, cut_high: float) -> Span | None:
    """A wider range of margins where too much of the mass leaves it; None where it will do."""
    grow_low, grow_high = cut_low > CUT / 2, cut_high > CUT / 2
    if not (grow_low or grow_high):
        return None
    extra = max(8, (high - low) // 4)
    return low - extra * int(grow_low), high + extra * int(grow_high)
