"""Exact results averaged over the match-ups that a title meets."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from scipy import integrate, stats

from tests.checking import Disagrees, check_close
from venue.contest.chain import Chain
from venue.contest.forms import unaided_spread
from venue.contest.match import Match
from venue.contest.results import MatchUps, better_side
from venue.scenario.title import Title

from .building import MIXED, assert_closed, headlines, open_title, pull, turns_title

SLOPED = turns_title("40 s", periods=2, mean_attack="3 s", attempts=MIXED, rules=pull("2 pp"), close=2)


def over_normal(value: Callable[[float], float], mean: float, sd: float) -> float:
    """Average over a normal distribution by adaptive quadrature."""

    def weighted(x: float) -> float:
        return value(x) * float(stats.norm.pdf(x, mean, sd))

    low, high = mean - 9 * sd, mean + 9 * sd
    edges = sorted({low, min(max(0.0, low), high), mean, high})
    return sum(integrate.quad(weighted, a, b, epsabs=1e-12)[0] for a, b in zip(edges, edges[1:], strict=False))


NORMALS = [(0.0, 0.1), (0.0, 0.7), (0.3, 0.5), (-0.5, 1.2), (1.0, 0.25), (2.0, 0.5)]


@pytest.mark.parametrize(("mean", "sd"), [*NORMALS, (0.4, 0.0)])
def test_weights_of_match_ups_sum_to_one(mean: float, sd: float) -> None:
    nodes = MatchUps(mean, sd, "computer").nodes(40)
    assert sum(weight for _, weight in nodes) == pytest.approx(1.0, abs=1e-12)
    assert all(weight > 0 for _, weight in nodes)
    assert MatchUps(0.4, 0.0, "visitor").nodes(40) == [(0.4, 1.0)]


def check_average(match_ups: MatchUps, value: Callable[[float], float], mean: float, sd: float) -> None:
    average = sum(weight * value(gap) for gap, weight in match_ups.nodes(40))
    # Cutting a normal at 4.5 sd leaves 7e-6 out; the rest is for the nodes.
    check_close(average, over_normal(value, mean, sd), abs=1e-4)


VALUES: dict[str, Callable[[float], float]] = {
    "side A wins": lambda gap: 1 / (1 + math.exp(-2 * gap)),
    "better side wins": lambda gap: 1 / (1 + math.exp(-2 * abs(gap))),
}


@pytest.mark.parametrize("value", VALUES)
@pytest.mark.parametrize(("mean", "sd"), NORMALS)
def test_average_over_match_ups(mean: float, sd: float, value: str) -> None:
    check_average(MatchUps(mean, sd, "visitor"), VALUES[value], mean, sd)


def test_control_average_over_another_spread() -> None:
    with pytest.raises(Disagrees):
        check_average(MatchUps(0.0, 0.7, "visitor"), VALUES["better side wins"], 0.0, 0.72)


def better_side_wins(title: Title, sd: float) -> float:
    return headlines(title, MatchUps(0.0, sd, "visitor"), [0.0])[0].better_side_wins


def check_sheppard(title: Title, sd: float, steps: int) -> None:
    # Sheppard 1899, Phil. Trans. R. Soc. A 192 (location from memory): two normals agree in sign with an arc tangent.
    # Here they are a small gap, with deviation sd, and a final margin that is normal about gap / 2 a step. To three
    # digits: the steps are many, not without end.
    expected = 0.5 + math.atan(sd * math.sqrt(steps) / 2) / math.pi
    check_close(better_side_wins(title, sd), expected, abs=5e-4)


@pytest.mark.parametrize("sd", [0.02, 0.1])
def test_better_side_wins_by_sheppards_formula(sd: float) -> None:
    check_sheppard(open_title("400 s"), sd, 400)


def test_control_sheppards_formula_under_pull() -> None:
    with pytest.raises(Disagrees):
        check_sheppard(open_title("400 s", rules=pull("0.5 pp", scalable=False)), 0.1, 400)


def check_skill_decides(title: Title, sd: float, steps: int) -> None:
    # From the definition: a step is 1 or -1 with mean tanh(gap / 2) and deviation 1 / cosh(gap / 2), and many steps
    # are normal, so a gap wins with Phi(sqrt(steps) sinh(gap / 2)); then over a normal gap. To three digits.
    def wins(gap: float) -> float:
        return float(stats.norm.cdf(math.sqrt(steps) * math.sinh(abs(gap) / 2)))

    check_close(better_side_wins(title, sd), over_normal(wins, 0.0, sd), abs=5e-4)


# In the last, skills differ by ten times what luck makes up for, and the curve is steep.
@pytest.mark.parametrize("sd", [0.1, 0.3, 1.0])
def test_better_side_wins_when_skill_decides(sd: float) -> None:
    check_skill_decides(open_title("400 s"), sd, 400)


def test_control_better_side_wins_in_fewer_steps() -> None:
    with pytest.raises(Disagrees):
        check_skill_decides(open_title("300 s"), 0.3, 400)


def test_skill_edge_is_whole_at_no_strength() -> None:
    off, half, full = headlines(SLOPED, MatchUps(0.1, 0.4, "visitor"), [0.0, 0.5, 1.0])
    assert_closed(off.skill_edge, 1.0)
    assert 0.0 < full.skill_edge < half.skill_edge < 1.0
    edge = (full.better_side_wins - 0.5) / (off.better_side_wins - 0.5)
    assert_closed(full.skill_edge, edge)
    with pytest.raises(Disagrees):
        assert_closed(full.skill_edge, 1.0)


def test_skill_edge_of_equals_is_unknown() -> None:
    (found,) = headlines(SLOPED, MatchUps(0.0, 0.0, "visitor"), [1.0])
    assert math.isnan(found.skill_edge)
    assert found.better_side_wins == 0.5


def test_one_pair_of_skills_is_one_chain() -> None:
    (found,) = headlines(SLOPED, MatchUps(-0.3, 0.0, "computer"), [0.8])
    chain = Chain(SLOPED, Match(0.8, -0.3))
    margins, chances = chain.margins, chain.final_margin
    assert_closed(found.side_a_wins, chain.win_chance)
    assert_closed(found.better_side_wins, 1 - chain.win_chance)
    assert_closed(found.level, float(chances[margins == 0].sum()))
    assert_closed(found.close_finishes, float(chances[np.abs(margins) <= 2].sum()))
    assert_closed(found.margin_mean, float(margins @ chances))
    assert_closed(found.margin_sd, float(np.sqrt(margins**2 @ chances - (margins @ chances) ** 2)))
    assert_closed(found.assisted, float(chain.expected("assisted").sum()))
    assert found.owed["pull"] == pytest.approx(tuple(chain.expected("pull")))
    # Each has a range of its own; what lies outside of either does not happen.
    exact = dict(zip(margins.tolist(), chances.tolist(), strict=True))
    for margin in exact.keys() | found.margin.keys():
        assert found.margin.get(margin, 0.0) == pytest.approx(exact.get(margin, 0.0), abs=1e-10)


def test_figures_over_match_ups_agree_with_each_other() -> None:
    for found in headlines(SLOPED, MatchUps(0.4, 0.6, "visitor"), [0.0, 1.0]):
        assert sum(found.margin.values()) == pytest.approx(1.0, abs=1e-9)
        assert list(found.margin) == sorted(found.margin)
        mean = sum(margin * chance for margin, chance in found.margin.items())
        assert found.margin_mean == pytest.approx(mean, abs=1e-9)
        ahead = sum(chance for margin, chance in found.margin.items() if margin > 0)
        assert found.side_a_wins == pytest.approx(ahead + found.level / 2, abs=1e-9)
        close = sum(chance for margin, chance in found.margin.items() if abs(margin) <= 2)
        assert found.close_finishes == pytest.approx(close, abs=1e-9)
    assert found.owed.keys() == SLOPED.rules.keys()


def test_margin_spread_adds_skill_and_luck() -> None:
    # Law of total variance, from the definition: n steps of a walk whose gap is itself spread.
    sd, steps = 0.2, 100
    (found,) = headlines(open_title(f"{steps} s"), MatchUps(0.0, sd, "visitor"), [0.0])

    def luck(gap: float) -> float:
        return steps / math.cosh(gap / 2) ** 2

    def skill(gap: float) -> float:
        return (steps * math.tanh(gap / 2)) ** 2

    assert found.margin_sd**2 == pytest.approx(over_normal(lambda g: luck(g) + skill(g), 0.0, sd), rel=5e-4)
    with pytest.raises(Disagrees):
        check_close(found.margin_sd**2, over_normal(luck, 0.0, sd), rel=5e-4)


@pytest.mark.parametrize("switches_off", [frozenset(), frozenset({"help"})])
def test_switches_reach_the_headlines(switches_off: frozenset[str]) -> None:
    title = open_title("40 s", rules=pull("2 pp", switch="help"))
    (found,) = headlines(title, MatchUps(0.3, 0.0, "visitor"), [1.0], switches_off)
    strength = 0.0 if switches_off else 1.0
    assert_closed(found.side_a_wins, Chain(title, Match(strength, 0.3, "visitor", "visitor")).win_chance)


def test_better_side() -> None:
    assert [better_side(gap, 0.7) for gap in (0.5, 0.0, -0.5)] == pytest.approx([0.7, 0.5, 0.3])


def test_spread_of_equal_sides() -> None:
    # From the definition: n unit steps have variance n.
    assert_closed(unaided_spread(open_title("64 s", rules=pull("5 pp", scalable=False))), 8.0)
    with pytest.raises(Disagrees):
        assert_closed(unaided_spread(open_title("65 s")), 8.0)
