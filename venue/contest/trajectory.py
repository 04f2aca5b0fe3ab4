"""The course of a contest from its start to its end, at many skill gaps at once: what happens on average on the way.

Every state is followed forward from the start. A level score remembers who led last, so that lead changes can be
counted; and from the turn on (the start of the last period; half-way where there is only one) who trailed at the turn
is remembered too, so that comebacks can.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from venue.contest.automaton import Automaton
from venue.contest.chain import Chain, first_span, wider_span
from venue.contest.clock_segments import period_stretches
from venue.contest.effects import Array
from venue.contest.first_to import FirstTo, score_board
from venue.contest.match import Match
from venue.contest.scoreboard import MarginBoard, repeated
from venue.contest.solved import Solved
from venue.contest.transitions import Transitions
from venue.scenario.title import Title

# States of all gaps together that are followed at once.
_AT_ONCE = 300_000


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
    visits
        Expected resolved attacks from each state of all contests, with the transitions in force.
    """

    solved: Solved
    final: Array
    visits: tuple[tuple[Transitions, Array], ...]

    @property
    def size(self) -> int:
        """Places of one contest."""
        return int(self.final.shape[1])

    @property
    def board_margins(self) -> NDArray[np.int64]:
        """Margin at each place of one contest."""
        return self.solved.board.margins[: self.size]

    def by_gap(self, states: Array) -> Array:
        """Values of states (last axis) added up for each gap."""
        shape = (*states.shape[:-1], self.solved.modes, len(self.final), self.size)
        return np.asarray(np.sum(states.reshape(shape), axis=(-3, -1)))

    @cached_property
    def margins(self) -> Array:
        """Distribution of the final margin at each gap, over `solved.margins`."""
        # A level score has several places, every other margin one (or, to N points, several too).
        shown = self.board_margins[:, None] == self.solved.margins
        return np.asarray(self.final.sum(axis=2) @ shown)

    @cached_property
    def _won(self) -> Array:
        worth = self.solved.worth().reshape(len(self.final), self.size)
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
        leads = self.solved.board.leads
        total = np.zeros(len(self.final))
        for transitions, visits in self.visits:
            from_place, to_place = transitions.rows % len(leads), transitions.columns % len(leads)
            turned = leads[from_place] * leads[to_place] < 0
            rates = visits[transitions.rows[turned]] * transitions.values[turned]
            total += np.bincount(from_place[turned] // self.size, rates, minlength=len(total))
        return total

    def total(self, name: str) -> Array:
        """Expected total over the contest by gap and side, shape (gaps, 2): `points`, `assisted` or owed to a rule."""
        total = np.zeros((2, len(self.final)))
        for transitions, visits in self.visits:
            total += self.by_gap(transitions.tally.rates(name) * visits)
        return total.T


def courses(title: Title, matches: Sequence[Match]) -> list[Courses]:
    """The course of a title in matches that differ in the skill gap only: all in one, unless they are too many."""
    automaton = Automaton(title, matches[0])
    gaps = [match.gap for match in matches]
    if title.first_to is not None:
        scores = score_board(title, recalls_leader=True)
        return [
            _to_points(FirstTo(title, matches[0], board=repeated(scores, len(some)), automaton=automaton, gaps=some))
            for some in _groups(gaps, len(scores.margins) * len(automaton.modes))
        ]
    spans = [first_span(title, match) for match in matches]
    low, high = min(span[0] for span in spans), max(span[1] for span in spans)
    while True:
        board = MarginBoard(low, high, recalls_leader=True)
        found = [
            _by_clock(Chain(title, matches[0], board=repeated(board, len(some)), automaton=automaton, gaps=some))
            for some in _groups(gaps, len(board.margins) * len(automaton.modes))
        ]
        wider = wider_span(low, high, np.max([item.margins.max(axis=0) for item in found], axis=0))
        if wider is None:
            return found
        low, high = wider


def _groups(gaps: Sequence[float], states: int) -> list[Sequence[float]]:
    size = max(1, _AT_ONCE // states)
    return [gaps[first : first + size] for first in range(0, len(gaps), size)]


def _starts(contest: Solved) -> Array:
    """Every contest at its start: chances of break states, in one column."""
    rows = np.zeros((contest.break_modes, contest.places))
    size = contest.places // contest.copies
    rows[:, contest.board.start :: size] = contest.automaton.start()[:, None]
    return rows.reshape(-1, 1)


def _by_clock(chain: Chain) -> Courses:
    """Follow a chain second by second."""
    title = chain.title
    sides = np.sign(chain.board.margins)
    # Seconds left at the turn.
    turn = title.seconds if title.periods > 1 else title.seconds // 2
    rows = _starts(chain)
    visits: dict[object, tuple[Transitions, Array]] = {}
    steps: dict[object, sparse.csr_array] = {}
    for period in range(title.periods):
        rows = chain.into_modes(period, rows.T).T
        for stretch in period_stretches(title, period):
            key = stretch.signature
            if key not in steps:
                transitions = chain.transitions(stretch)
                stay = sparse.eye_array(chain.states, format="csr") * (1.0 - chain.hazard)
                steps[key] = (stay + chain.hazard * transitions.sparse()).T.tocsr()
                visits[key] = transitions, np.zeros(chain.states)
            step, seen = steps[key], visits[key][1]
            for left in range(stretch.left, stretch.left - stretch.seconds, -1):
                if left == turn:
                    rows = _split(rows, np.tile(sides, chain.modes))
                seen += rows.sum(axis=1)
                rows = step @ rows
        rows = chain.out_of_modes(rows.T).T
    return _gathered(chain, rows, [(transitions, chain.hazard * seen) for transitions, seen in visits.values()])


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
    return Courses(contest, final, tuple(visits))
