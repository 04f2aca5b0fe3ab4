"""What was solved is added up: chances of what is certain come to one, or the title is refused with the number."""

from __future__ import annotations

import numpy as np
import pytest

from venue.contest.forms import solve
from venue.contest.match import Match
from venue.contest.soundness import check_certain
from venue.errors import InputError

from .building import points_title


def win_between_equals(chance: float) -> float:
    """Chance that side A wins a first to 5 between equals who score with this chance."""
    attempts = {"shot": {"share": 1.0, "points": 1, "chance": chance}}
    title = points_title(5, play="turns", attempts=attempts, minimum_chance=0.0)
    return solve(title, Match(strength=0.0)).win_chance


@pytest.mark.parametrize("chance", [0.5, 0.01, 1e-5])
def test_between_equals_each_wins_half_however_rare_a_score(chance: float) -> None:
    # By symmetry: who attacks first is tossed for.
    assert win_between_equals(chance) == pytest.approx(0.5, abs=1e-7)


@pytest.mark.parametrize("chance", [1e-14, 1e-15])
def test_where_rounding_is_as_large_as_the_chance_there_is_no_answer(chance: float) -> None:
    with pytest.raises(
        InputError, match=r"the chance that the contest ends comes to [0-9.]+, must be 1: scores are so"
    ):
        win_between_equals(chance)


def test_control_without_the_check_the_answer_is_wrong(monkeypatch: pytest.MonkeyPatch) -> None:
    for module in ("first_to", "solved"):
        monkeypatch.setattr(f"venue.contest.{module}.check_certain", lambda chances, what: None)
    with pytest.raises(AssertionError):
        assert win_between_equals(1e-15) == pytest.approx(0.5, abs=1e-7)


def test_what_is_not_known_is_not_certain() -> None:
    check_certain(np.ones(3), "of anything")
    check_certain(np.ones(0), "of nothing")
    with pytest.raises(InputError, match="comes to nan"):
        check_certain(np.array([1.0, np.nan]), "of anything")
