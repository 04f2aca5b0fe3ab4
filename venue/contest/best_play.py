"""The best that side A could do against a side B that plays as the title has it: backward induction over the contest.

At every second (to N points: at every score), margin and mode side A takes the best of the moves it has. Moves:

- miss: an attempt is missed on purpose, and play remembers a miss; in open play and in a race a gain is passed up;
- hold: by turns against the clock, an attempt that comes up is put off, and taken in any later second of the period;
- choose: by turns, the attempt is the best of the kinds that the title offers there, whoever may take it;
- let score: an attempt of the other side succeeds, unhindered.

How much of a gain belongs to a moment follows from the difference of two ways to play (performance difference lemma;
Kakade & Langford 2002): the gain is the sum, over the moments as ordinary play meets them, of what the best move there
adds when the best play follows.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from venue.contest.ablation import with_rules
from venue.contest.chain import Chain
from venue.contest.effects import Array
from venue.contest.first_to import FirstTo
from venue.contest.forms import solve, unaided
from venue.contest.match import Match
from venue.contest.second_by_second import from_the_end
from venue.contest.solved import Solved
from venue.contest.transitions import Jump, Transitions
from venue.scenario.title import Title

Move = Literal["miss", "hold", "choose", "let score"]
Moves = frozenset[Move]
MOVES: tuple[Move, ...] = ("miss", "hold", "choose", "let score")
# Smaller gains are rounding.
LEAST_GAIN = 1e-9
# Passes over the scores of a contest to N points after which the worth of the best play has settled.
_PASSES = 10_000


def moves_of(title: Title) -> tuple[Move, ...]:
    """The moves that a player of a title has, all of which are searched."""
    if title.race is not None:
        return ("miss",)
    if title.play == "open":
        return ("miss", "let score")
    several = sum(kind.share > 0.0 for kind in title.attempts.values()) > 1 or bool(title.players)
    return tuple(
        move
        for move in MOVES
        if not (move == "hold" and title.first_to is not None) and not (move == "choose" and not several)
    )


@dataclass(frozen=True)
class Where:
    """Where in the contest a gain is made.

    Attributes
    ----------
    left
        What is left of the contest at the moment that adds most: seconds, or points that the leader still needs.
    margin
        Points by which side A leads then.
    share
        Part of the whole gain that is made at that moment.
    earliest, latest
        What is left between which nine tenths of the gain are made.
    """

    left: int
    margin: int
    share: float
    earliest: int
    latest: int


@dataclass(frozen=True)
class Gain:
    """What some moves add to side A's chance to win from the start, if they are used as well as can be.

    Attributes
    ----------
    moves
        The moves.
    gain
        What they add.
    where
        Where it is made; None where there is nothing to gain.
    """

    moves: tuple[Move, ...]
    gain: float
    where: Where | None


@dataclass(frozen=True)
class BestPlay:
    """The best play of side A in one match.

    Attributes
    ----------
    side_a_wins
        Its chance to win as the title has it played.
    searched
        The moves that were searched.
    alone
        Gain of each of them by itself.
    together
        Gain of all of them together.
    """

    title: Title
    match: Match
    side_a_wins: float
    searched: tuple[Move, ...]
    alone: tuple[Gain, ...]
    together: Gain

    @cached_property
    def blame(self) -> dict[Move, tuple[str, ...]]:
        """Rules without which the gain of a move is gone: it is then no more than in the title without any rule."""
        asked = tuple(item.moves[0] for item in self.alone if item.gain > LEAST_GAIN)
        if not asked or not self.title.rules:
            return dict.fromkeys(asked, ())
        bare = self.bare
        found: dict[Move, tuple[str, ...]] = dict.fromkeys(asked, ())
        for name in self.title.rules:
            others = {other: rule for other, rule in self.title.rules.items() if other != name}
            left = gains(solve(with_rules(self.title, others), self.match), asked)
            for item in self.alone:
                move = item.moves[0]
                if move in asked and item.gain > bare[move] + LEAST_GAIN and left[move] <= bare[move] + LEAST_GAIN:
                    found[move] += (name,)
        return found

    @cached_property
    def bare(self) -> dict[Move, float]:
        """Gain of each move in the title without any rule."""
        return {move: item.gain for move, item in zip(self.searched, self._bare, strict=False)}

    @property
    def together_bare(self) -> float:
        """Gain of all moves together in the title without any rule."""
        return self._bare[-1].gain

    @cached_property
    def _bare(self) -> list[Gain]:
        return search(solve(unaided(self.title), self.match), _sets(self.searched))


def best_play(title: Title, match: Match) -> BestPlay:
    """Search the moves of side A one by one and all together."""
    contest = solve(title, match)
    searched = moves_of(title)
    found = search(contest, _sets(searched))
    return BestPlay(title, match, contest.win_chance, searched, tuple(found[:-1]), found[-1])


def _sets(moves: Sequence[Move]) -> list[Moves]:
    """Each move by itself, and all together."""
    return [*(frozenset([move]) for move in moves), frozenset(moves)]


def gains(contest: Solved, moves: Sequence[Move]) -> dict[Move, float]:
    """Gain of each of some moves by itself."""
    sets: list[Moves] = [frozenset([move]) for move in moves]
    return {move: item.gain for move, item in zip(moves, search(contest, sets), strict=True)}


def holding_back(contest: Solved) -> float:
    """Side A's chance to win if it may miss on purpose at will, with perfect timing."""
    return contest.win_chance + gains(contest, ("miss",))["miss"]


