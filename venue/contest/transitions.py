"""What a resolved attack does, from every state: where it leads, what it scores, what each rule has to do with it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import partial

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.special import expit, logit

from venue.contest import effects, race
from venue.contest.automaton import Automaton, Mode
from venue.contest.effects import Array, Moment, Parts
from venue.contest.match import Match
from venue.contest.scoreboard import Board
from venue.contest.skills import Gap, attack_gap, even_gap
from venue.scenario.rules import Block, RuleBase, RunBoost, Turnover
from venue.scenario.title import Title


def with_skill(chance: float | None, gap: Gap) -> Gap:
    """A chance moved by a skill gap in log-odds. Open play, which has no base chance of its own, starts from 1/2."""
    moved: Gap = expit(logit(0.5 if chance is None else chance) + gap)
    return moved


# What is tried in a race: to be faster.
PACE = "pace"


@dataclass(frozen=True)
class Chances:
    """Chances over the places of the board: unaided, with the rules, and what each rule has of the difference.

    `blocked` is the chance that it would have gone in, but was blocked; None where nobody blocks.
    """

    unaided: Array
    chance: Array
    parts: Parts
    blocked: Array | None = None


@dataclass(frozen=True)
class Tally:
    """What a resolved attack brings on average, from every state (index = mode * places + place of the board).

    In a race "points" are lengths run, a second after the other; those that are owed to rules are the assisted ones.

    Attributes
    ----------
    assisted
        Expected scores that would have failed unaided, by side that scores: shape (2, states).
    noticeable
        The same, each weighed by the share of its chance that is owed to the rules: a score made at 52 % rather than
        50 % passes for luck, one made at 90 % rather than 30 % does not.
    points
        Expected points, by side: shape (2, states).
    owed
        Expected points beyond the base chances, by side, for each rule: arrays of shape (2, states).
    tried, made
        Expected attempts and successes by side for each attempt kind, likewise (in a race: lengths at even pace, and
        lengths run).
    """

    assisted: Array
    noticeable: Array
    points: Array
    owed: dict[str, Array]
    tried: dict[str, Array] = field(default_factory=dict)
    made: dict[str, Array] = field(default_factory=dict)

    @classmethod
    def empty(cls, states: int, rules: Mapping[str, RuleBase], attempts: Iterable[str]) -> Tally:
        """Nothing so far."""
        assisted, noticeable, points = np.zeros((3, 2, states))
        tried, made = ({name: np.zeros((2, states)) for name in attempts} for _ in range(2))
        return cls(assisted, noticeable, points, {name: np.zeros((2, states)) for name in rules}, tried, made)

    def count(
        self, side: int, here: slice, attempt: str, *, tried: Array | float, chance: Array, unaided: Array, worth: int
    ) -> None:
        """Add an attempt that is made with chance `tried` and succeeds with `chance`, or `unaided` without rules."""
        self.tried[attempt][side, here] += tried
        self.made[attempt][side, here] += tried * chance
        self.points[side, here] += tried * chance * worth
        assisted = tried * np.maximum(0.0, chance - unaided)
        self.assisted[side, here] += assisted
        self.noticeable[side, here] += assisted * (chance - unaided) / np.maximum(chance, 1e-300)

    def rates(self, name: str) -> Array:
        """One of the tallies by name, or what a rule is owed; zeros for a rule that is not at work."""
        if name in ("assisted", "noticeable", "points"):
            found: Array = getattr(self, name)
            return found
        return self.owed.get(name, np.zeros_like(self.points))


@dataclass(frozen=True)
class Transitions:
    """Where a resolved attack leads from every state, and what it brings.

    Attributes
    ----------
    rows, columns, values
        Entries of the jump matrix R, to be added up; rows sum to one.
    states
        Number of states.
    """

    rows: NDArray[np.int64]
    columns: NDArray[np.int64]
    values: Array
    states: int
    tally: Tally

    def dense(self) -> Array:
        """R as a full matrix."""
        matrix = np.zeros((self.states, self.states))
        np.add.at(matrix, (self.rows, self.columns), self.values)
        return matrix

    def sparse(self) -> sparse.csr_array:
        """R as a sparse matrix."""
        return sparse.coo_array((self.values, (self.rows, self.columns)), shape=(self.states, self.states)).tocsr()


def _settle(base: Array, parts: Parts, low: float, high: float) -> Chances:
    """Chances within bounds, and what the bounds leave of each rule's part, in proportion."""
    change = effects.total(parts.values(), base)
    unaided = np.clip(base, low, high)
    chance = np.clip(base + change, low, high)
    with np.errstate(divide="ignore", invalid="ignore"):
        kept = np.where(np.abs(change) > 1e-15, (chance - unaided) / change, 1.0)
    return Chances(unaided, chance, {name: part * kept for name, part in parts.items()})


