"""The range of margins: chosen from the mass at the setting in hand, for each gap, and what it cuts."""

from __future__ import annotations

import numpy as np
import pytest

from venue.contest.chain import Chain
from venue.contest.match import Match
from venue.contest.scoreboard import MarginBoard
from venue.contest.span import CUT, span_in_hand, spans_in_hand, unaided_span
from venue.contest.trajectory import courses
from venue.errors import InputError
from venue.scenario.title import Title

from .building import MIXED, turns_title
from .full_title import full_title


def memory_title(slope: float) -> Title:
    """Long enough that the unaided spread is far wider than what the slope leaves of it."""
    rules = {
        "pull": {"kind": "slope", "per_point": slope},
        "run": {"kind": "run boost", "after": 2, "gain": "6 pp"},
        "drought": {"kind": "drought", "after": 2, "at_least": "80 %"},
    }
    return turns_title("90 s", periods=2, mean_attack="3 s", attempts=MIXED, rules=rules)


def test_a_full_title_is_solved() -> None:
    chain = Chain(full_title(), Match(1.0, 0.4))
    assert chain.modes == 350
    assert sum(chain.cut()) < CUT
    assert 0.5 < chain.win_chance < 1.0


def test_what_lies_beyond_the_range_changes_nothing() -> None:
    title, match = memory_title(0.02), Match(1.0, 0.3)
    chain = Chain(title, match)
    low, high = unaided_span(title, match, match.gap)
    assert len(chain.margins) < 0.7 * (high - low)
    wide = Chain(title, match, board=MarginBoard(low - 40, high + 40))
    assert chain.win_chance == pytest.approx(wide.win_chance, abs=1e-10)
    for name in ("points", "assisted", "drought"):
        assert chain.expected(name) == pytest.approx(wide.expected(name), abs=1e-8)
    inside = wide.final_margin[wide.zero - chain.zero :][: len(chain.margins)]
    assert np.abs(inside - chain.final_margin).max() < 1e-10


def test_control_a_range_too_narrow_is_noticed() -> None:
    title, match = memory_title(0.02), Match(1.0, 0.3)
    chain = Chain(title, match)
    narrow = Chain(title, match, board=MarginBoard(int(chain.margins[0]) + 12, int(chain.margins[-1]) - 12))
    assert sum(narrow.cut()) > CUT
    assert abs(narrow.win_chance - chain.win_chance) > 1e-10


def test_what_memory_adds_widens_the_range() -> None:
    # A run boost pushes apart, and the first range is chosen without it.
    rules = {"run": {"kind": "run boost", "after": 1, "gain": "45 pp"}}
    title = turns_title("40 s", periods=2, mean_attack="1 s", attempts=MIXED, rules=rules, scorer_keeps=True)
    assert Chain(title, Match()).states > Chain._DENSE
    low, high = span_in_hand(title, Match())
    chain = Chain(title, Match())
    assert chain.margins[0] < low and chain.margins[-1] > high
    assert sum(chain.cut()) <= CUT


def test_each_gap_has_a_range_of_its_own() -> None:
    title = memory_title(0.01)
    left, even, right = spans_in_hand(title, Match(), [-1.0, 0.0, 1.0])
    assert left[0] < even[0] < right[0] and left[1] < even[1] < right[1]
    matches = [Match(1.0, gap) for gap in (-1.0, 0.0, 1.0)]
    (together,) = courses(title, matches)
    for number, match in enumerate(matches):
        assert together.win[number] == pytest.approx(Chain(title, match).win_chance, abs=1e-10)
    assert together.on_the_way.cut.sum(axis=0).max() < CUT


def test_too_much_to_remember_is_refused() -> None:
    rules = {
        "run": {"kind": "run boost", "after": 10, "gain": "1 pp"},
        "drought": {"kind": "drought", "after": 10, "at_least": "80 %"},
    }
    with pytest.raises(InputError, match="shorter runs or droughts"):
        Chain(full_title(rules), Match())
