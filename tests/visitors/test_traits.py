"""What people are and carry: wallets, time, skill, beliefs, suspicion."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cache
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from tests.checking import Disagrees, check_close, check_equal, check_likely, check_that
from venue.scenario.people import People
from venue.streams import Streams
from venue.study.measures import gini, top_share
from venue.units import DAY
from venue.visitors.person import Person
from venue.visitors.traits import Traits
from venue.visitors.visit import Company, Visit

from ..floor.textbook import NEVER, REPLICATIONS, SURELY, Run, assert_simulated, over, run, textbook, walk

RARE = float(2 * stats.norm.sf(4))  # a p-value as rare as 4 standard errors


def begun(people: People, visitors: int, replication: int) -> tuple[np.ndarray, np.ndarray]:
    """Wallets and times to spend of first visits."""
    traits = Traits(people, Streams(81, replication))
    visits = [traits.begin_visit(Person(number), 0.0) for number in range(visitors)]
    return np.array([visit.wallet for visit in visits]), np.array([visit.stay for visit in visits])


# -- wallets and time ----------------------------------------------------------------------------------------------


@cache
def wallets(spread: float) -> tuple[np.ndarray, ...]:
    """Wallets so large that rounding to whole credits is nothing."""
    people = People.model_validate({"wallet": {"median": 1_000_000, "spread": spread}})
    return tuple(begun(people, 2000, replication)[0] for replication in range(REPLICATIONS))


def check_wallets(found: Sequence[np.ndarray]) -> None:
    # Lognormal with sigma = 1: Gini 2 Phi(sigma / sqrt 2) - 1 = .5205, the top tenth holds .3891 (Kleiber & Kotz 2003,
    # Statistical Size Distributions in Economics and Actuarial Sciences).
    assert_simulated([gini(amounts) for amounts in found], 0.5205)
    assert_simulated([top_share(amounts) for amounts in found], 0.3891)
    logs = np.log(np.concatenate(found) / 1_000_000)
    check_likely(stats.kstest(logs, "norm").pvalue, RARE)


def test_wallets_are_lognormal() -> None:
    check_wallets(wallets(1.0))


def test_control_wallets_of_another_spread() -> None:
    with pytest.raises(Disagrees):
        check_wallets(wallets(0.9))


def test_wallets_hold_whole_credits() -> None:
    people = People.model_validate({"wallet": {"median": 4, "spread": 0.7}})
    found = begun(people, 5000, 0)[0]
    assert (found == np.round(found)).all()
    # A normal on a log scale, cut at half credits.
    for credits in range(1, 9):
        chance = float(np.diff(stats.norm.cdf(np.log(np.array([credits - 0.5, credits + 0.5]) / 4) / 0.7))[0])
        assert abs((found == credits).mean() - chance) < 4 * math.sqrt(chance / 5000)


def check_stay(spread: float) -> None:
    people = People.model_validate({"stay": {"median": "50 min", "spread": spread}})
    logs = np.log(begun(people, 5000, 0)[1] / 3000.0)
    check_likely(stats.kstest(logs, "norm", (0.0, 0.5)).pvalue, RARE)


def test_time_to_spend_is_lognormal() -> None:
    check_stay(0.5)


def test_control_time_to_spend_of_another_spread() -> None:
    with pytest.raises(Disagrees):
        check_stay(0.6)


def test_wallet_and_time_are_independent() -> None:
    wallet, stay = begun(People(), 5000, 1)
    assert abs(stats.spearmanr(wallet, stay).statistic) < 4 / math.sqrt(5000)


def test_what_is_switched_off_never_runs_out() -> None:
    people = People.model_validate({"wallet": {"off": True}, "stay": {"off": True}})
    wallet, stay = begun(people, 3, 0)
    assert np.isinf(wallet).all() and np.isinf(stay).all()


# -- skill ---------------------------------------------------------------------------------------------------------


@cache
def skilled(sd: float) -> Run:
    """People who play each of two titles once, against computers of skill 0.25 and -0.5."""
    machines = {name: {"title": name, "price": 1, "count": 60} for name in ("walk", "run")}
    scenario = textbook(
        machines,
        60.0,
        titles={"walk": walk(10, opponent=0.25), "run": walk(10, opponent=-0.5)},
        people={
            "skill": {"mean": 0.3, "sd": sd},
            "wallet": {"median": 2},
            "stay": {"off": True},
        },
        days=3,
    )
    return run(scenario, replications=1, seed=82)[0]


def check_skill(one: Run) -> None:
    """Skill is normal, and a person's is one number, the same at every title."""
    gaps = one.plays.set_index(["person", "machines"])["gap"].unstack()
    assert len(gaps) > 4000
    assert gaps.notna().all(axis=None)
    check_that(np.allclose(gaps[0] + 0.25, gaps[1] - 0.5, atol=1e-6))
    check_likely(stats.kstest(gaps[0] + 0.25, "norm", (0.3, 0.4)).pvalue, RARE)