def search(contest: Solved, sets: Sequence[Moves]) -> list[Gain]:
    """Gains of sets of moves, in their order."""
    if isinstance(contest, Chain):
        values, made = _by_clock(contest, sets)
    elif isinstance(contest, FirstTo):
        values, made = _by_score(contest, sets)
    else:
        raise TypeError(type(contest).__name__)
    found = []
    for moves, value, table in zip(sets, values, made, strict=True):
        gain = float(contest.start @ value[:, 0]) - contest.win_chance
        where = _where(table, contest.margins.tolist()) if gain > LEAST_GAIN else None
        found.append(Gain(tuple(move for move in MOVES if move in moves), gain, where))
    return found


def _where(made: Mapping[int, Array], margins: Sequence[int]) -> Where:
    lefts = sorted(made, reverse=True)
    table = np.stack([made[left] for left in lefts])
    row, column = np.unravel_index(int(table.argmax()), table.shape)
    passed = np.cumsum(table.sum(axis=1)) / table.sum()
    first, last = (int(np.searchsorted(passed, level)) for level in (0.05, 0.95))
    return Where(
        lefts[int(row)], margins[int(column)], float(table.max() / table.sum()), lefts[first],
        lefts[min(last, len(lefts) - 1)],
    )  # fmt: skip


Made = list[dict[int, Array]]


def _by_clock(chain: Chain, sets: Sequence[Moves]) -> tuple[list[Array], Made]:
    values = [chain.end_values() for _ in sets]
    made: Made = [{} for _ in sets]
    known: dict[object, Choices] = {}
    for seconds in from_the_end(chain):
        if seconds.closes:
            inner = np.stack([chain.values_at_end(value).reshape(chain.modes, -1) for value in values])
            ready = inner
        key = seconds.stretch.signature
        if key not in known:
            known[key] = Choices(chain, chain.transitions(seconds.stretch), chain.hazard, sets)
        for second in reversed(range(seconds.stretch.seconds)):
            best, as_ever, ready = known[key].best(inner, ready)
            added = np.einsum("mp,smp->sp", seconds.here[second], best - as_ever)
            for number, table in enumerate(made):
                table[seconds.stretch.left - second] = added[number]
            inner = best
        if seconds.opens:
            values = [chain.values_at_start(seconds.period, value.reshape(-1, 1)) for value in inner]
    return values, made


