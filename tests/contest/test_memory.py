"""Rules that remember: runs of unanswered scores, misses in a row; and a least chance, which needs no memory."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from tests.checking import Disagrees, check_close, check_within
from venue.contest.automaton import Automaton
from venue.contest.chain import Chain
from venue.contest.clock_segments import period_stretches
from venue.contest.match import Match
from venue.contest.table import ContestTable
from venue.scenario.title import Title

from .building import open_title, turns_title

ONE_CHANCE = 0.3


def with_rule(kind: str, **keys: Any) -> dict[str, dict[str, Any]]:
    """One rule of a kind."""
    return {"rule": {"kind": kind, **keys}}


def shooting(after: int, at_least: float = 1.0, **keys: Any) -> Title:
    """Sides shoot in turn each second, one point for a success, with a drought rule."""
    return turns_title(
        "60 s",
        mean_attack="1 s",
        attempts={"shot": {"share": 1.0, "points": 1, "chance": ONE_CHANCE}},
        rules=with_rule("drought", after=after, at_least=at_least, **keys),
    )


# -- the automaton holds what the rules need, and no more -----------------------------------------------------------


@pytest.mark.parametrize(
    ("title", "match", "modes"),
    [
        (turns_title("20 s"), Match(), 2),
        (shooting(3), Match(), 2 * 4 * 4),
        (shooting(3), Match(strength=0.0), 2),
        (shooting(3, serves="visitors"), Match(), 2 * 4),
        (shooting(3, serves="visitors"), Match(side_b="visitor"), 2 * 4 * 4),
        (open_title("20 s", rules=with_rule("run boost", after=3, gain="5 pp")), Match(), 1 + 3 + 3),
        (open_title("20 s", rules=with_rule("run boost", after=3, gain="5 pp", serves="computer")), Match(), 1 + 3),
        (open_title("20 s", scores_again=0.6), Match(), 3),
    ],
    ids=["none", "drought", "off", "one side", "both visitors", "runs", "runs of one", "last scorer"],
)
def test_modes_are_those_that_play_can_reach(title: Title, match: Match, modes: int) -> None:
    assert len(Automaton(title, match).modes) == modes


# -- misses in a row ------------------------------------------------------------------------------------------------


def mean_wait(title: Title, after: int) -> float:
    """Mean number of side A's attempts until it has missed `after` times in a row, from the chain's own transitions.

    Solved on the chain's modes: a success sends the count back to nought, a miss on by one.
    """
    chain = Chain(title, Match())
    transitions = chain.transitions(period_stretches(title, 0)[0]).dense()
    size = len(chain.margins)
    modes = chain.automaton.modes
    begin = [index for index, mode in enumerate(modes) if mode.holder == 0 and mode.missed[1] == 0]
    counts = [modes[index].missed[0] for index in begin]
    step = np.zeros((after, after))
    for index, count in zip(begin, counts, strict=True):
        if count < after:
            row = transitions[index * size + chain.zero].reshape(len(modes), size).sum(axis=1)
            for to, chance in enumerate(row):
                if modes[to].missed[0] < after:
                    step[count, modes[to].missed[0]] += chance
    return float(np.linalg.solve(np.eye(after) - step, np.ones(after))[0])


def check_mean_wait(title: Title, after: int, missing: float) -> None:
    # (1 - q^k) / (p q^k) attempts on average until k misses in a row (Feller, An Introduction to Probability Theory
    # and Its Applications, vol. I, ch. XIII; location from memory).
    success = 1.0 - missing
    check_close(mean_wait(title, after), (1 - missing**after) / (success * missing**after), rel=1e-9)


@pytest.mark.parametrize("after", [1, 2, 3, 5])
def test_waiting_for_misses_in_a_row(after: int) -> None:
    check_mean_wait(shooting(after), after, 1.0 - ONE_CHANCE)


def test_control_waiting_at_another_chance() -> None:
    with pytest.raises(Disagrees):
        check_mean_wait(shooting(3), 3, 0.65)


def play_out(title: Title, contests: int, seed: int) -> np.ndarray:
    """Final margins of the drought title, shot by shot, sharing nothing with the chain."""
    rule = title.rules["rule"]
    random = np.random.default_rng(seed)
    margin = np.zeros(contests, dtype=int)
    missed = np.zeros((2, contests), dtype=int)
    attacks = random.integers(0, 2, contests)
    for _ in range(round(title.period_length)):
        mine = missed[attacks, np.arange(contests)]
        chance = np.where(mine >= rule.after, max(rule.at_least, ONE_CHANCE), ONE_CHANCE)
        scored = random.random(contests) < chance
        margin += np.where(scored, np.where(attacks == 0, 1, -1), 0)
        missed[attacks, np.arange(contests)] = np.where(scored, 0, mine + 1)
        attacks = 1 - attacks
    return margin


def check_drought(title: Title, played: Title) -> None:
    """Spread of the final margin, chain against play-out, within 4 standard errors."""
    chain = Chain(title, Match())
    margins = play_out(played, 40_000, 5)
    exact = float(chain.final_margin @ chain.margins.astype(float) ** 2)
    squares = margins.astype(float) ** 2
    check_within(squares.mean(), exact, 4 * squares.std() / np.sqrt(len(squares)))


@pytest.mark.parametrize(("after", "at_least"), [(1, 0.9), (3, 1.0), (4, 0.6)])
def test_drought_played_out(after: int, at_least: float) -> None:
    check_drought(shooting(after, at_least), shooting(after, at_least))


def test_control_drought_a_miss_later() -> None:
    with pytest.raises(Disagrees):
        check_drought(shooting(2), shooting(3))


# -- runs -----------------------------------------------------------------------------------------------------------


def runs(gain: str, after: int = 1, **keys: Any) -> Title:
    """Open play in which somebody scores each second, with a run boost."""
    return open_title("40 s", rules=with_rule("run boost", after=after, gain=gain, **keys))


def test_a_boost_after_one_score_is_the_memory_of_who_scored_last() -> None:
    # After one unanswered score the same side scores again with 1/2 + gain: two ways to say one thing.
    boosted, remembered = Chain(runs("10 pp"), Match()), Chain(open_title("40 s", scores_again=0.6), Match())
    assert boosted.final_margin @ boosted.margins**2 == pytest.approx(
        remembered.final_margin @ remembered.margins**2, rel=1e-9
    )


def test_a_run_boost_drives_sides_apart() -> None:
    spreads = []
    for gain in ("0 pp", "5 pp", "15 pp"):
        chain = Chain(runs(gain, after=2), Match())
        spreads.append(float(chain.final_margin @ chain.margins.astype(float) ** 2))
    assert spreads == sorted(spreads)
    assert spreads[0] == pytest.approx(40.0, rel=1e-9)


# -- a least chance -------------------------------------------------------------------------------------------------


def test_nobody_far_behind_can_miss_altogether() -> None:
    title = turns_title(
        "20 s",
        attempts={"shot": {"share": 1.0, "points": 1, "chance": 0.02}},
        rules=with_rule("least chance", at_least=0.25, behind_from=4),
    )
    chain = Chain(title, Match())
    chance = chain.chances(title.rules, 10.0, 0, "shot").chance
    behind = -chain.margins
    assert chance[behind == 4] == pytest.approx(0.25)
    assert chance[behind == 3] == pytest.approx(0.02)


# -- large chains ---------------------------------------------------------------------------------------------------


@pytest.mark.slow
def test_sparse_steps_and_powers_agree(monkeypatch: pytest.MonkeyPatch) -> None:
    title = shooting(3, 0.8).model_copy(update={"periods": 2, "period_length": 30.0})
    sparse = Chain(title, Match(gap=0.2))
    assert not sparse.is_dense
    # Where matrices are full the range of margins is not narrowed: both take the narrow one here.
    monkeypatch.setattr("venue.contest.chain.Chain._DENSE", 10_000)
    narrow = int(sparse.margins[0]), int(sparse.margins[-1])
    monkeypatch.setattr("venue.contest.chain.Chain._first_span", lambda self: narrow)
    dense = Chain(title, Match(gap=0.2))
    assert dense.is_dense
    assert sparse.win_chance == pytest.approx(dense.win_chance, abs=1e-12)
    assert sparse.expected("points") == pytest.approx(dense.expected("points"), abs=1e-10)
    assert np.allclose(sparse.transition(1), dense.transition(1), atol=1e-12)
    small = ContestTable(title, Match(gap=0.2))
    monkeypatch.undo()
    large = ContestTable(title, Match(gap=0.2))
    for uniform in (0.01, 0.3, 0.77, 0.999):
        ends = [table.play(table.at(1, table.begin(0.0).state), uniform).state for table in (small, large)]
        assert ends[0] == ends[1]