def test_skill_is_normal() -> None:
    check_skill(skilled(0.4))


def test_control_skill_of_another_spread() -> None:
    with pytest.raises(Disagrees):
        check_skill(skilled(0.46))


# -- what contests teach -------------------------------------------------------------------------------------------

REGULARS = {
    "wallet": {"off": True},
    "stay": {"off": True},
    "buy_in": {"again": 0.5},
    "come_back": {"constant": SURELY, "delay_median": "2 days", "delay_spread": 0.4},
}
HOURS = {"every_day": "10:00-20:00", "last_entry": "1 h"}  # time enough to finish


@cache
def regulars(close_loss: float = 0.0, practice: float = 0.0) -> Run:
    """People who come again and again, for contests of twenty steps."""
    people = {
        "belief": {"wins": 3.0, "losses": 1.5, "close_loss": close_loss},
        "skill": {"sd": 0.3, "practice": practice, "practice_limit": 0.2},
    }
    scenario = textbook(
        {"walk": {"title": "walk", "price": 1, "count": 60}},
        4.0,
        titles={"walk": walk(20, close=4)},
        people=over(REGULARS, people),
        hours=HOURS,
        days=10,
    )
    return run(scenario, replications=1, seed=83)[0]


def check_belief(one: Run, close_loss: float) -> None:
    # A Beta prior, updated: the mean of Beta(wins + seen, losses + seen).
    rows = one.plays[one.plays["result"].notna()].sort_values(["person", "began"])
    close = (rows["margin"].between(-4, -1)) & (rows["result"] == 0)
    worth = np.where(close, close_loss, rows["result"])
    before = pd.Series(worth, rows.index).groupby(rows["person"]).cumsum() - worth
    count = rows.groupby("person").cumcount()
    expected = stats.beta.mean(3.0 + before, 1.5 + count - before)
    check_that(np.allclose(rows["believed"], expected, rtol=1e-6))
    assert count.max() > 15
    assert (rows["visit"] > 2).any()


@pytest.mark.parametrize("close_loss", [0.0, 0.4])
def test_beliefs_follow_results(close_loss: float) -> None:
    check_belief(regulars(close_loss), close_loss)


def test_control_beliefs_that_close_losses_flatter() -> None:
    with pytest.raises(Disagrees):
        check_belief(regulars(0.4), 0.0)


def check_practice(one: Run, practice: float) -> None:
    """Skill grows by the same amount with each contest played before, up to a limit, from visit to visit."""
    rows = one.plays.sort_values(["person", "began"])
    grown = rows["gap"] - rows.groupby("person")["gap"].transform("first")
    played = rows["result"].notna().astype(int)
    before = played.groupby(rows["person"]).cumsum() - played
    check_that(np.allclose(grown, np.minimum(0.2, practice * before), atol=1e-6))
    assert before.max() > 0.2 / practice


def test_practice() -> None:
    check_practice(regulars(practice=0.03), 0.03)


def test_control_people_who_learn_nothing() -> None:
    with pytest.raises(Disagrees):
        check_practice(regulars(), 0.03)


# -- suspicion -----------------------------------------------------------------------------------------------------

# Attacks by turns, one a second, of which none succeeds unaided; help makes three in ten of one side's succeed.
HELPED = {
    "play": "turns",
    "periods": 2,
    "period_length": "10 s",
    "mean_attack": "1 s",
    "attempts": {"tap": {"share": 1.0, "points": 1, "chance": "0 %"}},
    "minimum_chance": 0.0,
}
HELP = {"kind": "table", "shift": [[0, 0.3]]}
EACH = 0.4 * 10 * 0.3  # noticed x the computer's attacks in a contest x what help adds


@cache
def suspicious(serves: str = "computer", half_life: str = "3 days") -> Run:
    scenario = textbook(
        {"game": {"title": "game", "price": 1, "count": 60}},
        4.0,
        titles={"game": {**HELPED, "rules": {"help": {**HELP, "serves": serves}}}},
        people=over(REGULARS, {"suspicion": {"notice": 0.4, "half_life": half_life}}),
        hours=HOURS,
        days=10,
    )
    return run(scenario, replications=1, seed=84)[0]


