"""How safe a lead is: never caught up with, and won, moment by moment.

Rare one-point scores of equal sides are a walk that stands still most seconds; its lead diffuses, with variance 2 D a
second. That a lead "lasts" and that its side wins are two things: a lead that is lost may be won back.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.checking import Disagrees, check_close, check_that, check_within
from venue.contest.forms import solve
from venue.contest.match import Match
from venue.contest.win_probability import Unfolded, unfold
from venue.scenario.title import Title

from .building import Array, lasting, open_title, points_title, pull

LEAD, SECONDS, DIFFUSION = 10, 480, 0.0391
# 2 D scores a second.
RARE = open_title(f"{SECONDS} s", mean_attack=lasting(1 / (2 * DIFFUSION)))


def unfolded(title: Title, gap: float = 0.0) -> Unfolded:
    return unfold(solve(title, Match(gap=gap)))


def at(found: Unfolded, table: Array, left: int, margin: int) -> float:
    return float(table[left - 1, int(np.flatnonzero(found.margins == margin)[0])])


def never_erased(scored: float, seconds: int, lead: int) -> float:
    """A lead that is never erased, by the reflection principle: P(-lead < X <= lead) of a free walk from nought.

    From the definition (Feller, vol. I, ch. III; location from memory). The walk moves by one, either way alike, with
    chance `scored` a second; its distribution is had from its characteristic function, not from a chain.
    """
    size = 2 * (seconds + lead) + 2
    angles = 2 * np.pi * np.arange(size) / size
    chances = np.fft.ifft((1 - scored + scored * np.cos(angles)) ** seconds).real
    return float(chances[0] + 2 * chances[1:lead].sum() + chances[lead])


def check_by_reflection(title: Title, scored: float) -> None:
    found = unfolded(title)
    for lead in (1, 3, LEAD, 40):
        for left in (1, 60, SECONDS):
            expected = never_erased(scored, left, lead)
            check_close(at(found, found.lasts, left, lead), expected, abs=1e-9)
            check_close(at(found, found.lasts, left, -lead), expected, abs=1e-9)


def test_a_lead_lasts_by_the_reflection_principle() -> None:
    check_by_reflection(RARE, 2 * DIFFUSION)


def test_control_a_lead_in_a_quicker_contest() -> None:
    with pytest.raises(Disagrees):
        check_by_reflection(open_title(f"{SECONDS} s", mean_attack="12 s"), 2 * DIFFUSION)


def lasts(diffusion: float, fineness: int) -> float:
    """Chance that the lead lasts where a point is `fineness` steps of the chain, `fineness` squared as frequent."""
    ticks = fineness**2
    found = unfolded(open_title(f"{SECONDS * ticks} s", mean_attack=lasting(1 / (2 * diffusion))))
    return at(found, found.lasts, SECONDS * ticks, LEAD * fineness)


def check_published(diffusion: float) -> None:
    # Clauset, Kogan & Redner 2015, Phys. Rev. E 91, 062815: a lead L with tau left is never erased with
    # erf(L / sqrt(4 D tau)), .89736 for L = 10, tau = 480, D = .0391. Whole points stray from that limit by less than
    # 7e-4, a quarter of it at half the step; two finenesses give the limit to the printed digits.
    coarse, fine = lasts(diffusion, 1), lasts(diffusion, 2)
    check_within(coarse, 0.89736, 7e-4)
    check_within(fine + (fine - coarse) / 3, 0.89736, 0.5e-5 + 0.5e-5)  # the print, and what extrapolation leaves


def test_a_safe_lead_as_published() -> None:
    check_published(DIFFUSION)


def test_control_a_safe_lead_that_diffuses_faster() -> None:
    with pytest.raises(Disagrees):
        check_published(0.0396)


def check_wins_and_lasts(title: Title, gap: float = 0.0) -> None:
    # By symmetry, a side that is caught up with wins half of what follows, a level end being half a win.
    found = unfolded(title, gap)
    ahead = found.margins > 0
    check_close(found.win[:, ahead], (1 + found.lasts[:, ahead]) / 2, abs=1e-9, nan_ok=True)
    check_that(np.nanmax(found.win[:, ahead] - found.lasts[:, ahead]) > 0.05)


@pytest.mark.parametrize("tie", ["draw", "next score"])
def test_winning_is_half_of_what_is_not_safe(tie: str) -> None:
    check_wins_and_lasts(RARE.model_copy(update={"tie": tie}))


def test_winning_is_half_of_what_is_not_safe_to_points() -> None:
    check_wins_and_lasts(points_title(9, win_by=2))


def test_control_winning_and_lasting_between_unequals() -> None:
    with pytest.raises(Disagrees):
        check_wins_and_lasts(RARE, gap=0.3)
    with pytest.raises(Disagrees):
        check_wins_and_lasts(points_title(9, win_by=2), gap=0.3)


def test_control_winning_taken_for_lasting() -> None:
    found = unfolded(RARE)
    assert at(found, found.win, SECONDS, LEAD) == pytest.approx((1 + 0.89736) / 2, abs=4e-4)
    with pytest.raises(Disagrees):
        check_close(at(found, found.win, SECONDS, LEAD), 0.89736, abs=4e-4)


def test_level_scores_are_no_lead() -> None:
    found = unfolded(RARE)
    assert np.isnan(found.lasts[:, found.margins == 0]).all()


def check_start(title: Title, gap: float) -> None:
    found = unfolded(title, 0.2)
    check_close(
        at(found, found.win, title.periods * title.seconds, 0), solve(title, Match(gap=gap)).win_chance, abs=1e-12
    )


def test_the_first_moment_is_the_start() -> None:
    title = open_title("30 s", periods=2, rules=pull("2 pp"))
    check_start(title, 0.2)
    with pytest.raises(Disagrees):
        check_start(title, 0.21)
