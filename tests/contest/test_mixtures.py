"""Random mixtures of all that a title can say, drawn by Hypothesis, against contests played out at random.

4 standard errors, seeded; the sampler shares no code with the chain. So many comparisons are made that one in some
thousands is off by chance: what disagrees is played again, ten times as often, and must then agree. The control plays
with half of the strength.
"""

from __future__ import annotations

import pytest
from hypothesis import given, settings

from tests.checking import Disagrees, check_that
from venue.contest.match import Match
from venue.scenario.title import Title

from .agreement import disagreements
from .building import pull, turns_title
from .drawing import every_form, few, gaps
from .sampler import play_by_play

CONTESTS = 3000


def check_mixture(title: Title, match: Match, played: Match, contests: int = CONTESTS) -> None:
    wrong = disagreements(title, match, play_by_play(title, played, contests, seed=20260))
    if wrong:
        wrong = disagreements(title, match, play_by_play(title, played, 10 * contests, seed=20261))
    check_that(not wrong, "; ".join(wrong))


@settings(few, max_examples=8)
@given(every_form, gaps)
def test_mixtures(title: Title, gap: float) -> None:
    match = Match(0.8, gap / 2)
    check_mixture(title, match, match)


@pytest.mark.slow
@settings(few, max_examples=80)
@given(every_form, gaps)
def test_many_mixtures(title: Title, gap: float) -> None:
    for match in (Match(0.8, gap / 2), Match(1.2, gap / 2, side_b="visitor")):
        check_mixture(title, match, match, 8000)


def test_control_mixtures() -> None:
    title = turns_title("12 s", rules=pull("6 pp"))
    check_mixture(title, Match(), Match())
    with pytest.raises(Disagrees):
        check_mixture(title, Match(), Match(0.5))
