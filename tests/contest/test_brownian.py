"""Many small steps are Brownian motion: the chain's chances meet the published ones of sports scores."""

from __future__ import annotations

import math

import pytest
from scipy import stats

from tests.checking import Disagrees, check_within
from venue.contest.chain import Chain
from venue.contest.match import Match
from venue.scenario.title import Title

from .building import after_period, assert_prints, lasting, open_title, variance_of

STEPS = 400


def drift(ratio: float, steps: int) -> float:
    """Skill gap at which `steps` unit steps have a mean of `ratio` standard deviations."""
    step = ratio / math.sqrt(steps + ratio**2)
    return float(stats.logistic.ppf((1 + step) / 2))


def check_favourite(title: Title, ratio: float, printed: str) -> None:
    # Polson & Stern 2015, The implied volatility of a sports game, J. Quant. Anal. Sports 11(3), Table 1: the
    # favourite's chance to win, Phi(mu / sigma).
    assert_prints(Chain(title, Match(gap=drift(ratio, STEPS))).win_chance, printed)


def check_lead(title: Title, ratio: float, printed: str) -> None:
    # The same table, with mu read as a lead between equal sides with the whole spread still to come.
    chain = Chain(title, Match())
    assert_prints(float(chain.win[0][chain.zero + round(ratio * math.sqrt(STEPS))]), printed)


TABLE_1 = [
    (0.0, "0.50"),
    (0.25, "0.60"),
    (0.5, "0.69"),
    (0.75, "0.77"),
    (1.0, "0.84"),
    (1.25, "0.89"),
    (1.5, "0.93"),
    (2.0, "0.98"),
]


@pytest.mark.parametrize(("ratio", "printed"), TABLE_1)
def test_chance_of_the_favourite(ratio: float, printed: str) -> None:
    check_favourite(open_title(f"{STEPS} s"), ratio, printed)


@pytest.mark.parametrize(("ratio", "printed"), TABLE_1)
def test_chance_of_the_leader(ratio: float, printed: str) -> None:
    check_lead(open_title(f"{STEPS} s"), ratio, printed)


@pytest.mark.parametrize(("ratio", "printed"), TABLE_1[1:])
def test_control_favourite_and_leader_over_half_the_steps(ratio: float, printed: str) -> None:
    half = open_title(f"{STEPS // 2} s")
    with pytest.raises(Disagrees):
        check_favourite(half, ratio, printed)
    with pytest.raises(Disagrees):
        check_lead(half, ratio, printed)


def check_remaining_spread(title: Title) -> None:
    # Polson & Stern 2015, Table 2: sigma = 10.6, spread still to come at the start, each quarter and the end. The
    # spread of 112 unit steps is 10.58.
    chain = Chain(title, Match())
    spreads = [0.0]
    rows = None
    for period in reversed(range(4)):
        row = after_period(chain, 0, period) if rows is None else chain.transition(period)[chain.zero] @ rows
        spreads.append(math.sqrt(variance_of(chain, row)))
        rows = chain.transition(period) if rows is None else chain.transition(period) @ rows
    for spread, printed in zip(reversed(spreads), ["10.6", "9.2", "7.5", "5.3", "0.0"], strict=True):
        assert_prints(spread, printed)


def test_spread_still_to_come() -> None:
    check_remaining_spread(open_title("28 s", periods=4))


def test_control_spread_still_to_come_under_pull() -> None:
    pulled = {"pull": {"kind": "slope", "per_point": "1 pp"}}
    with pytest.raises(Disagrees):
        check_remaining_spread(open_title("28 s", periods=4, rules=pulled))


def check_half_time(title: Title, ratio: float) -> None:
    # Polson & Stern 2015: mu = -4, sigma = 10.6 and 15 ahead at half: .959. Here a point is two unit steps, so that
    # 450 steps have a spread of 21.2 and the lead is 30.
    chain = Chain(title, Match(gap=drift(ratio, 450)))
    assert_prints(float(chain.win[1][chain.zero + 30]), "0.959")


def test_underdog_ahead_at_half_time() -> None:
    check_half_time(open_title("225 s", periods=2), -4 / 10.6)


def test_control_ahead_at_half_time_between_equals() -> None:
    with pytest.raises(Disagrees):
        check_half_time(open_title("225 s", periods=2), 0.0)


LEAD, SECONDS, DIFFUSION = 10, 480, 0.0391


def leader_wins(fineness: int, diffusion: float) -> float:
    """Chance to win of a side `LEAD` points ahead, where a point is `fineness` steps of the chain.

    The variance of the lead grows by 2 D a second; the clock is cut finer where a step a second would not do.
    """
    per_second = 2 * diffusion * fineness**2
    ticks = math.ceil(per_second / 0.7)
    title = open_title(f"{SECONDS * ticks} s", mean_attack=lasting(ticks / per_second))
    chain = Chain(title, Match())
    return float(chain.win[0][chain.zero + LEAD * fineness])


def check_safe_lead(diffusion: float, never_erased: float) -> None:
    # Clauset, Kogan & Redner 2015, Phys. Rev. E 91, 062815: a lead L with tau left is never erased with
    # erf(L / sqrt(4 D tau)), .89736 for L = 10, tau = 480, D = .0391; by reflection the leader wins with
    # (1 + that) / 2, the greater by the contests that are level and are then won. Halving the step quarters the error
    # of the lattice (midpoint rule), so two finenesses give the limit.
    coarse, fine = leader_wins(2, diffusion), leader_wins(4, diffusion)
    check_within(fine, coarse, 1e-4)
    limit = fine + (fine - coarse) / 3
    check_within(2 * limit - 1, never_erased, 0.5e-5 + 1e-5)  # the print, and what extrapolation leaves


def test_chance_to_win_from_a_safe_lead() -> None:
    check_safe_lead(DIFFUSION, 0.89736)


def test_control_safe_lead_that_diffuses_faster() -> None:
    with pytest.raises(Disagrees):
        check_safe_lead(0.0396, 0.89736)


def test_control_winning_is_not_never_being_caught() -> None:
    with pytest.raises(Disagrees):
        check_safe_lead(DIFFUSION, 2 * 0.89736 - 1)