def check_suspicion(one: Run) -> None:
    """From the description: suspicion rises with helped scores conceded, and halves in three days away."""
    came_again = 0
    for _, rows in one.visits.groupby("person"):
        level, away_since = 0.0, 0.0
        for visit in rows.itertuples():
            level = level * 0.5 ** ((visit.arrived - away_since) / (3 * DAY)) + EACH * visit.finished
            check_that(math.isclose(visit.suspicion, level, rel_tol=1e-5, abs_tol=1e-6))
            check_equal(visit.finished, visit.plays)
            away_since = visit.left
        came_again += len(rows) - 1
    assert came_again > 50


def test_suspicion_rises_and_fades() -> None:
    check_suspicion(suspicious())


@pytest.mark.parametrize("wrong", [{"serves": "visitors"}, {"half_life": "4 days"}])
def test_control_suspicion(wrong: dict[str, str]) -> None:
    with pytest.raises(Disagrees):
        check_suspicion(suspicious(**wrong))


GIVEN = 0.5


@cache
def served(given: float = GIVEN) -> Run:
    """The help goes to the visitors, who win nearly always, and come again."""
    scenario = textbook(
        {"game": {"title": "game", "price": 1, "count": 60}},
        4.0,
        titles={"game": {**HELPED, "rules": {"help": {**HELP, "serves": "visitors"}}}},
        people=over(REGULARS, {"suspicion": {"notice": 0.4, "half_life": "3 days", "given_win": given}}),
        hours=HOURS,
        days=10,
    )
    return run(scenario, replications=1, seed=85)[0]


def check_given(one: Run) -> None:
    """From the description: a part of what is noticed holds for help to one's own side, in the last of two periods of a
    contest won; a contest that ends level adds nothing."""
    wins = one.plays[one.plays["result"] == 1.0].groupby(["person", "visit"]).size()
    assert 0 < (one.plays["result"] == 0.5).sum() < len(one.plays) / 10
    for person, rows in one.visits.groupby("person"):
        level, away_since = 0.0, 0.0
        for visit in rows.itertuples():
            level *= 0.5 ** ((visit.arrived - away_since) / (3 * DAY))
            level += GIVEN * EACH / 2 * wins.get((person, visit.visit), 0)
            check_that(math.isclose(visit.suspicion, level, rel_tol=1e-5, abs_tol=1e-6))
            away_since = visit.left


def test_a_win_that_feels_given_raises_suspicion() -> None:
    check_given(served())


@pytest.mark.parametrize("given", [0.0, 0.45])
def test_control_a_win_that_feels_earned(given: float) -> None:
    with pytest.raises(Disagrees):
        check_given(served(given))


def test_talk_closes_the_gap_by_its_share() -> None:
    # From the definition: the mean stays, each gap shrinks by the share; who is busy at a machine of their own is not
    # there to talk.
    streams = Streams(1, 0)
    visits = [Visit(Person(number), 0.0, streams) for number in range(4)]
    company = Company(4, True, visits)
    for visit, level in zip(visits, (0.0, 0.3, 0.9, 5.0), strict=True):
        visit.suspicion = level
    visits[3].at = SimpleNamespace(seats=1)
    for _ in range(3):
        company.talk(0.25)
    levels = [visit.suspicion for visit in visits]
    assert levels[:3] == pytest.approx([0.4 + (level - 0.4) * 0.75**3 for level in (0.0, 0.3, 0.9)])
    assert levels[3] == 5.0
    company.talk(0.0)
    assert [visit.suspicion for visit in visits] == levels


@cache
def pairs(shared: float) -> Run:
    """Friends in twos, each at a machine against a computer that is helped."""
    scenario = textbook(
        {"game": {"title": "game", "price": 1, "count": 60}},
        6.0,
        titles={"game": {**HELPED, "rules": {"help": {**HELP, "serves": "computer"}}}},
        people={
            "wallet": {"median": 4, "spread": 0.8},
            "stay": {"off": True},
            "buy_in": {"again": SURELY},
            "party": {"sizes": {"2": 1.0}},
            "suspicion": {"notice": 0.4, "shared": shared},
        },
        hours=HOURS,
        days=4,
    )
    return run(scenario, replications=1, seed=86)[0]