def _by_score(contest: FirstTo, sets: Sequence[Moves]) -> tuple[list[Array], Made]:
    values = [contest.end_values() for _ in sets]
    needed = np.asarray(contest.board.points_left, dtype=int)
    made: Made = [{left: np.zeros(len(contest.margins)) for left in range(int(needed.max()) + 1)} for _ in sets]
    for period in reversed(range(contest.title.periods)):
        rows = contest.into_modes(period, contest.distributions[period][None, :])
        visits = []
        for _, solver in contest.solvers(period):
            visits.append(solver.visits(rows))
            rows = solver.push(rows, visits[-1])
        inner = np.stack([contest.values_at_end(value).reshape(contest.modes, -1) for value in values])
        # The search begins from ordinary play, so that nobody gains by never coming to an end.
        natural = np.stack([contest.within(period, value).reshape(contest.modes, -1) for value in values])
        for leg, seen in zip(reversed(contest.legs(period)), reversed(visits), strict=True):
            on = leg.on.reshape(contest.modes, -1)
            choices = Choices(contest, leg.transitions, 1.0, sets)
            inner = _settled(choices, on, np.where(on, natural, inner))
            added = np.where(on, inner - choices.best(inner)[1], 0.0)
            by_place = np.einsum("mp,smp->sp", seen.reshape(contest.modes, -1), added)
            for table, row in zip(made, by_place, strict=True):
                for place in np.flatnonzero(row):
                    table[int(needed[place])][int(contest.board.margins[place]) + contest.zero] += row[place]
        values = [contest.values_at_start(period, value.reshape(-1, 1)) for value in inner]
    return values, made


def _settled(choices: Choices, on: NDArray[np.bool_], values: Array) -> Array:
    """Worth of the scores from which play goes on, improved until it stands still."""
    for _ in range(_PASSES):
        better = np.where(on, choices.best(values)[0], values)
        if np.abs(better - values).max() < 1e-13:
            return better
        values = better
    return values


