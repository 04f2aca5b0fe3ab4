"""What a resolved attack does, from every state: where it leads, what it scores, what each rule has to do with it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, partial

import numpy as np
from scipy.sparse import coo_array, csr_array
from scipy.special import expit, logit

from venue.contest import effects, race
from venue.contest.attempt_mix import shares
from venue.contest.automaton import Automaton, Event, Mode
from venue.contest.draws import Draw, draws_of, with_draws
from venue.contest.effects import Array, Moment, Parts
from venue.contest.match import Match
from venue.contest.scoreboard import Board
from venue.contest.skills import Gap, attack_gap, even_gap
from venue.contest.tally import Chances, Known, Losses, Tally, Tries, Whole
from venue.scenario.rules import Block, RuleBase, RunBoost, Turnover
from venue.scenario.title import Title


def with_skill(chance: float | None, gap: Gap) -> Gap:
    """A chance moved by a skill gap in log-odds. Open play, which has no base chance of its own, starts from 1/2."""
    moved: Gap = expit(logit(0.5 if chance is None else chance) + gap)
    return moved


# What is tried in a race: to be faster.
PACE = "pace"


@dataclass(frozen=True)
class Jump:
    """One thing that a resolved attack may do, from some modes alike.

    Attributes
    ----------
    modes, to
        Modes from which it may happen, and the mode that follows each of them.
    gain
        Points by which side A's lead grows.
    chance
        Chance of it, shape (modes, places).
    event
        What happened: "score", "miss", "lost", or "wait" where an attack goes on; empty in a race.
    attempt
        The attempt kind, where there was one.
    """

    modes: Whole
    to: Whole
    gain: int
    chance: Array
    event: str = ""
    attempt: str = ""


class Transitions:
    """Where a resolved attack leads from every state, and what it brings.

    Parameters
    ----------
    jumps
        All that may happen; from each state the chances sum to one.
    board
        The scoreboard.
    modes
        Number of modes.

    Attributes
    ----------
    states
        Number of states.
    tally
        What a resolved attack brings.
    """

    def __init__(self, jumps: Sequence[Jump], board: Board, modes: int, tally: Tally) -> None:
        self.jumps, self.board, self.tally = tuple(jumps), board, tally
        self.places = len(board.margins)
        self.shape = modes, self.places
        self.states = modes * self.places

    @cached_property
    def _entries(self) -> tuple[Whole, Whole, Array]:
        places = np.arange(self.places)
        rows = [(jump.modes[:, None] * self.places + places).ravel() for jump in self.jumps]
        columns = [(jump.to[:, None] * self.places + self.board.landing(jump.gain)).ravel() for jump in self.jumps]
        values = [jump.chance.ravel() for jump in self.jumps]
        return np.concatenate(rows), np.concatenate(columns), np.concatenate(values)

    @property
    def rows(self) -> Whole:
        """Rows of the entries of the jump matrix R, which are to be added up; rows of R sum to one."""
        return self._entries[0]

    @property
    def columns(self) -> Whole:
        """Columns of the entries of R."""
        return self._entries[1]

    @property
    def values(self) -> Array:
        """Values of the entries of R."""
        return self._entries[2]

    def dense(self) -> Array:
        """R as a full matrix."""
        found: Array = self.sparse().toarray()
        return found

    def sparse(self) -> csr_array:
        """R as a sparse matrix."""
        return coo_array((self.values, (self.rows, self.columns)), shape=(self.states, self.states)).tocsr()

    def quick(self) -> csr_array:
        """R as a sparse matrix for products alone: an entry for each jump, where several lead to one state too."""
        merged: dict[tuple[int, bytes, int], tuple[Jump, Array]] = {}
        for jump in self.jumps:
            key = id(jump.modes), jump.to.tobytes(), jump.gain
            merged[key] = jump, merged[key][1] + jump.chance if key in merged else jump.chance
        counts = np.zeros(self.shape[0], dtype=np.int64)
        for jump, _ in merged.values():
            counts[jump.modes] += 1
        if (counts != counts[0]).any():
            return self.sparse()
        each = int(counts[0])
        columns = np.empty((*self.shape, each), dtype=np.int32)
        values = np.empty((*self.shape, each))
        counts[:] = 0
        for jump, chance in merged.values():
            slot = counts[jump.modes]
            columns[jump.modes, :, slot] = jump.to[:, None] * self.places + self.board.landing(jump.gain)
            values[jump.modes, :, slot] = chance
            counts[jump.modes] += 1
        starts = np.arange(0, self.states * each + 1, each, dtype=np.int32)
        return csr_array((values.ravel(), columns.ravel(), starts), shape=(self.states, self.states))

    def cut(self) -> Array:
        """Chance that a resolved attack scores past an end of the board and stays there: shape (2, states), the lower
        end first."""
        found = np.zeros((2, *self.shape))
        for jump in self.jumps:
            if jump.gain:
                short = self.board.margins[self.board.landing(jump.gain)] != self.board.margins + jump.gain
                here = np.ix_(jump.modes, short)
                found[int(jump.gain > 0)][here] += jump.chance[:, short]
        return found.reshape(2, -1)


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
        by_form = self._in_race if self.title.race else self._by_turns if self.title.play == "turns" else self._in_open
        jumps, tally = by_form(rules, left)
        return Transitions(jumps, self.board, len(self.automaton.modes), tally)

    @property
    def _shape(self) -> tuple[int, int]:
        return len(self.automaton.modes), len(self.margins)

    def _after(self, modes: Whole, event: Event, side: int, player: str | None = None) -> Whole:
        return np.array([self.automaton.after(mode, event, side, player) for mode in modes.tolist()])

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
        if isinstance(rule, RunBoost) or effects.speaks_of_leaders(rule):
            return True  # it goes by who scored, or says itself what becomes of either side
        both = all(effects.serves(self.title, self.match, rule, side) for side in (0, 1))
        return d > 0 if both else True

    def _by_turns(self, rules: Mapping[str, RuleBase], left: float) -> tuple[list[Jump], Tally]:
        jumps: list[Jump] = []
        tries: list[Tries] = []
        losses: list[Losses] = []
        for side in (0, 1):
            modes = np.array([index for index, mode in enumerate(self.automaton.modes) if mode.holder == side])
            if not len(modes):
                continue
            over = self._over(modes)
            jumps += self._going_on(modes, side)
            lost = self._known(modes, 1 - side, partial(self._lost_by, rules, left, side))
            jumps.append(Jump(modes, self._after(modes, "lost", side), 0, over * lost.chance, "lost"))
            would_bring = np.zeros((len(modes), len(self.margins)))
            for name, player, part in self._takers(side, left):
                share = over * part
                kind = self.title.attempts[name]
                known = self._known(modes, side, partial(self._tried_by, rules, left, side, name, player), player)
                tried = (1.0 - lost.chance) * share
                after_score = self._after(modes, "score", side, player)
                after_miss = self._after(modes, "miss", side, player)
                gain = kind.points if side == 0 else -kind.points
                jumps.append(Jump(modes, after_score, gain, tried * known.chance, "score", name))
                jumps.append(Jump(modes, after_miss, 0, tried * (1.0 - known.chance), "miss", name))
                tries.append(Tries(side, name, kind.points, modes, tried, known))
                would_bring += share * known.unaided * kind.points
            losses.append(Losses(side, modes, would_bring, lost))
        return jumps, Tally(self._shape, tuple(tries), tuple(losses))

    def _over(self, modes: Whole) -> float | Array:
        """Chance that an attack is over within the second, where attacks have a limit: shape (modes, 1); else 1, since
        the step of the chain sees to it."""
        if not self.title.longest_attack:
            return 1.0
        last = self._ages(modes) == self.title.longest_attack - 1
        return np.where(last & (self.title.at_limit == "attempt"), 1.0, self.title.attack_hazard)[:, None]

    def _ages(self, modes: Whole) -> Whole:
        return np.array([self.automaton.modes[index].age for index in modes.tolist()])

    def _going_on(self, modes: Whole, side: int) -> Iterator[Jump]:
        """Where attacks have a limit: those that go on for another second, and those that are lost at their limit."""
        if not self.title.longest_attack:
            return
        last = self._ages(modes) == self.title.longest_attack - 1
        events: tuple[tuple[Array, Event], ...] = (
            (~last, "wait"), (last & (self.title.at_limit == "lost"), "lost"),
        )  # fmt: skip
        for which, event in events:
            if which.any():
                chance = np.full((int(which.sum()), len(self.margins)), 1.0 - self.title.attack_hazard)
                yield Jump(modes[which], self._after(modes[which], event, side), 0, chance, event)

    def shares(self, side: int, left: float) -> dict[str, float | Array]:
        """Share of each attempt kind among those that a side makes, at each place (or everywhere)."""
        return shares(self.title, self.match, side, self._moment(side, left, self.automaton.modes[0]))

    def _takers(self, side: int, left: float) -> list[tuple[str, str | None, float | Array]]:
        """Attempt kinds with the players of a side that take them, and their shares of all attempts, at each place (or
        everywhere); None for the side as one."""
        found: list[tuple[str, str | None, float | Array]] = []
        mixed = self.shares(side, left)
        for name, kind in self.title.attempts.items():
            if kind.taken_by:
                found += [(name, player, mixed[name] * share) for player, share in kind.taken_by.items() if share]
            else:
                found.append((name, None, mixed[name]))
        return found

    def _lost_by(self, rules: Mapping[str, RuleBase], left: float, side: int, mode: Mode) -> Chances:
        return self.lost(rules, left, mode, side)

    def _tried_by(
        self, rules: Mapping[str, RuleBase], left: float, side: int, attempt: str, player: str | None, mode: Mode
    ) -> Chances:
        return self.attempt(rules, left, mode, side, attempt, player)

    def _known(self, modes: Whole, side: int, chances: Callable[[Mode], Chances], player: str | None = None) -> Known:
        """Chances of some modes, worked out once for all modes in which a side, or a player, remembers the same."""
        places: dict[tuple[int, ...], int] = {}
        found: list[Chances] = []
        which = []
        for index in modes.tolist():
            mode = self.automaton.modes[index]
            own = self.automaton.own_run(mode, side, player), self.automaton.own_missed(mode, side, player)
            place = places.setdefault((mode.run[side], mode.missed[side], *own), len(found))
            if place == len(found):
                found.append(chances(mode))
            which.append(place)
        return Known(found, np.array(which))

    def _in_open(self, rules: Mapping[str, RuleBase], left: float) -> tuple[list[Jump], Tally]:
        jumps, tries = [], []
        modes = np.arange(len(self.automaton.modes))
        mixed = self.shares(0, left)
        for name, kind in self.title.attempts.items():
            found = [self.next_score(rules, left, mode, name) for mode in self.automaton.modes]
            tried = np.full(self._shape, mixed[name])
            for side, sign in ((0, 1), (1, -1)):
                known = Known(found if side == 0 else [one.other() for one in found], modes)
                after = self._after(modes, "score", side)
                jumps.append(Jump(modes, after, sign * kind.points, tried * known.chance, "score", name))
                tries.append(Tries(side, name, kind.points, modes, tried, known))
        return jumps, Tally(self._shape, tuple(tries))

    def pace(self, rules: Mapping[str, RuleBase], left: float, side: int) -> Chances:
        """In a race: pace of a side as a share of even pace, unaided and with the rules."""
        at = self._moment(side, left, self.automaton.modes[0])
        base, parts = race.pace_parts(self.title, rules, self.match, self.gap, side, at)
        # Nobody runs backwards, and nobody at more than twice the pace.
        return _settle(1.0 + base, parts, 0.0, 2.0)

    def _in_race(self, rules: Mapping[str, RuleBase], left: float) -> tuple[list[Jump], Tally]:
        modes = np.arange(1)
        paces = [self.pace(rules, left, side) for side in (0, 1)]
        changes = race.changes(self.title, paces[0].chance - paces[1].chance)
        drawn = self.draws(rules, left)
        jumps = [Jump(modes, modes, gain, chance[None, :]) for gain, chance in with_draws(changes, drawn)]
        even = np.full(self._shape, self.title.race.pace if self.title.race else 0.0)
        tries = [Tries(side, PACE, 1, modes, even, Known([found], modes)) for side, found in enumerate(paces)]
        for draw in drawn:
            sure = Chances(np.zeros_like(even[0]), np.ones_like(even[0]), {draw.rule: np.ones_like(even[0])})
            expected = np.array(draw.lengths) @ draw.chances
            tries.append(Tries(draw.side, draw.rule, 1, modes, expected[None, :], Known([sure], modes)))
        return jumps, Tally(self._shape, tuple(tries))

    def draws(self, rules: Mapping[str, RuleBase], left: float) -> list[Draw]:
        """In a race: what either side may draw within a second."""
        mode = self.automaton.modes[0]
        return [
            draw
            for side in (0, 1)
            for draw in draws_of(self.title, rules, self.match, side, self._moment(side, left, mode))
        ]