def check_shared(one: Run, shared: float) -> None:
    """From the description: each plays alone, for as long as the wallet lasts, so that they talk on the way home."""
    parties = one.visits.groupby("arrived")
    conceded = one.visits["credits"] * EACH / 2  # a credit a period, two of them in a contest
    apart = np.abs(conceded.groupby(one.visits["arrived"]).diff().dropna())
    assert (apart > 0).sum() > 30
    check_that(np.allclose(np.abs(parties["suspicion"].diff().dropna()), (1 - shared) * apart, rtol=1e-5, atol=1e-6))
    check_that(np.allclose(parties["suspicion"].sum(), conceded.groupby(one.visits["arrived"]).sum(), rtol=1e-5))


def test_suspicion_spreads_in_a_party() -> None:
    check_shared(pairs(0.5), 0.5)


def test_control_a_party_that_does_not_talk() -> None:
    with pytest.raises(Disagrees):
        check_shared(pairs(0.0), 0.5)


def check_fading(half_life: str) -> None:
    people = People.model_validate({"suspicion": {"half_life": half_life}})
    traits = Traits(people, Streams(1, 0))
    person = Person(0)
    person.suspicion, person.suspicion_at = 0.8, 5 * DAY
    # Half after one half-life, a quarter after two; from where it was left, not from where it was read.
    for later, level in ((0.0, 0.8), (7.0, 0.4), (14.0, 0.2), (21.0, 0.1)):
        check_close(traits.begin_visit(person, (5 + later) * DAY).suspicion, level, rel=1e-6, abs=0.0)


def test_suspicion_halves_in_its_half_life() -> None:
    check_fading("7 days")


def test_control_suspicion_that_fades_faster() -> None:
    with pytest.raises(Disagrees):
        check_fading("6 days")


# -- patience ------------------------------------------------------------------------------------------------------


def check_patience(runs: Sequence[Run], varies: str) -> None:
    """How long people wait at machines that never come free: a mean of 20 minutes, exponential or the same for all."""
    for one in runs:
        waited = one.visits[one.visits["gave_up"] == 1]["waited"]
        assert len(waited) > 300
        if varies == "fixed":
            check_that(np.allclose(waited, 1200.0, rtol=1e-6))
        else:
            check_likely(stats.kstest(waited, "expon", (0.0, 1200.0)).pvalue, RARE)


@cache
def in_vain(varies: str) -> tuple[Run, ...]:
    people = {"patience": {"off": False, "mean": "20 min", "varies": varies}}
    machine = {"desk": {"price": 1, "count": 1, "play_time": "60 h"}}
    return tuple(run(textbook(machine, 20.0, people=people), replications=2, seed=85))


@pytest.mark.parametrize("varies", ["exponential", "fixed"])
def test_patience(varies: str) -> None:
    check_patience(in_vain(varies), varies)


@pytest.mark.parametrize("varies", ["exponential", "fixed"])
def test_control_patience_of_the_other_kind(varies: str) -> None:
    with pytest.raises(Disagrees):
        check_patience(in_vain("fixed" if varies == "exponential" else "exponential"), varies)


# -- coming back ---------------------------------------------------------------------------------------------------


@cache
def returns(chance: float) -> tuple[Run, ...]:
    """People who play once and come back with a constant chance, whatever the visit was like."""
    people = {"come_back": {"constant": math.log(chance / (1 - chance)), "delay_median": "3 days", "delay_spread": 0.2}}
    machine = {"desk": {"price": 1, "count": 60, "play_time": "1 min"}}
    return tuple(run(textbook(machine, 6.0, people=people, hours="10:00-20:00", days=12), seed=86))


def check_returns(runs: Sequence[Run], chance: float) -> None:
    # Lognormal with median 3 days and spread .2: by six days all but 3 in 10 000 are back who will be.
    early = [one.visits[one.visits["left"] < 6 * DAY] for one in runs]
    assert_simulated([np.isfinite(some["next_visit"]).mean() for some in early], chance)


def test_people_come_back_with_their_chance() -> None:
    check_returns(returns(0.4), 0.4)


def test_control_people_come_back_less_often() -> None:
    with pytest.raises(Disagrees):
        check_returns(returns(0.34), 0.4)


def test_nobody_comes_back_who_never_does() -> None:
    machine = {"desk": {"price": 1, "count": 60, "play_time": "1 min"}}
    people = {"come_back": {"constant": NEVER, "chance": 1000.0, "wins": 1000.0}}
    (one,) = run(textbook(machine, 6.0, people=people, days=5), replications=1, seed=87)
    assert np.isinf(one.visits["next_visit"]).all()
