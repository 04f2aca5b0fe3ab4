"""The course of a contest from its start to its end: what happens on average on the way.

Every state is followed forward from the start, many skill gaps at once. A level score remembers who led last, so that
lead changes can be counted; and from the turn on (the start of the last period; half-way where there is only one) who
trailed at the turn is remembered too, so that comebacks can.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import sparse

from venue.contest.board import MarginBoard
from venue.contest.chain import Chain, first_span, wider_span
from venue.contest.effects import Array
from venue.contest.first_to import FirstTo, score_board
from venue.contest.jumps import Jumps
from venue.contest.modes import Automaton
from venue.contest.setting import Setting
from venue.contest.solved import Solved
from venue.contest.stretches import period_stretches
from venue.scenario.title import Title

# States of all gaps together that are followed at once.
_AT_ONCE = 200_000


@dataclass(frozen=True)
class Course:
    """One setting of a title from start to end.

    Attributes
    ----------
    solved
        The contest; a level score tells who led last.
    final
        Chance of each place at the end, by who trailed at the turn: columns side A, side B, neither.
    visits
        Expected resolved attacks from each state, with the jumps in force.
    """

    solved: Solved
    final: Array
    visits: tuple[tuple[Jumps, Array], ...]

    @property
    def margin(self) -> dict[int, float]:
        """Distribution of the final margin: chance by points."""
        solved = self.solved
        chances = np.bincount(solved.board.margins + solved.zero, self.final.sum(axis=1), len(solved.margins))
        return dict(zip(solved.margins.tolist(), chances.tolist(), strict=True))

    @property
    def win(self) -> float:
        """Chance that side A wins; a level end counts as the title says."""
        return float(self.solved.worth() @ self.final.sum(axis=1))

    @property
    def comebacks(self) -> tuple[float, float]:
        """Chance that a side trails at the turn, and chance that one does and yet wins."""
        won = self.solved.worth() @ self.final
        return float(self.final[:, :2].sum()), float(won[0] + self.final[:, 1].sum() - won[1])

    @property
    def lead_changes(self) -> float:
        """Expected number of times that the lead goes to the side that did not have it last; a tie is no change."""
        leads = self.solved.board.leads
        size = len(leads)
        total = 0.0
        for jumps, visits in self.visits:
            turned = leads[jumps.rows % size] * leads[jumps.columns % size] < 0
            total += float(visits[jumps.rows[turned]] @ jumps.values[turned])
        return total

    def total(self, name: str) -> Array:
        """Expected total over the contest, by side: `points`, `assisted`, `noticeable` or owed to a rule."""
        total = np.zeros(2)
        for jumps, visits in self.visits:
            total += jumps.tally.rates(name) @ visits
        return total


def courses(title: Title, settings: Sequence[Setting]) -> list[Course]:
    """The course of a title in settings that differ in the skill gap only."""
    automaton = Automaton(title, settings[0])
    if title.first_to is not None:
        scores = score_board(title, recalls_leader=True)
        return [_to_points(FirstTo(title, setting, board=scores, automaton=automaton)) for setting in settings]
    spans = [first_span(title, setting) for setting in settings]
    low, high = min(span[0] for span in spans), max(span[1] for span in spans)
    while True:
        board = MarginBoard(low, high, recalls_leader=True)
        chains = [Chain(title, setting, board=board, automaton=automaton) for setting in settings]
        group = max(1, _AT_ONCE // chains[0].states)
        found = [
            course for first in range(0, len(chains), group) for course in _by_clock(chains[first : first + group])
        ]
        wider = wider_span(low, high, np.max([list(course.margin.values()) for course in found], axis=0))
        if wider is None:
            return found
        low, high = wider


def _by_clock(chains: Sequence[Chain]) -> list[Course]:
    """Follow chains of one title, with one range of margins, second by second."""
    lead, count = chains[0], len(chains)
    title = lead.title
    sides = np.sign(lead.board.margins)
    # Seconds left at the turn.
    turn = title.seconds if title.periods > 1 else title.seconds // 2
    rows = np.stack([chain.start for chain in chains])[:, :, None]
    visits: dict[object, tuple[list[Jumps], Array]] = {}
    steps: dict[object, sparse.csr_array] = {}
    for period in range(title.periods):
        rows = np.einsum(
            "nbpc,bu->nupc", rows.reshape(count, lead.break_modes, lead.places, -1), lead.automaton.entry(period)
        )
        for stretch in period_stretches(title, period):
            key = stretch.signature
            if key not in steps:
                jumps = [chain.jumps(stretch) for chain in chains]
                steps[key] = _step(jumps, lead.hazard)
                visits[key] = jumps, np.zeros(count * lead.states)
            step, seen = steps[key], visits[key][1]
            columns = rows.shape[-1]
            flat = rows.reshape(count * lead.states, columns)
            for left in range(stretch.left, stretch.left - stretch.seconds, -1):
                if left == turn:
                    flat = _split(flat, np.tile(sides, count * lead.modes))
                seen += flat.sum(axis=1)
                flat = step @ flat
            rows = flat.reshape(count, lead.modes, lead.places, -1)
        rows = np.stack([rows[:, lead.automaton.exits == place].sum(axis=1) for place in range(lead.break_modes)], 1)
    final = rows.sum(axis=1)
    if final.shape[-1] == 1:  # too short a contest to have a turn
        final = np.concatenate([np.zeros_like(final), np.zeros_like(final), final], axis=-1)
    parts = [(jumps, lead.hazard * seen.reshape(count, -1)) for jumps, seen in visits.values()]
    return [
        Course(chain, final[place], tuple((jumps[place], seen[place]) for jumps, seen in parts))
        for place, chain in enumerate(chains)
    ]


def _split(flat: Array, sides: Array) -> Array:
    """One column of chances as three, by who trails: side A, side B, neither."""
    return np.stack([np.where(sides == side, flat[:, 0], 0.0) for side in (-1, 1, 0)], axis=1)


def _step(jumps: Sequence[Jumps], hazard: float) -> sparse.csr_array:
    """The one-second steps of several chains of the same states, turned, as one matrix of blocks."""
    states = jumps[0].states
    offsets = [place * states for place in range(len(jumps))]
    stay = np.arange(len(jumps) * states)
    rows = np.concatenate([stay, *(item.rows + offset for item, offset in zip(jumps, offsets, strict=True))])
    columns = np.concatenate([stay, *(item.columns + offset for item, offset in zip(jumps, offsets, strict=True))])
    values = np.concatenate([np.full(len(stay), 1.0 - hazard), *(hazard * item.values for item in jumps)])
    return sparse.coo_array((values, (columns, rows)), shape=(len(stay), len(stay))).tocsr()


def _to_points(contest: FirstTo) -> Course:
    """Follow a contest to N points leg by leg."""
    title = contest.title
    sides = np.sign(contest.board.margins)
    rows = contest.start[None, :]
    visits: list[tuple[Jumps, Array]] = []
    for period in range(title.periods):
        solvers = contest.solvers(period)
        if period == title.periods - 1 and title.periods > 1:
            rows = _split(rows.T, np.tile(sides, contest.break_modes)).T
        rows = contest.into_modes(period, rows)
        for number, (leg, solver) in enumerate(solvers):
            if number == 1:
                rows = _split(rows.T, np.tile(sides, contest.modes)).T
            seen = solver.visits(rows)
            visits.append((leg.jumps, seen.sum(axis=0)))
            rows = solver.push(rows, seen)
        rows = contest.out_of_modes(rows)
    final = rows.reshape(len(rows), contest.break_modes, -1).sum(axis=1).T
    if final.shape[1] == 1:
        final = np.concatenate([np.zeros_like(final), np.zeros_like(final), final], axis=1)
    return Course(contest, final, tuple(visits))
