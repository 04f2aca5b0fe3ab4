"""One contest watched: what is shown is the contest that was solved, and names only what is at work."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest

from tests.checking import Disagrees, check_equal, check_that, check_within
from venue.contest.forms import solve
from venue.contest.match import Match
from venue.contest.solved import Solved
from venue.contest.watch import Event, Playing
from venue.scenario.title import Title

from .building import MIXED, MIXED_OPEN, open_title, points_title, pull, race_title, turns_title

RULES = {
    "dry": {"kind": "drought", "after": 2, "at_least": "80 %"},
    "boost": {"kind": "run boost", "after": 2, "gain": "12 pp", "serves": "visitors"},
    "steals": {"kind": "turnover", "shift": [[-4, "-8 pp"], [4, "25 pp"]]},
    "gone": {"kind": "slope", "per_point": "9 pp", "switch": "off"},
}
TITLES: dict[str, Title] = {
    "turns": turns_title("12 s", periods=2, mean_attack="3 s", attempts=MIXED, rules=RULES, tie="next score"),
    "open": open_title(
        "10 s", mean_attack="2 s", attempts=MIXED_OPEN, rules=pull("6 pp"), scores_again=0.6, minimum_chance=0.1
    ),
    "to points": points_title(5, 2, play="turns", attempts=MIXED, rules=RULES, periods=2, turnover=0.1),
    "race": race_title(10, rules=pull("2 %"), wander=0.8, pace_per_skill=0.1),
}
SETTING = Match(gap=0.3, switches_off=frozenset({"off"}))
CONTESTS = 300


def uniforms(seed: int) -> Iterator[float]:
    random = np.random.default_rng(seed)
    while True:
        yield float(random.random())


@pytest.fixture
def solved_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Contests of one title are played many times over; it is solved only once."""
    known: dict[int, Solved] = {}

    def once(title: Title, match: Match) -> Solved:
        if id(title) not in known:
            known[id(title)] = solve(title, match)
        return known[id(title)]

    monkeypatch.setattr("venue.contest.watch.solve", once)


def watched(title: Title, contests: int = 1, seed: int = 3) -> list[list[Event]]:
    draws = uniforms(seed)
    return [list(Playing(title, SETTING, draws).events()) for _ in range(contests)]


def margin(events: list[Event]) -> int:
    """Final margin of side A: difference of the scores, or the gap of a race."""
    score = events[-1].score if events else (0,)
    return score[0] if len(score) == 1 else score[0] - score[1]


def check_watched(played: list[list[Event]], title: Title, match: Match = SETTING) -> None:
    """Wins, margin, and points within 4 standard errors of the exact contest."""
    contest = solve(title, match)
    last = np.array([margin(events) for events in played])
    won = np.where(last > 0, 1.0, np.where(last < 0, 0.0, 0.5))
    gained = np.array([sum(event.points * (event.side == "A") for event in events) for events in played])
    compared = [(won, contest.win_chance)]
    if title.tie == "draw":  # what is scored after a level end is no part of the margin
        compared.append((last.astype(float), float(contest.final_margin @ contest.margins)))
        if title.race is None:
            compared.append((gained.astype(float), float(contest.expected("points")[0])))
    for sample, exact in compared:
        check_within(sample.mean(), exact, 4 * sample.std(ddof=1) / np.sqrt(len(sample)))


@pytest.mark.usefixtures("solved_once")
@pytest.mark.parametrize("name", TITLES)
def test_contests_watched_agree_with_the_exact_one(name: str) -> None:
    title = TITLES[name]
    played = watched(title, CONTESTS)
    check_watched(played, title)
    for events in played:
        check_story(events, title)


@pytest.mark.usefixtures("solved_once")
@pytest.mark.parametrize("name", TITLES)
def test_control_contests_of_another_skill(name: str) -> None:
    title = TITLES[name]
    with pytest.raises(Disagrees):
        check_watched(watched(title, CONTESTS // 4), title, Match(gap=-2.0, switches_off=frozenset({"off"})))


def check_story(events: list[Event], title: Title) -> None:
    """What is told adds up, in order, and names only rules that are at work."""
    at_work = {name for name, rule in title.rules.items() if rule.switch not in SETTING.switches_off}
    score = [0, 0]
    for before, event in zip([None, *events], events, strict=False):
        check_that({name for name, _ in event.rules} <= at_work)
        check_that(event.attempt in {*title.attempts, "turnover", "pace"})
        check_that(0.0 <= event.chance <= (2.0 if title.race else 1.0))
        if event.outcome in ("scored", "gained"):
            score["AB".index(event.side)] += event.points
        else:
            check_equal(event.points, 0)
        check_equal(event.score, (score[0] - score[1],) if title.race else tuple(score))
        if before is not None:
            check_that(event.period >= before.period)
            check_that(title.first_to is not None or event.left < before.left or event.left == before.left == 0)
        # A success that the rules owe nothing to stays one without them.
        if event.owed:
            check_that(event.rules or abs(event.chance - event.unaided) < 1e-3)


def test_the_same_draws_tell_the_same_story() -> None:
    for title in TITLES.values():
        assert watched(title) == watched(title)
        assert watched(title, seed=4) != watched(title)


@pytest.mark.usefixtures("solved_once")
def test_control_a_story_with_a_rule_that_is_switched_off() -> None:
    title = TITLES["turns"]
    wrong = title.model_copy(update={"rules": {"gone": title.rules["gone"]}})
    with pytest.raises(Disagrees):
        for events in watched(title, 20):
            check_story(events, wrong)
