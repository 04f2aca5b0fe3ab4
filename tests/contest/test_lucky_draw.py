"""Help drawn at random in a race: by hand, in closed form, and against races played out at random."""

from __future__ import annotations

from typing import Any

import pytest

from tests.checking import Disagrees, check_close
from venue.contest.chain import Chain
from venue.contest.match import Match
from venue.scenario.title import Title

from .agreement import Case, check_case
from .building import Rules, pull, race_title


def lucky(**keys: Any) -> Rules:
    plain = {
        "kind": "lucky draw",
        "every": "4 s",
        "prizes": {
            "gust": {"lengths": 1, "odds": [[0, 3.0], [6, 1.0]]},
            "whirl": {"lengths": 5, "odds": [[0, 0.0], [6, 3.0]]},
        },
    }
    return {"luck": plain | keys}


def check_one_second(title: Title, behind: int, expected: float, match: Match | None = None) -> None:
    """Lengths that side A is owed within one second when so far behind."""
    chain = Chain(title, match or Match())
    transitions = chain.transitions(chain.stretches(0)[0])
    check_close(float(transitions.tally.rates("luck")[0, chain.zero - behind]), expected, abs=1e-12)


def test_the_further_back_the_better_the_draw() -> None:
    # By hand: a draw in a quarter of the seconds. Level it is the gust for sure: 1/4. At 3 behind odds are 2 to 1.5,
    # (2 + 1.5 · 5) / 3.5 / 4; from 6 on 1 to 3, (1 + 15) / 4 / 4.
    title = race_title(12, rules=lucky())
    for behind, expected in ((-4, 0.25), (0, 0.25), (3, (2 + 7.5) / 14), (6, 1.0), (9, 1.0)):
        check_one_second(title, behind, expected)
    check_one_second(title, 6, 0.5, Match(0.5))
    check_one_second(race_title(12, rules=lucky(weight=0.5)), 6, 0.5)
    check_one_second(race_title(12, rules=lucky(behind_from=4)), 3, 0.0)
    check_one_second(race_title(12, rules=lucky(serves="computer")), 6, 0.0)
    with pytest.raises(Disagrees):
        check_one_second(race_title(12, rules=lucky(every="5 s")), 6, 1.0)


def check_mean_gap(title: Title, seconds: int, mean: float, variance: float) -> None:
    """Draws that do not go by the gap add up: mean and variance of a sum of independent ones (textbook)."""
    chain = Chain(title, Match())
    found = float(chain.final_margin @ chain.margins)
    check_close(found, seconds * mean, abs=1e-6)
    check_close(float(chain.final_margin @ (chain.margins - found) ** 2), seconds * variance, abs=1e-5)


def test_draws_that_do_not_go_by_the_gap_add_up() -> None:
    # A visitor gains 5 with chance 1/4 a second: mean 5/4, variance 25 (1/4 − 1/16) beside the luck of the race.
    prizes = {"leap": {"lengths": 5, "odds": [[0, 1.0]]}}
    title = race_title(10, wander=0.6, rules=lucky(serves="visitors", prizes=prizes))
    check_mean_gap(title, 10, 1.25, 0.36 + 25 * (0.25 - 0.0625))
    with pytest.raises(Disagrees):
        check_mean_gap(race_title(10, wander=0.6, rules=lucky(prizes=prizes)), 10, 1.25, 0.36 + 25 * (0.25 - 0.0625))


CASE = Case(
    race_title,
    {"seconds": 30, "periods": 2, "pace": 4.0, "wander": 0.8, "rules": lucky(behind_from=0) | pull("0.5 pp", cap=9)},
    {"rules": lucky(behind_from=0, every="6 s") | pull("0.5 pp", cap=9)},
)


def test_lucky_draws_played_out_at_random() -> None:
    check_case(CASE, 6000)
