"""Where trailing pays, by a search of its own: by turns, against the clock and to so many points."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import cache
from typing import Any

import pytest

from venue.contest.incentives import Trailing, where_trailing_pays
from venue.contest.match import Match
from venue.scenario.title import Title

from .building import Rules, points_title, turns_title

SECONDS, POINTS = 6, 7
ATTEMPTS: dict[str, dict[str, Any]] = {
    "one": {"share": 0.5, "points": 1, "chance": 0.3},
    "three": {"share": 0.5, "points": 3, "chance": 0.3},
}
# A chance by how far its side is behind.
Chance = Callable[[int], float]


def gift(behind: int, chance: float = 1.0, **keys: Any) -> dict[str, Any]:
    return {"kind": "least chance", "at_least": chance, "behind_from": behind} | keys


def clocked(rules: Rules) -> Title:
    return turns_title(f"{SECONDS} s", attempts=ATTEMPTS, rules=rules)


def gains_by_the_clock(chance: Chance) -> dict[tuple[int, int], float]:
    """What one point less adds to side A's chance, at the worse of having the attack and not, where it can
    come to that."""

    @cache
    def win(left: int, side: int, margin: int) -> float:
        if left == 0:
            return 1.0 if margin > 0 else 0.0 if margin < 0 else 0.5
        success = chance(-margin if side == 0 else margin)
        total = 0.0
        for attempt in ATTEMPTS.values():
            scored = win(left - 1, 1 - side, margin + (attempt["points"] if side == 0 else -attempt["points"]))
            total += attempt["share"] * (success * scored + (1 - success) * win(left - 1, 1 - side, margin))
        return total

    def steps(left: int, side: int, margin: int) -> Iterator[tuple[int, int, int]]:
        success = chance(-margin if side == 0 else margin)
        if left > 0 and success > 0:
            for attempt in ATTEMPTS.values():
                yield left - 1, 1 - side, margin + (attempt["points"] if side == 0 else -attempt["points"])
        if left > 0 and success < 1:
            yield left - 1, 1 - side, margin

    found: dict[tuple[int, int], float] = {}
    for left, side, margin in met({(SECONDS, 0, 0), (SECONDS, 1, 0)}, steps):
        if left > 0:
            gain = win(left, side, margin - 1) - win(left, side, margin)
            found[margin, left] = max(found.get((margin, left), -1.0), gain)
    return found


State = tuple[int, int, int]


def met(start: set[State], steps: Callable[[int, int, int], Iterator[State]]) -> set[State]:
    """States that can come about."""
    found, todo = set(start), list(start)
    while todo:
        for state in steps(*todo.pop()):
            if state not in found:
                found.add(state)
                todo.append(state)
    return found


def worst(gains: dict[tuple[int, int], float]) -> dict[int, float]:
    """The greatest gain at each margin, of those that are one."""
    found: dict[int, float] = {}
    for (margin, _), gain in gains.items():
        if gain > 1e-9:
            found[margin] = max(found.get(margin, 0.0), gain)
    return found


def check_faults(found: Trailing, gains: dict[tuple[int, int], float]) -> None:
    expected = worst(gains)
    assert {fault.margin: fault.gain for fault in found.faults} == pytest.approx(expected, abs=1e-9)
    assert all(gains[fault.margin, fault.left] == pytest.approx(fault.gain, abs=1e-9) for fault in found.faults)
    assert [fault.gain for fault in found.faults] == sorted((fault.gain for fault in found.faults), reverse=True)


def test_faults_against_the_clock_by_a_search() -> None:
    gains = gains_by_the_clock(lambda behind: 1.0 if behind >= 2 else 0.3)
    assert len(worst(gains)) == 2 and min(gains.values()) < -0.1  # mostly it does not pay
    found = where_trailing_pays(clocked({"gift": gift(2)}), Match())
    check_faults(found, gains)
    assert {fault.blame for fault in found.faults} == {("gift",)}


def test_help_that_helps_too_little_to_pay() -> None:
    gains = gains_by_the_clock(lambda behind: 0.31 if behind >= 2 else 0.3)
    assert worst(gains) == {}
    assert where_trailing_pays(clocked({"gift": gift(2, 0.31)}), Match()) == Trailing(())


def test_who_never_scores_gains_nothing_by_trailing() -> None:
    attempts = {name: attempt | {"chance": 0.0} for name, attempt in ATTEMPTS.items()}
    title = turns_title(f"{SECONDS} s", attempts=attempts, rules={"gift": gift(2)})
    # From level nobody comes to be behind, so that help is never given.
    assert where_trailing_pays(title, Match()) == Trailing(())


TWICE: Rules = {"first": gift(2, switch="a"), "second": gift(2, switch="b")}


@pytest.mark.parametrize(
    ("off", "blame"), [((), ()), (("a",), ("second",)), (("b",), ("first",)), (("a", "b"), None)]
)  # fmt: skip
def test_several_switches(off: tuple[str, ...], blame: tuple[str, ...] | None) -> None:
    """Of two rules that do the same neither alone is to blame; with one switched off the other is."""
    found = where_trailing_pays(clocked(TWICE), Match(switches_off=frozenset(off)))
    if blame is None:
        assert found == Trailing(())
    else:
        check_faults(found, gains_by_the_clock(lambda behind: 1.0 if behind >= 2 else 0.3))
        assert {fault.blame for fault in found.faults} == {blame}


def test_rules_at_no_strength_are_no_reason() -> None:
    assert where_trailing_pays(clocked({"gift": gift(2)}), Match(strength=0.0)) == Trailing(())


def test_a_rule_that_never_acts_is_not_to_blame() -> None:
    rules: Rules = {"gift": gift(2), "idle": gift(2, 0.2)}
    found = where_trailing_pays(clocked(rules), Match())
    assert found.faults and {fault.blame for fault in found.faults} == {("gift",)}


def gains_by_score(chance: Chance) -> dict[tuple[int, int], float]:
    """The same in a contest to so many points, by margin and what the leader still needs: turn about, a miss gives
    the attack away, so that level scores are two equations in two unknowns."""

    @cache
    def win(a: int, b: int) -> tuple[float, float]:
        """With the attack at side A, and at B."""
        if a >= POINTS or b >= POINTS:
            return (1.0, 1.0) if a >= POINTS else (0.0, 0.0)
        p, q = chance(b - a), chance(a - b)
        scored = sum(kind["share"] * win(a + kind["points"], b)[1] for kind in ATTEMPTS.values())
        conceded = sum(kind["share"] * win(a, b + kind["points"])[0] for kind in ATTEMPTS.values())
        at_a = (p * scored + (1 - p) * q * conceded) / (1 - (1 - p) * (1 - q))
        return at_a, q * conceded + (1 - q) * at_a

    def steps(a: int, b: int, side: int) -> Iterator[State]:
        success = chance(b - a if side == 0 else a - b)
        if max(a, b) < POINTS and success > 0:
            for kind in ATTEMPTS.values():
                yield (a + kind["points"], b, 1) if side == 0 else (a, b + kind["points"], 0)
        if max(a, b) < POINTS and success < 1:
            yield a, b, 1 - side

    found: dict[tuple[int, int], float] = {}
    for a, b, side in met({(0, 0, 0), (0, 0, 1)}, steps):
        if 0 < a < POINTS and b < POINTS:
            moment = a - b, POINTS - max(a, b)
            found[moment] = max(found.get(moment, -1.0), win(a - 1, b)[side] - win(a, b)[side])
    return found


def to_points(rules: Rules) -> Title:
    return points_title(POINTS, play="turns", attempts=ATTEMPTS, rules=rules)


def test_faults_by_score_by_two_equations_a_score() -> None:
    gains = gains_by_score(lambda behind: 1.0 if behind >= 2 else 0.3)
    found = where_trailing_pays(to_points({"gift": gift(2)}), Match())
    assert found.faults and {fault.blame for fault in found.faults} == {("gift",)}
    assert {fault.margin: fault.gain for fault in found.faults} == pytest.approx(worst(gains), abs=1e-9)
    assert all(gains[fault.margin, fault.left] == pytest.approx(fault.gain, abs=1e-9) for fault in found.faults)


def test_no_fault_by_score_without_the_gift() -> None:
    assert worst(gains_by_score(lambda behind: 0.3)) == {}
    assert where_trailing_pays(to_points({}), Match()) == Trailing(())
