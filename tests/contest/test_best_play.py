"""The best play of a side: against a dynamic programme of its own, written from the rules, and by closed forms."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cache
from typing import Any

import numpy as np
import pytest

from venue.contest.best_play import BestPlay, Move, best_play, moves_of, search
from venue.contest.chain import Chain
from venue.contest.first_to import FirstTo
from venue.contest.match import Match
from venue.scenario.title import Title

from .building import open_title, points_title, race_title, turns_title


@dataclass(frozen=True)
class Game:
    """A small title by turns, in numbers: attempts as (share, points, chance), a drought and a closing chance."""

    seconds: int
    attempts: tuple[tuple[float, int, float], ...]
    hazard: float = 1.0
    turnover: float = 0.0
    drought: tuple[int, float] | None = None
    closing: tuple[int, int, float] | None = None  # in the last seconds, when so far behind, at least
    rules: dict[str, Any] = field(default_factory=dict, compare=False, hash=False)

    def title(self, *, without: Sequence[str] = ()) -> Title:
        rules: dict[str, Any] = {}
        if self.drought:
            rules["drought"] = {"kind": "drought", "after": self.drought[0], "at_least": self.drought[1]}
        if self.closing:
            last, behind, least = self.closing
            rules["closing"] = {
                "kind": "closing chance", "last": f"{last} s", "when": "behind", "points": behind, "at_least": least,
            }  # fmt: skip
        kinds = {
            f"kind {place}": {"share": share, "points": points, "chance": chance}
            for place, (share, points, chance) in enumerate(self.attempts)
        }
        return turns_title(
            f"{self.seconds} s", mean_attack=f"{1 / self.hazard:g} s", attempts=kinds, turnover=self.turnover,
            rules={name: rule for name, rule in rules.items() if name not in without},
        )  # fmt: skip


def by_search(game: Game, moves: frozenset[Move], *, forgets: bool = False) -> float:
    """Side A's chance to win under its best play, by going through all that may happen.

    `forgets` is the control: a success passed up clears the misses, as if it had been a success without points.
    """
    most = game.drought[0] if game.drought else 0

    def chance(left: int, behind: int, missed: int, base: float) -> float:
        found = base
        if game.drought and missed >= most:
            found = max(found, game.drought[1])
        if game.closing and left <= game.closing[0] and behind >= game.closing[1]:
            found = max(found, game.closing[2])
        return found

    @cache
    def win(left: int, side: int, margin: int, missed: tuple[int, int], ready: bool = False) -> float:
        if left == 0:
            return 1.0 if margin > 0 else 0.0 if margin < 0 else 0.5
        resolved = attack(left, side, margin, missed)
        if side == 0 and "hold" in moves:
            at_will = max(resolved, win(left - 1, side, margin, missed, True))
            if ready:
                return at_will
            resolved = at_will
        return (1 - game.hazard) * win(left - 1, side, margin, missed) + game.hazard * resolved

    def attack(left: int, side: int, margin: int, missed: tuple[int, int]) -> float:
        after_miss = (min(missed[0] + 1, most), missed[1]) if side == 0 else (missed[0], min(missed[1] + 1, most))
        cleared = (0, missed[1]) if side == 0 else (missed[0], 0)
        lost = win(left - 1, 1 - side, margin, missed)
        fails = win(left - 1, 1 - side, margin, after_miss)
        worths = []
        for share, points, base in game.attempts:
            p = chance(left, -margin if side == 0 else margin, missed[side], base)
            scores = win(left - 1, 1 - side, margin + (points if side == 0 else -points), cleared)
            worth = p * scores + (1 - p) * fails
            if side == 0 and "miss" in moves:
                if forgets:
                    worth = p * max(scores, win(left - 1, 1, margin, cleared)) + (1 - p) * fails
                else:
                    worth = max(worth, fails)
            if side == 1 and "let score" in moves:
                worth = max(worth, scores)
            worths.append((share, worth))
        if side == 0 and "choose" in moves:
            made = max(worth for _, worth in worths)
        else:
            made = sum(share * worth for share, worth in worths)
        return game.turnover * lost + (1 - game.turnover) * made

    return (win(game.seconds, 0, 0, (0, 0)) + win(game.seconds, 1, 0, (0, 0))) / 2


TWO_KINDS = ((0.6, 2, 0.45), (0.4, 3, 0.3))
GAMES = {
    "drought": Game(9, ((0.5, 1, 0.5), (0.5, 5, 0.05)), drought=(1, 0.95)),
    "closing": Game(10, TWO_KINDS, hazard=0.4, turnover=0.1, closing=(4, 2, 0.9)),
    "both": Game(8, TWO_KINDS, hazard=0.5, turnover=0.2, drought=(2, 0.9), closing=(3, 3, 0.8)),
}
SETS: list[frozenset[Move]] = [
    frozenset({"miss"}), frozenset({"hold"}), frozenset({"choose"}), frozenset({"let score"}),
    frozenset({"miss", "hold", "choose", "let score"}),
]  # fmt: skip


@pytest.mark.parametrize("name", GAMES)
def test_best_play_by_a_search_of_its_own(name: str) -> None:
    game = GAMES[name]
    chain = Chain(game.title(), Match())
    assert chain.win_chance == pytest.approx(by_search(game, frozenset()), abs=1e-12)
    for moves, found in zip(SETS, search(chain, SETS), strict=True):
        assert chain.win_chance + found.gain == pytest.approx(by_search(game, moves), abs=1e-12)


def test_control_a_success_passed_up_that_clears_the_misses() -> None:
    game = GAMES["drought"]
    real, wrong = (by_search(game, frozenset({"miss"}), forgets=forgets) for forgets in (False, True))
    (found,) = search(Chain(game.title(), Match()), SETS[:1])
    assert found.gain > 0.01
    with pytest.raises(AssertionError):
        assert 0.5 + found.gain == pytest.approx(wrong, abs=1e-12)
    assert real > wrong + 0.01


def last_attempt(seconds: int, chance: float) -> Title:
    """Level, side A on the attack, one point for a success."""
    kind = {"shot": {"share": 1.0, "points": 1, "chance": chance}}
    return turns_title(f"{seconds} s", mean_attack="2 s", attempts=kind, period_start="alternate")


@pytest.mark.parametrize("seconds", [1, 4, 12])
def test_holding_for_the_last_attempt_of_a_level_contest(seconds: int) -> None:
    # Closed form: whoever is level and has the ball shoots with the last second, which leaves the other side none. An
    # attempt comes up until then with chance r = 1 - (1 - q) ** T; a success wins, else it stays level: (1 + r p) / 2.
    chain = Chain(last_attempt(seconds, 0.3), Match())
    (found,) = search(chain, [frozenset({"hold"})])
    comes = 1 - 0.5**seconds
    assert chain.win_chance + found.gain == pytest.approx((1 + comes * 0.3) / 2, abs=1e-12)
    if seconds > 1:
        assert found.where is not None and found.where.margin == 0


def test_control_without_holding_the_last_attempt_is_not_to_be_had() -> None:
    chain = Chain(last_attempt(12, 0.3), Match())
    assert chain.win_chance < (1 + 0.3) / 2 - 0.05


def test_a_miss_on_purpose_under_a_drought_by_hand() -> None:
    # Three attacks, A first and last; after one miss A's are certain. A miss on purpose does not pay here: by hand.
    p = 0.2
    kinds = {"shot": {"share": 1.0, "points": 1, "chance": p}}
    dry = {"drought": {"kind": "drought", "after": 1, "at_least": 1.0, "attempts": ["shot"], "serves": "visitors"}}
    title = turns_title("3 s", attempts=kinds, rules=dry, period_start="alternate")
    chain = Chain(title, Match())
    # First shot in (p): one ahead; then B levels (p): A's last is worth p + (1 - p) / 2, or B misses: won.
    # First shot missed: B scores (p): A's certain shot levels, 1/2; B misses: A's certain shot wins.
    scored, missed = p * (p + (1 - p) / 2) + (1 - p), p / 2 + (1 - p)
    assert chain.win_chance == pytest.approx(p * scored + (1 - p) * missed, abs=1e-12)
    (found,) = search(chain, SETS[:1])
    assert chain.win_chance + found.gain == pytest.approx(p * max(scored, missed) + (1 - p) * missed, abs=1e-12)


def test_where_a_gain_is_made_adds_up_to_it() -> None:
    from venue.contest.best_play import _by_clock

    chain = Chain(GAMES["both"].title(), Match(gap=0.2))
    _, made = _by_clock(chain, SETS)
    for table, found in zip(made, search(chain, SETS), strict=True):
        assert float(np.sum(list(table.values()))) == pytest.approx(found.gain, abs=1e-12)


def test_rules_without_which_the_gain_is_gone() -> None:
    found = best_play(GAMES["drought"].title(), Match())
    assert found.alone[0].moves == ("miss",)
    assert found.alone[0].gain > 0.01
    assert found.bare["miss"] < 1e-12
    assert found.blame["miss"] == ("drought",)


def test_a_title_without_rules_is_played_straight_on() -> None:
    title = GAMES["both"].title(without=("drought", "closing"))
    found = {item.moves[0]: item.gain for item in best_play(title, Match()).alone}
    assert found["miss"] < 1e-12 and found["let score"] < 1e-12
    # The clock is there to be used with or without rules, and so is the better of two attempts.
    assert found["hold"] > 1e-3 and found["choose"] > 1e-4


@pytest.mark.parametrize(
    ("title", "searched"),
    [
        (turns_title("4 s"), ("miss", "hold", "let score")),
        (GAMES["closing"].title(), ("miss", "hold", "choose", "let score")),
        (open_title("4 s"), ("miss", "let score")),
        (points_title(3), ("miss", "let score")),
        (race_title(5), ("miss",)),
    ],
)
def test_what_is_searched_is_named(title: Title, searched: tuple[Move, ...]) -> None:
    assert moves_of(title) == searched
    found = best_play(title, Match())
    assert found.searched == searched
    assert found.together.gain >= max(item.gain for item in found.alone) - 1e-12


def gift_to_points() -> Title:
    """To three points by turns; whoever is two behind cannot miss."""
    return points_title(
        3, play="turns", attempts={"one": {"share": 0.5, "points": 1, "chance": 0.3},
                                   "two": {"share": 0.5, "points": 2, "chance": 0.3}},
        rules={"gift": {"kind": "least chance", "at_least": 1.0, "behind_from": 2}},
    )  # fmt: skip


def test_to_points_by_iteration_of_its_own() -> None:
    """Values over both scores and the attack, improved until they stand still; from ordinary play, as the tool does."""
    moves: frozenset[Move] = frozenset({"miss", "choose", "let score"})

    def sweep(values: dict[Any, float], moves: frozenset[Move]) -> dict[Any, float]:
        found = {}
        for a, b, side in values:
            if max(a, b) >= 3:
                found[a, b, side] = float(a > b)
                continue
            behind = b - a if side == 0 else a - b
            worths = []
            for points in (1, 2):
                p = 1.0 if behind >= 2 else 0.3
                after = (min(a + points, 3), b) if side == 0 else (a, min(b + points, 3))
                scores, fails = values[(*after, 1 - side)], values[a, b, 1 - side]
                worth = p * scores + (1 - p) * fails
                if side == 0 and "miss" in moves:
                    worth = max(worth, fails)
                if side == 1 and "let score" in moves:
                    worth = max(worth, scores)
                worths.append(worth)
            found[a, b, side] = max(worths) if side == 0 and "choose" in moves else sum(worths) / 2
        return found

    values = {(a, b, side): 0.0 for a in range(4) for b in range(4) for side in (0, 1)}
    results = []
    for chosen in (frozenset[Move](), moves):
        for _ in range(600):
            values = sweep(values, chosen)
        results.append((values[0, 0, 0] + values[0, 0, 1]) / 2)
    contest = FirstTo(gift_to_points(), Match())
    (found,) = search(contest, [moves])
    assert contest.win_chance == pytest.approx(results[0], abs=1e-10)
    assert contest.win_chance + found.gain == pytest.approx(results[1], abs=1e-10)
    assert found.gain > 0.01


def test_no_move_means_ordinary_play() -> None:
    for contest in (Chain(GAMES["both"].title(), Match()), FirstTo(gift_to_points(), Match())):
        (found,) = search(contest, [frozenset()])
        assert abs(found.gain) < 1e-10


def test_a_record_of_best_play_names_its_moves() -> None:
    found = best_play(GAMES["closing"].title(), Match())
    assert isinstance(found, BestPlay)
    assert found.together.moves == ("miss", "hold", "choose", "let score")
