"""Look-ups for the floor: inverting a uniform draw must give back the chain's own chances."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest

from tests.checking import Disagrees, check_close, check_within
from venue.contest.chain import Chain
from venue.contest.match import Match
from venue.contest.table import ContestTable, TitleTables, grid_of
from venue.scenario.title import Title

from .building import MIXED, MIXED_OPEN, mean_of, open_title, pull, turns_title

DRAWS = 2000
UNIFORMS = (np.arange(DRAWS) + 0.5) / DRAWS
TITLES = {
    "turns": turns_title("30 s", periods=3, mean_attack="3 s", attempts=MIXED, rules=pull("2 pp")),
    "turns, carrying on": turns_title(
        "30 s", periods=2, mean_attack="3 s", attempts=MIXED, period_start="carry on", scorer_keeps=True
    ),
    "turns, sides begin in turn": turns_title("5 s", periods=3, period_start="alternate"),
    "open, carrying on": open_title(
        "30 s", periods=2, mean_attack="3 s", attempts=MIXED_OPEN, scores_again=0.7, period_start="carry on"
    ),
}
SETTING = Match(gap=0.3)
each_title = pytest.mark.parametrize("title", TITLES.values(), ids=TITLES)


def check_play(title: Title, match: Match) -> None:
    """A fine grid of draws falls into each end state as often as the chain says, within one draw."""
    chain, table = Chain(title, SETTING), ContestTable(title, match)
    size = len(chain.margins)
    for period in range(title.periods):
        for mode in range(chain.break_modes):
            for margin in (-5, 0, 3):
                exact = chain.transition(period)[mode * size + chain.zero + margin].tolist()
                start = table.find(period, margin, chain.automaton.kept[mode])
                ends = Counter(table.play(start, float(uniform)) for uniform in UNIFORMS)
                for state, chance in enumerate(exact):
                    lands = int(chain.margins[state % size]), chain.automaton.kept[state // size]
                    check_within(ends[table.find(period + 1, *lands)] / DRAWS, chance, 1 / DRAWS + 1e-9)


@each_title
def test_play_inverts_the_exact_distribution(title: Title) -> None:
    check_play(title, SETTING)


def test_control_play_of_another_skill_gap() -> None:
    with pytest.raises(Disagrees):
        check_play(TITLES["turns"], Match(gap=0.35))


@each_title
def test_play_at_the_ends_of_the_uniform_range(title: Title) -> None:
    chain, table = Chain(title, SETTING), ContestTable(title, SETTING)
    start = table.begin(0.0)
    row = chain.transition(0)[start.state]
    for uniform in (0.0, np.nextafter(1.0, 0.0)):
        assert row[table.play(start, float(uniform)).state] > 0.0
    ends = [table.play(start, float(uniform)).state for uniform in np.sort(np.random.default_rng(7).random(500))]
    assert ends == sorted(ends)


@each_title
def test_contests_begin_level(title: Title) -> None:
    chain, table = Chain(title, SETTING), ContestTable(title, SETTING)
    begun = [table.begin(float(uniform)) for uniform in UNIFORMS]
    assert {(here.period, here.margin) for here in begun} == {(0, 0)}
    found = np.bincount([here.state for here in begun], minlength=len(table.margins)) / DRAWS
    assert np.abs(found - chain.start).max() <= 1 / DRAWS
    assert table.begin(float(np.nextafter(1.0, 0.0))) in begun


def test_carrying_on_begins_with_a_toss() -> None:
    table = ContestTable(TITLES["turns, carrying on"], SETTING)
    assert [table.kept(table.begin(uniform)).holder for uniform in (0.0, 0.49, 0.51, 0.99)] == [0, 0, 1, 1]


@each_title
def test_chances_of_every_break_are_the_chain_s(title: Title) -> None:
    chain, table = Chain(title, SETTING), ContestTable(title, SETTING)
    closes = chain.close_chance()
    for period in range(title.periods + 1):
        assert table.win[period] == pytest.approx(chain.win[period].tolist(), abs=1e-12)
        for state in range(len(table.margins)):
            here = table.at(period, state)
            assert (here.period, here.state, here.margin) == (period, state, chain.margins[state % len(chain.margins)])
            assert here.win == pytest.approx(float(chain.win[period][state]), abs=1e-12)
            assert here.close == pytest.approx(float(closes[period][state]), abs=1e-12)
    at_end = [float(abs(margin) <= title.close) for margin in table.margins]
    assert [table.at(title.periods, state).close for state in range(len(at_end))] == at_end


def test_close_finish_is_a_sum_over_final_margins() -> None:
    title = TITLES["turns"].model_copy(update={"close": 2, "periods": 1})
    chain, table = Chain(title, SETTING), ContestTable(title, SETTING)
    start = table.begin(0.5)
    near = [state for state, margin in enumerate(table.margins) if -2 <= margin <= 2]
    chances = chain.transition(0)[start.state]
    assert start.close == pytest.approx(float(chances[near].sum()), abs=1e-12)
    with pytest.raises(Disagrees):
        check_close(start.close, float(chances[near[1:]].sum()), abs=1e-12)


@each_title
def test_assisted_scores_of_the_periods_make_up_the_contest(title: Title) -> None:
    chain, table = Chain(title, SETTING), ContestTable(title, SETTING)
    expected = [
        [table.at(period, state).noticeable for state in range(len(table.margins))] for period in range(title.periods)
    ]
    total = sum(chain.distributions[period] @ np.array(expected[period]) for period in range(title.periods))
    assert total == pytest.approx(chain.expected("noticeable"), abs=1e-12)


@each_title
def test_a_state_is_found_again_by_margin_and_mode(title: Title) -> None:
    table = ContestTable(title, SETTING)
    for state, margin in enumerate(table.margins):
        here = table.at(1, state)
        assert table.find(1, margin, table.kept(here)) is here
    first, last = table.at(0, 0), table.at(0, len(table.margins) - 1)
    assert table.find(0, 10**6, table.kept(last)) is last
    assert table.find(0, -(10**6), table.kept(first)).margin == min(table.margins)


def test_a_contest_played_by_tables_has_the_exact_mean() -> None:
    # Simulation: 4 standard errors, seeded.
    title = TITLES["turns"]
    chain, table = Chain(title, SETTING), ContestTable(title, SETTING)
    random = np.random.default_rng(11)
    finals = []
    for uniforms in random.random((20_000, title.periods + 1)).tolist():
        here = table.begin(uniforms[-1])
        for uniform in uniforms[:-1]:
            here = table.play(here, uniform)
        finals.append(here.margin)
    error = float(np.std(finals)) / np.sqrt(len(finals))
    assert abs(float(np.mean(finals)) - mean_of(chain, chain.final_margin)) < 4 * error
    unpulled = Chain(title, Match(strength=0.0, gap=0.3))
    with pytest.raises(Disagrees):
        check_within(float(np.mean(finals)), mean_of(unpulled, unpulled.final_margin), 4 * error)


@pytest.mark.parametrize("gap", [-1.37, -0.25, -0.1, 0.0, 0.05, 0.2499, 0.5, 2.6])
def test_neighbouring_tables_keep_the_expected_gap(gap: float) -> None:
    tables = TitleTables(turns_title("20 s"), 0.0, frozenset())
    gaps = [tables.near(gap, float(uniform), "visitor", "computer").match.gap for uniform in UNIFORMS]
    assert float(np.mean(gaps)) == pytest.approx(gap, abs=tables.grid / DRAWS)
    assert max(abs(found - gap) for found in gaps) < tables.grid
    assert len(set(gaps)) <= 2


@pytest.mark.parametrize("length", ["20 s", "180 s", pytest.param("900 s", marks=pytest.mark.slow)])
def test_between_two_tables_the_chance_to_win_is_right_to_two_thousandths(length: str) -> None:
    title = turns_title(length)
    grid = grid_of(title)
    for node in range(6):
        ends = [Chain(title, Match(0.0, (node + step) * grid)).win_chance for step in (0, 1)]
        between = Chain(title, Match(0.0, (node + 0.5) * grid)).win_chance
        assert abs(sum(ends) / 2 - between) < 0.002


def test_tables_are_solved_once_and_for_who_sits_there() -> None:
    title = turns_title("20 s", rules=pull("3 pp", serves="visitors", switch="help"))
    tables = TitleTables(title, 1.0, frozenset())
    first = tables.at(1, "visitor", "computer")
    assert tables.at(1, "visitor", "computer") is first
    assert first.match == Match(1.0, grid_of(title), "visitor", "computer")
    plain = TitleTables(title, 0.0, frozenset()).at(1, "visitor", "computer").begin(0.0).win
    assert tables.at(1, "computer", "computer").begin(0.0).win == pytest.approx(plain, abs=1e-12)
    off = TitleTables(title, 1.0, frozenset({"help"})).at(1, "visitor", "computer")
    assert off.begin(0.0).win == pytest.approx(plain, abs=1e-12)
    assert abs(first.begin(0.0).win - plain) > 1e-3


def test_spread_of_a_title_is_of_equal_sides_without_rules() -> None:
    title = open_title("36 s", rules=pull("5 pp", scalable=False))
    assert TitleTables(title, 1.0, frozenset()).spread == pytest.approx(6.0, rel=1e-6)
