"""The course of a contest from its start to its end, at many skill gaps at once: what happens on average on the way.

Every state is followed forward from the start. A level score remembers who led last, so that lead changes can be
counted; and from the turn on (the start of the last period; half-way where there is only one) who trailed at the turn
is remembered too, so that comebacks can.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from venue.contest.automaton import Automaton
from venue.contest.chain import Chain
from venue.contest.clock_segments import Stretch, period_stretches
from venue.contest.effects import Array
from venue.contest.first_to import FirstTo, score_board
from venue.contest.match import Match
from venue.contest.repeated_steps import SparseSteps
from venue.contest.scoreboard import MarginBoard, joined
from venue.contest.solved import Solved
from venue.contest.span import Span, spans_in_hand, wider_span
from venue.contest.transitions import PACE, Transitions
from venue.scenario.title import Title

# States of all gaps together that are followed at once.
_AT_ONCE = 300_000


@dataclass(frozen=True)
class OnTheWay:
    """What happens on the way, at each gap.

    Attributes
    ----------
    totals
        Expected totals over the contest by side, shape (gaps, 2): `points`, `assisted`, `noticeable`, and points owed
        to each rule.
    lead_changes
        Expected times that the lead goes to the side that did not have it last; a tie is no change.
    tried, made
        Expected attempts and successes of each kind by side and place: shape (2, gaps, places).
    cut
        Expected scores that the lower and the upper end of the range of margins cut, shape (2, gaps).
    """

    totals: dict[str, Array]
    lead_changes: Array
    tried: dict[str, Array]
    made: dict[str, Array]
    cut: Array


@dataclass(frozen=True)
class Courses:
    """A title from start to end at several skill gaps, which are solved as one contest.

    Attributes
    ----------
    solved
        The contests; a level score tells who led last.
    final
        Chance of each place at the end, by who trailed at the turn (side A, side B, neither): shape (gaps, places, 3),
        places being those of one contest.
    on_the_way
        What happened until then.
    """

    solved: Solved
    final: Array
    on_the_way: OnTheWay

    @property
    def board_margins(self) -> NDArray[np.int64]:
        """Margin at each place of each contest, shape (gaps, places)."""
        return self.solved.board.margins.reshape(self.final.shape[:2])

    @cached_property
    def margins(self) -> Array:
        """Distribution of the final margin at each gap, over `solved.margins`."""
        # A level score has several places, every other margin one (or, to N points, several too).
        found = np.zeros((len(self.final), len(self.solved.margins)))
        gaps = np.arange(len(self.final))[:, None]
        np.add.at(found, (gaps, self.board_margins + self.solved.zero), self.final.sum(axis=2))
        return found

    @cached_property
    def _won(self) -> Array:
        worth = self.solved.worth().reshape(self.final.shape[:2])
        return np.asarray(np.einsum("np,npc->nc", worth, self.final))

    @property
    def win(self) -> Array:
        """Chance that side A wins, at each gap; a level end counts as the title says."""
        return np.asarray(self._won.sum(axis=1))

    @property
    def comebacks(self) -> Array:
        """Chance that a side trails at the turn, and chance that one does and yet wins: shape (gaps, 2)."""
        trailed = self.final.sum(axis=1)
        won = self._won[:, 0] + trailed[:, 1] - self._won[:, 1]
        return np.stack([trailed[:, :2].sum(axis=1), won], axis=1)

    @property
    def lead_changes(self) -> Array:
        """Expected times, at each gap, that the lead goes to the side that did not have it last; a tie is no change."""
        return self.on_the_way.lead_changes

    def total(self, name: str) -> Array:
        """Expected total over the contest by gap and side, shape (gaps, 2): `points`, `assisted` or owed to a rule."""
        return self.on_the_way.totals[name]


def courses(title: Title, matches: Sequence[Match]) -> list[Courses]:
    """The course of a title in matches that differ in the skill gap only: all in one, unless they are too many."""
    automaton = Automaton(title, matches[0])
    gaps = [match.gap for match in matches]
    if title.first_to is not None:
        scores = score_board(title, recalls_leader=True)
        return [
            _to_points(FirstTo(title, matches[0], board=joined([scores] * len(some)), automaton=automaton, gaps=some))
            for some in _groups(gaps, len(scores.margins) * len(automaton.modes))
        ]
    spans = dict(zip(gaps, spans_in_hand(title, matches[0], gaps), strict=True))
    widest = max(high - low for low, high in spans.values())
    return [
        _in_range(title, matches[0], automaton, some, [spans[gap] for gap in some])
        for some in _groups(gaps, (widest + 3) * len(automaton.modes))
    ]


def _in_range(
    title: Title, match: Match, automaton: Automaton, gaps: Sequence[float], spans: Sequence[Span]
) -> Courses:
    """Clocked contests, each on a range of margins of its own, all equally wide."""
    spans = list(spans)
    while True:
        width = max(high - low for low, high in spans)
        boards = [MarginBoard(low, low + width, recalls_leader=True) for low, _ in spans]
        chain = Chain(title, match, board=joined(boards), automaton=automaton, gaps=gaps)
        found = _by_clock(chain)
        wider = [
            wider_span(low, low + width, below, above)
            for (low, _), below, above in zip(spans, *found.on_the_way.cut.tolist(), strict=True)
        ]
        if not any(wider):
            return found
        spans = [new or (low, low + width) for new, (low, _) in zip(wider, spans, strict=True)]


def _groups(gaps: Sequence[float], states: int) -> list[Sequence[float]]:
    size = max(1, _AT_ONCE // states)
    return [gaps[first : first + size] for first in range(0, len(gaps), size)]


def _starts(contest: Solved) -> Array:
    """Every contest at its start: chances of break states, in one column."""
    rows = np.zeros((contest.break_modes, contest.places))
    rows[:, contest.board.starts] = contest.automaton.start()[:, None]
    return rows.reshape(-1, 1)


def _by_clock(chain: Chain) -> Courses:
    """Follow a chain from stretch to stretch."""
    title = chain.title
    sides = np.sign(chain.board.margins)
    # Seconds left at the turn.
    turn = title.seconds if title.periods > 1 else title.seconds // 2
    rows = _starts(chain)
    visits: dict[object, tuple[Stretch, Array]] = {}
    steps: dict[object, SparseSteps] = {}
    for period in range(title.periods):
        rows = chain.into_modes(period, rows.T).T
        for stretch in period_stretches(title, period):
            key = stretch.signature
            if key not in steps:
                steps[key] = SparseSteps(chain.transitions(stretch).quick(), chain.hazard)
                visits[key] = stretch, np.zeros(chain.states)
            for left, seconds in _cut_at(turn, stretch):
                if left == turn:
                    rows = _split(rows, np.tile(sides, chain.modes))
                rows, seen = steps[key].follow(rows, seconds)
                visits[key][1].__iadd__(seen.sum(axis=1))
        rows = chain.out_of_modes(rows.T).T
    return _gathered(chain, rows, [(chain.transitions(stretch), seen) for stretch, seen in visits.values()])


def _cut_at(turn: int, stretch: Stretch) -> Iterator[tuple[int, int]]:
    """A stretch cut at the turn: seconds left at the beginning of each piece, and its length."""
    before = stretch.left - turn
    if 0 < before < stretch.seconds:
        yield stretch.left, before
        yield turn, stretch.seconds - before
    else:
        yield stretch.left, stretch.seconds


def _to_points(contest: FirstTo) -> Courses:
    """Follow a contest to N points leg by leg."""
    title = contest.title
    sides = np.sign(contest.board.margins)
    rows = _starts(contest)
    visits: list[tuple[Transitions, Array]] = []
    for period in range(title.periods):
        if period == title.periods - 1 and title.periods > 1:
            rows = _split(rows, np.tile(sides, contest.break_modes))
        rows = contest.into_modes(period, rows.T).T
        for number, (leg, solver) in enumerate(contest.solvers(period)):
            if number == 1:
                rows = _split(rows, np.tile(sides, contest.modes))
            seen = solver.visits(rows.T)
            visits.append((leg.transitions, seen.sum(axis=0)))
            rows = solver.push(rows.T, seen).T
        rows = contest.out_of_modes(rows.T).T
    return _gathered(contest, rows, visits)


def _split(rows: Array, sides: NDArray[np.int64]) -> Array:
    """One column of chances as three, by who trails: side A, side B, neither."""
    return np.stack([np.where(sides == side, rows[:, 0], 0.0) for side in (-1, 1, 0)], axis=1)


def _gathered(contest: Solved, rows: Array, visits: Sequence[tuple[Transitions, Array]]) -> Courses:
    final = rows.reshape(contest.break_modes, contest.copies, contest.places // contest.copies, -1).sum(axis=0)
    if final.shape[-1] == 1:  # too short a contest to have a turn
        final = np.concatenate([np.zeros_like(final), np.zeros_like(final), final], axis=-1)
    found = Courses(contest, final, _on_the_way(contest, visits))
    contest.forget()
    return found


def _on_the_way(contest: Solved, visits: Sequence[tuple[Transitions, Array]]) -> OnTheWay:
    copies, size = contest.copies, contest.places // contest.copies
    names = ["points", "assisted", "noticeable", *contest.title.rules]
    totals = {name: np.zeros((2, copies)) for name in names}
    kinds = list(contest.title.attempts) or [PACE]
    tried, made = ({kind: np.zeros((2, copies, size)) for kind in kinds} for _ in range(2))
    cut, lead_changes = np.zeros((2, copies)), np.zeros(copies)
    leads = contest.board.leads
    for transitions, seen in visits:
        weights = seen.reshape(contest.modes, copies * size)

        def by_place(rates: Array, weights: Array = weights) -> Array:
            weighed = np.einsum("smp,mp->sp", rates.reshape(2, *weights.shape), weights)
            return np.asarray(weighed.reshape(2, copies, size))

        for name, total in totals.items():
            if name in transitions.tally.figures:
                total += by_place(transitions.tally.rates(name)).sum(axis=2)
        for kind in kinds:
            for sums, rates in zip((tried[kind], made[kind]), transitions.tally.attempts(kind), strict=True):
                sums += by_place(rates)
        cut += by_place(transitions.cut()).sum(axis=2)
        for jump in transitions.jumps:
            turned = leads * leads[contest.board.landing(jump.gain)] < 0
            if turned.any():
                flow = (weights[jump.modes] * jump.chance).sum(axis=0) * turned
                lead_changes += flow.reshape(copies, size).sum(axis=1)
    return OnTheWay({name: total.T for name, total in totals.items()}, lead_changes, tried, made, cut)