class TransitionBuilder:
    """Builds the transitions of one title for one match, over the places of a scoreboard.

    Parameters
    ----------
    gap
        Skill gap at each place, where a board stands for many contests; the match's everywhere if left out.
    """

    def __init__(
        self, title: Title, match: Match, automaton: Automaton, board: Board, *, gap: Array | None = None
    ) -> None:
        self.title = title
        self.match = match
        self.automaton = automaton
        self.board = board
        self.margins = board.margins
        self.gap: Gap = match.gap if gap is None else gap

    def build(self, rules: Mapping[str, RuleBase], left: float) -> Transitions:
        """Transitions under the given rules with `left` seconds to go in the contest (NaN where no clock runs)."""
        size = len(self.margins)
        states = len(self.automaton.modes) * size
        tally = Tally.empty(states, rules, self.title.attempts or [PACE])
        by_form = self._in_race if self.title.race else self._by_turns if self.title.play == "turns" else self._in_open
        outcomes = list(by_form(rules, left, tally))
        places = np.arange(size)
        rows = [mode * size + places for mode, _, _, _ in outcomes]
        columns = [to * size + self.board.landing(gain) for _, _, gain, to in outcomes]
        values = [chance for _, chance, _, _ in outcomes]
        return Transitions(np.concatenate(rows), np.concatenate(columns), np.concatenate(values), states, tally)

    def _moment(self, side: int, left: float, mode: Mode, player: str | None = None) -> Moment:
        d = (-self.margins if side == 0 else self.margins).astype(float)
        own = self.automaton.own_run(mode, side, player), self.automaton.own_missed(mode, side, player)
        return Moment(d, left, mode.run[side], mode.missed[side], self.board.points_left, *own)

    def attempt(
        self, rules: Mapping[str, RuleBase], left: float, mode: Mode, side: int, attempt: str, player: str | None = None
    ) -> Chances:
        """Chances that an attempt of a side, or of one of its players, succeeds, in play by turns."""
        kind = self.title.attempts[attempt]
        at = self._moment(side, left, mode, player)
        skill = attack_gap(self.title, self.match, self.gap, side, attempt, player)
        base = np.full(at.d.shape, with_skill(kind.chance, skill))
        parts = effects.side_shifts(rules, self.title, self.match, side, base, at, attempt)
        shifted = base + effects.total(parts.values(), base)
        parts |= effects.side_lifts(rules, self.title, self.match, side, shifted, at, attempt, kind.points)
        found = _settle(base, parts, self.title.minimum_chance, self.title.maximum_chance)
        return self._past_the_block(rules, left, mode, side, attempt, found)

    def _past_the_block(
        self, rules: Mapping[str, RuleBase], left: float, mode: Mode, side: int, attempt: str, found: Chances
    ) -> Chances:
        """Chances of an attempt once the other side has tried to block it, which comes after all else."""
        if not self.title.block and not any(isinstance(rule, Block) for rule in rules.values()):
            return found
        block = self._defence(rules, left, mode, 1 - side, Block, self.title.block, attempt)
        parts = {name: part * (1.0 - block.chance) for name, part in found.parts.items()}
        parts |= {name: -part * found.unaided for name, part in block.parts.items()}
        return Chances(
            found.unaided * (1.0 - block.unaided), found.chance * (1.0 - block.chance), parts,
            blocked=found.chance * block.chance,
        )  # fmt: skip

    def lost(self, rules: Mapping[str, RuleBase], left: float, mode: Mode, attacker: int) -> Chances:
        """Chances that an attack is lost before an attempt, in play by turns."""
        return self._defence(rules, left, mode, 1 - attacker, Turnover, self.title.turnover)

    def _defence(
        self, rules: Mapping[str, RuleBase], left: float, mode: Mode, defender: int,
        kind: type[Turnover] | type[Block], unaided: float, attempt: str | None = None,
    ) -> Chances:  # fmt: skip
        """Chances that a side takes the attack away, or blocks an attempt that would have gone in."""
        at = self._moment(defender, left, mode)
        base = np.full(at.d.shape, unaided)
        parts = effects.side_defences(rules, self.title, self.match, defender, base, at, kind, attempt)
        return _settle(base, parts, 0.0, 1.0)

    def next_score(self, rules: Mapping[str, RuleBase], left: float, mode: Mode, attempt: str) -> Chances:
        """Chances that side A makes the next score, in open play. A rule for both sides acts for whoever trails."""
        kind = self.title.attempts[attempt]
        again = self.title.scores_again
        scorer = 0.5 if again is None or mode.holder < 0 else again if mode.holder == 0 else 1.0 - again
        base = np.full(self.margins.shape, with_skill(scorer, even_gap(self.title, self.match, self.gap, kind.skill)))
        parts: Parts = {}
        for lifting in (False, True):
            chance_a = base + effects.total(parts.values(), base)
            found: Parts = {}
            for side, sign in ((0, 1.0), (1, -1.0)):
                at = self._moment(side, left, mode)
                acts = partial(self._acts, d=at.d)
                if lifting:
                    chance = chance_a if side == 0 else 1.0 - chance_a
                    new = effects.side_lifts(
                        rules, self.title, self.match, side, chance, at, attempt, kind.points, acts
                    )
                else:
                    own = base if side == 0 else 1.0 - base
                    new = effects.side_shifts(rules, self.title, self.match, side, own, at, attempt)
                for name, part in new.items():
                    found[name] = found.get(name, np.zeros_like(base)) + sign * acts(rules[name]) * part
            parts |= found
        # Minimum and maximum bound the chances of both sides, which share one.
        low, high = self.title.minimum_chance, self.title.maximum_chance
        return _settle(base, parts, max(low, 1.0 - high), min(high, 1.0 - low))

    def _acts(self, rule: RuleBase, d: Array) -> effects.Mask | bool:
        """Where a rule acts for a side in open play: one chance serves both, so the side that trails has it."""
        if isinstance(rule, RunBoost):
            return True  # it goes by who scored, not by who trails
        both = all(effects.serves(self.title, self.match, rule, side) for side in (0, 1))
        return d > 0 if both else True

    def _by_turns(
        self, rules: Mapping[str, RuleBase], left: float, tally: Tally
    ) -> Iterator[tuple[int, Array, int, int]]:
        size = len(self.margins)
        # What a side remembers of itself is all that its chances ask; many modes share it.
        known: dict[tuple[object, ...], Chances] = {}
        takers = _takers(self.title)
        for index, mode in enumerate(self.automaton.modes):
            side = mode.holder
            here = slice(index * size, (index + 1) * size)
            asked: tuple[object, ...] = (None, side, mode.run[1 - side], mode.missed[1 - side])
            if asked not in known:
                known[asked] = self.lost(rules, left, mode, side)
            lost = known[asked]
            yield index, lost.chance, 0, self.automaton.after(index, "lost", side)
            for name, player, share in takers:
                kind = self.title.attempts[name]
                own = self.automaton.own_run(mode, side, player), self.automaton.own_missed(mode, side, player)
                asked = (name, player, side, mode.run[side], mode.missed[side], own)
                if asked not in known:
                    known[asked] = self.attempt(rules, left, mode, side, name, player)
                found = known[asked]
                tried = (1.0 - lost.chance) * share
                gain = kind.points if side == 0 else -kind.points
                yield index, tried * found.chance, gain, self.automaton.after(index, "score", side, player)
                yield index, tried * (1.0 - found.chance), 0, self.automaton.after(index, "miss", side, player)
                tally.count(
                    side, here, name, tried=tried, chance=found.chance, unaided=found.unaided, worth=kind.points
                )
                for rule, part in found.parts.items():
                    tally.owed[rule][side, here] += tried * part * kind.points
                for rule, part in lost.parts.items():
                    tally.owed[rule][side, here] -= part * share * found.unaided * kind.points

    def _in_open(
        self, rules: Mapping[str, RuleBase], left: float, tally: Tally
    ) -> Iterator[tuple[int, Array, int, int]]:
        size = len(self.margins)
        for index, mode in enumerate(self.automaton.modes):
            here = slice(index * size, (index + 1) * size)
            for name, kind in self.title.attempts.items():
                found = self.next_score(rules, left, mode, name)
                yield index, kind.share * found.chance, kind.points, self.automaton.after(index, "score", 0)
                yield index, kind.share * (1.0 - found.chance), -kind.points, self.automaton.after(index, "score", 1)
                for side, chance, unaided in (
                    (0, found.chance, found.unaided),
                    (1, 1.0 - found.chance, 1.0 - found.unaided),
                ):
                    tally.count(side, here, name, tried=kind.share, chance=chance, unaided=unaided, worth=kind.points)
                for rule, part in found.parts.items():
                    tally.owed[rule][0, here] += kind.share * part * kind.points
                    tally.owed[rule][1, here] -= kind.share * part * kind.points

    def pace(self, rules: Mapping[str, RuleBase], left: float, side: int) -> Chances:
        """In a race: pace of a side as a share of even pace, unaided and with the rules."""
        at = self._moment(side, left, self.automaton.modes[0])
        base, parts = race.pace_parts(self.title, rules, self.match, self.gap, side, at)
        # Nobody runs backwards, and nobody at more than twice the pace.
        return _settle(1.0 + base, parts, 0.0, 2.0)

    def _in_race(
        self, rules: Mapping[str, RuleBase], left: float, tally: Tally
    ) -> Iterator[tuple[int, Array, int, int]]:
        paces = [self.pace(rules, left, side) for side in (0, 1)]
        for gain, chance in race.changes(self.title, paces[0].chance - paces[1].chance):
            yield 0, chance, gain, 0
        even = self.title.race.pace if self.title.race else 0.0
        everywhere = slice(0, len(self.margins))
        for side, found in enumerate(paces):
            tally.count(side, everywhere, PACE, tried=even, chance=found.chance, unaided=found.unaided, worth=1)
            for rule, part in found.parts.items():
                tally.owed[rule][side] += even * part


def _takers(title: Title) -> list[tuple[str, str | None, float]]:
    """Attempt kinds with the players that take them and their shares of all attempts; None for the side as one."""
    found: list[tuple[str, str | None, float]] = []
    for name, kind in title.attempts.items():
        if kind.taken_by:
            found += [(name, player, kind.share * share) for player, share in kind.taken_by.items() if share]
        else:
            found.append((name, None, kind.share))
    return found