class Choices:
    """One second of a contest (to N points: one resolved attack) in which side A may choose.

    Parameters
    ----------
    transitions
        What a resolved attack does.
    hazard
        Chance of one in a second.
    sets
        Sets of moves, each of which is searched by itself.
    """

    def __init__(self, contest: Solved, transitions: Transitions, hazard: float, sets: Sequence[Moves]) -> None:
        title = contest.title
        self._by_turns = title.play == "turns" and title.race is None
        self._landing = contest.board.landing
        self._hazard = hazard
        self._jumps = transitions.jumps
        # Whether a set has a move: shape (sets, 1, 1), to stand beside values of shape (sets, modes, places).
        self._has = {move: np.array([move in moves for moves in sets])[:, None, None] for move in MOVES}
        self._holds = self._by_turns and isinstance(contest, Chain)
        self._mine = np.flatnonzero([mode.holder == 0 for mode in contest.automaton.modes])
        jumps = list(self._jumps)
        # An attempt that succeeds is followed in the list by the same one that fails, or that the other side scores.
        self._pairs = [
            (score, other)
            for score, other in zip(jumps, jumps[1:], strict=False)
            if score.event == "score" and (other.event == "miss" if self._by_turns else score.gain > 0)
        ]

    def _after(self, values: Array, jump: Jump) -> Array:
        return np.asarray(values[:, jump.to][:, :, self._landing(jump.gain)])

    def best(self, values: Array, ready: Array | None = None) -> tuple[Array, Array, Array]:
        """One second further from the end.

        Parameters
        ----------
        values
            Worth of each state after the second, shape (sets, modes, places).
        ready
            The same where side A has an attempt that came up and was put off; `values` if left out.

        Returns
        -------
        tuple
            Worth of each state before the second: if the moves of each set are used as well as can be; if side A plays
            this second as ever; and where an attempt has been put off.
        """
        best, natural = self._turns(values) if self._by_turns else self._shared(values)
        waited, wait = self._waits(values)
        idle = (1.0 - self._hazard) * values + self._hazard * waited
        found, as_ever = idle + self._hazard * best, idle + self._hazard * natural
        ready = values if ready is None else ready
        if not (self._holds and self._has["hold"].any()):
            return found, as_ever, found
        # An attempt that comes up may be put off, and taken in any later second of the period.
        mine, comes = self._mine, (1.0 - wait)[self._mine]
        with np.errstate(divide="ignore", invalid="ignore"):
            now = np.where(comes > 0.0, best[:, mine] / comes, -np.inf)
        off = self._put_off(ready, wait)
        at_will = np.maximum(now, off)
        gained = np.where(comes > 0.0, comes * at_will - best[:, mine], 0.0)
        found[:, mine] += np.where(self._has["hold"], self._hazard * gained, 0.0)
        held = found.copy()
        held[:, mine] = np.where(self._has["hold"], at_will, found[:, mine])
        return found, as_ever, held

    def _put_off(self, ready: Array, wait: Array) -> Array:
        """Worth of putting an attempt off by a second; where attacks have a limit there is an end to that."""
        if not wait.any():
            return np.asarray(ready[:, self._mine])
        found = np.full(ready.shape, -np.inf)
        for jump in self._jumps:
            if jump.event not in ("score", "miss", "lost"):
                found[:, jump.modes] = np.where(jump.chance > 0.0, self._after(ready, jump), -np.inf)
        return found[:, self._mine]

    def _waits(self, values: Array) -> tuple[Array, Array]:
        """Worth and chance of what resolves nothing, which there is only where attacks have a limit."""
        waited, wait = np.zeros_like(values), np.zeros(values.shape[1:])
        for jump in self._jumps if self._by_turns else ():
            if jump.event not in ("score", "miss", "lost"):
                waited[:, jump.modes] += jump.chance * self._after(values, jump)
                wait[jump.modes] += jump.chance
        return waited, wait

    def _turns(self, values: Array) -> tuple[Array, Array]:
        best, natural = np.zeros((2, *values.shape))
        for jump in self._jumps:
            if jump.event == "lost":
                worth = jump.chance * self._after(values, jump)
                best[:, jump.modes] += worth
                natural[:, jump.modes] += worth
        offered: list[tuple[Array, Array]] = []
        for score, miss in self._pairs:
            scored, missed = self._after(values, score), self._after(values, miss)
            natural[:, score.modes] += score.chance * scored + miss.chance * missed
            better = np.maximum(scored, missed)
            if score.gain > 0:
                scored = np.where(self._has["miss"], better, scored)
            else:
                missed = np.where(self._has["let score"], better, missed)
            worth = score.chance * scored + miss.chance * missed
            best[:, score.modes] += worth
            if score.gain > 0:
                offered.append((score.chance + miss.chance, worth))
        if len(offered) > 1 and self._has["choose"].any():
            self._choose(best, offered)
        return best, natural

    def _choose(self, best: Array, offered: Sequence[tuple[Array, Array]]) -> None:
        """Put the best of the attempts on offer in the place of their mixture."""
        mine = self._mine
        tried = np.sum([each for each, _ in offered], axis=0)
        mixed = np.sum([worth for _, worth in offered], axis=0)
        with np.errstate(divide="ignore", invalid="ignore"):
            each = np.max([np.where(chance > 0.0, worth / chance, -np.inf) for chance, worth in offered], axis=0)
            gained = np.where(tried > 0.0, tried * each - mixed, 0.0)
        best[:, mine] += np.where(self._has["choose"], np.maximum(gained, 0.0), 0.0)

    def _shared(self, values: Array) -> tuple[Array, Array]:
        """In open play and in a race nobody has the attack; what side A gains it may pass up, or let the other have."""
        best, natural = np.zeros((2, *values.shape))
        losing = {id(mine): other for mine, other in self._pairs}
        for jump in self._jumps:
            after = self._after(values, jump)
            natural[:, jump.modes] += jump.chance * after
            if jump.gain > 0:
                after = np.where(self._has["miss"], np.maximum(after, values[:, jump.modes]), after)
            if id(jump) in losing:
                other = self._after(values, losing[id(jump)])
                after = np.where(self._has["let score"], np.maximum(after, other), after)
            best[:, jump.modes] += jump.chance * after
        return best, natural
