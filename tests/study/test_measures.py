"""Measures of a run: against distributions and queues with closed forms, and added up again from the rows."""

from __future__ import annotations

import math
from functools import cache

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from tests.checking import Disagrees, check_close
from venue.study.measures import gini, top_share
from venue.units import DAY, HOUR

from ..floor.demos import NAMES, demo, written
from ..floor.textbook import PLAY, Run, assert_close, assert_simulated, desk, run, textbook, walk

# -- inequality ----------------------------------------------------------------------------------------------------

GRID = (np.arange(100_000) + 0.5) / 100_000

# Closed forms: of the uniform distribution on [0, 1], of the exponential, of a Pareto with exponent 2, and of the
# lognormal with sigma = 1 (Kleiber & Kotz 2003, Statistical Size Distributions in Economics and Actuarial Sciences).
SIZES = {
    "uniform": (stats.uniform, 1 / 3, 1 - 0.9**2),
    "exponential": (stats.expon, 1 / 2, 0.1 * (1 - math.log(0.1))),
    "Pareto": (stats.pareto(2.0), 1 / 3, 0.1**0.5),
    "lognormal": (stats.lognorm(1.0), 0.5205, 0.3891),
}


def check_inequality(amounts: np.ndarray, expected_gini: float, expected_top: float) -> None:
    # The grid of quantiles cuts a tail off the Pareto.
    check_close(gini(amounts), expected_gini, abs=3e-3)
    check_close(top_share(amounts), expected_top, abs=3e-3)


@pytest.mark.parametrize("name", SIZES)
def test_inequality_of_known_distributions(name: str) -> None:
    size, expected_gini, expected_top = SIZES[name]
    check_inequality(size.ppf(GRID), expected_gini, expected_top)


@pytest.mark.parametrize("name", SIZES)
def test_control_inequality_with_a_flat_amount_on_top(name: str) -> None:
    size, expected_gini, expected_top = SIZES[name]
    with pytest.raises(Disagrees):
        check_inequality(size.ppf(GRID) + 0.05, expected_gini, expected_top)


def test_top_share_of_few() -> None:
    assert top_share(np.array([7] * 10)) == pytest.approx(0.1)
    assert top_share(np.array([0] * 9 + [5])) == pytest.approx(1.0)
    # A tenth of five is half a person.
    assert top_share(np.array([2, 1, 5, 1, 1])) == pytest.approx(2.5 / 10)
    assert math.isnan(top_share(np.array([], dtype=int)))
    assert math.isnan(top_share(np.zeros(4, dtype=int)))


def test_gini_of_few() -> None:
    assert gini(np.array([3.0, 3.0, 3.0])) == pytest.approx(0.0)
    # One of n has everything: (n - 1) / n.
    assert gini(np.array([0.0, 0.0, 0.0, 8.0])) == pytest.approx(3 / 4)


def check_spending(spread: float, top: float) -> None:
    # Kleiber & Kotz 2003: the lognormal's top tenth has Phi(spread + z), z the quantile of .1; people spend all they
    # carry, so that what is spent is distributed like wallets. `gini` likewise, 2 Phi(spread / sqrt 2) - 1.
    runs = spenders(spread)
    assert_simulated([one.measured.venue["spend_top_tenth"] for one in runs], top)
    ginis = [gini(one.visits["credits"].to_numpy(dtype=float)) for one in runs]
    assert_simulated(ginis, 2 * float(stats.norm.cdf(spread / math.sqrt(2))) - 1)


@cache
def spenders(spread: float) -> tuple[Run, ...]:
    """People at a machine that takes a credit a play, in no time, until they have none."""
    machine = {"desk": {"price": 1, "count": 200, "play_time": "0.01 s"}}
    people = {"wallet": {"median": 200, "spread": spread}, "stay": {"off": True}}
    return tuple(run(textbook(machine, 40.0, people=people, hours="10:00-15:00"), seed=108))


@pytest.mark.slow
def test_spending_of_lognormal_wallets() -> None:
    check_spending(0.6, float(stats.norm.cdf(0.6 + stats.norm.ppf(0.1))))
    for one in spenders(0.6):
        assert set(one.visits["because"]) <= {"wallet empty", "closing time"}


@pytest.mark.slow
def test_control_spending_of_wallets_more_alike() -> None:
    with pytest.raises(Disagrees):
        check_spending(0.6, float(stats.norm.cdf(0.5 + stats.norm.ppf(0.1))))


# -- queues --------------------------------------------------------------------------------------------------------


@cache
def waiting(room: int | None = None, patience: float | None = None) -> tuple[Run, ...]:
    people = {"patience": {"off": patience is None, "mean": f"{patience or 0:g} s"}}
    return tuple(run(desk(2, 2.0 if patience else 1.0, room=room, people=people, customers=800), seed=101))


def check_measures_of_a_queue(runs: tuple[Run, ...], load: float) -> None:
    # Erlang C, two machines, load 1: a mean wait of 1/3 of a play; and machines are busy for the load that they are
    # offered. The last to come do so two hours before the end.
    assert_simulated([one.measured.venue["wait_minutes"] for one in runs], PLAY / 60 / 3)
    hours = runs[0].days * 24
    busy = load / 2 * (hours - 2) / hours
    assert_simulated([one.measured.venue["utilisation"] for one in runs], busy)
    assert_simulated([one.measured.machines["desk"]["utilisation"] for one in runs], busy)
    per_hour = load / PLAY * 3600 * (hours - 2) / hours
    for name in ("visits_per_hour", "credits_per_hour"):
        assert_simulated([one.measured.venue[name] for one in runs], per_hour)


def test_measures_of_a_queue() -> None:
    check_measures_of_a_queue(waiting(), 1.0)


def test_control_measures_of_a_queue_with_little_room() -> None:
    with pytest.raises(Disagrees):
        check_measures_of_a_queue(waiting(room=1), 1.0)


def check_gave_up(runs: tuple[Run, ...]) -> None:
    # Erlang A (Garnett, Mandelbaum & Reiman 2002, M&SOM 4(3)), 2 machines, load 2, patience rate 1: of those who have
    # to wait 2 exp(-2) / (1 - 3 exp(-2)) give up.
    expected = 2 * math.exp(-2) / (1 - 3 * math.exp(-2))
    assert_simulated([one.measured.venue["gave_up_waiting"] for one in runs], expected)


def test_share_of_lines_left() -> None:
    check_gave_up(waiting(patience=PLAY))


def test_control_share_of_lines_left_by_patient_people() -> None:
    with pytest.raises(Disagrees):
        check_gave_up(waiting(patience=1.4 * PLAY))


# -- added up again ------------------------------------------------------------------------------------------------


def open_hours(name: str, days: int) -> float:
    hours = written(name)["venue"]["hours"]
    weekdays = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
    total = 0.0
    for day in range(days):
        text = hours.get(weekdays[day % 7], hours["every_day"])
        if text != "closed":
            begin, end = (int(part[:-3]) + int(part[-2:]) / 60 for part in text.split("-"))
            total += end - begin
    return total


def added_up(one: Run, hours: float, credit_price: float) -> dict[str, float]:
    plays, visits = one.plays, one.visits
    credit_price *= visits["paid"].sum() / visits["credits"].sum()  # net of bundles and bonus
    return {
        "credits_per_hour": plays["credits"].sum() / hours,
        "credits_per_play": plays["credits"].mean(),
        "revenue_per_play": plays["credits"].mean() * credit_price,
        "take_per_week": plays["credits"].sum() * credit_price / (one.days / 7),
        "limit_reached": visits["limited"].mean(),
        "plays_per_visit": len(plays) / len(visits),
        "credits_per_visit": plays["credits"].sum() / len(visits),
        "buy_in_rate": visits["taken"].sum() / visits["offers"].sum(),
        "visits_per_hour": len(visits) / hours,
        "wait_minutes": visits["waited"].astype(float).mean() / 60,
        "gave_up_waiting": visits["gave_up"].sum() / visits["lines"].sum(),
        "suspicion": visits["suspicion"].mean(),
        "empty_wallets": visits["empty"].mean(),
        "spend_p95": visits["credits"].quantile(0.95),
    }


@pytest.mark.parametrize("name", NAMES)
def test_measures_of_a_demo_venue(name: str) -> None:
    for one in demo(name):
        expected = added_up(one, open_hours(name, one.days), written(name)["venue"]["credit_price"])
        found = {key: one.measured.venue[key] for key in expected}
        assert found == pytest.approx(expected, rel=1e-5)


@pytest.mark.parametrize("name", NAMES)
def test_margins_of_a_demo_venue(name: str) -> None:
    plain = written(name)
    for one in demo(name):
        take = one.plays.groupby("machines")["credits"].sum() * 7 / one.days * plain["venue"]["credit_price"]
        take *= one.visits["paid"].sum() / one.visits["credits"].sum()
        venue = 0.0
        for number, (key, machine) in enumerate(plain["machines"].items()):
            share = take[number] * machine.get("operator_share", plain["venue"].get("operator_share", 1.0))
            costs = machine.get("count", 1) * (machine.get("upkeep", 0.0) + machine.get("floor_cost", 0.0))
            found = one.measured.machines[key]
            assert found["profit_per_week"] * machine.get("count", 1) == pytest.approx(share - costs, rel=1e-9)
            assert found["take_per_week"] * machine.get("count", 1) == pytest.approx(take[number], rel=1e-9)
            venue += share - costs
        assert one.measured.venue["profit_per_week"] == pytest.approx(venue, rel=1e-9)


@pytest.mark.parametrize("name", NAMES)
def test_take_by_the_hour(name: str) -> None:
    # The mean take of each hour of the day times the hours it was open for is the take.
    hours = written(name)["venue"]["hours"]
    weekdays = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
    for one in demo(name):
        opened = np.zeros(24)
        for day in range(one.days):
            text = hours.get(weekdays[day % 7], hours["every_day"])
            if text != "closed":
                begin, end = (60 * int(part[:-3]) + int(part[-2:]) for part in text.split("-"))
                opened += np.bincount(np.arange(begin, end) // 60 % 24, minlength=24) / 60
        take = np.nansum(one.measured.hourly * opened, axis=1)
        by_machine = one.plays.groupby("machines")["credits"].sum()
        assert np.allclose(take, by_machine, rtol=1e-9)
        assert (np.isnan(one.measured.hourly) == (opened == 0)).all()


# -- busy machines -------------------------------------------------------------------------------------------------


def check_utilisation(one: Run, machines: int, hours: float) -> None:
    """The share of machine time in play is the floor's own clock over the time there was."""
    busy = one.account("machine time in play =").left
    assert_close(one.measured.venue["utilisation"], busy / 3600 / (machines * hours), 1e-6)


def two_seats(wallet: float, spread: float) -> list[Run]:
    """Contests of two periods between visitors; a last entry early enough for everybody to be done by closing."""
    machine = {"title": "walk", "price": 1, "seats": 2, "count": 20, "wait_for_opponent": "3 min"}
    scenario = textbook(
        {"walk": machine},
        40.0,
        titles={"walk": walk(60, periods=2)},
        people={"wallet": {"median": wallet, "spread": spread}},
    )
    return run(scenario, replications=2, seed=102)


def test_utilisation_of_machines_for_two() -> None:
    for one in two_seats(2, 0.0):
        assert (one.plays["against"] == 1).mean() > 0.5
        check_utilisation(one, 20, 24.0)


def test_control_utilisation_of_one_machine_more() -> None:
    with pytest.raises(Disagrees):
        check_utilisation(two_seats(2, 0.0)[0], 21, 24.0)


def test_utilisation_when_a_seat_is_given_up() -> None:
    # Some can pay for one period only; the other visitor plays on, and the machine is busy for all of it.
    for one in two_seats(1.6, 0.5):
        assert one.plays["periods"].nunique() == 2
        check_utilisation(one, 20, 24.0)


# -- warm-up -------------------------------------------------------------------------------------------------------


def test_the_warm_up_is_left_out() -> None:
    # By when a contest began and when a visitor came; the run itself is the same.
    base = textbook({"walk": {"title": "walk", "price": 1, "count": 40}}, 10.0, titles={"walk": walk(900)}, days=5)
    (whole,) = run(base, replications=1, seed=103)
    (late,) = run(base.change(warm_up=3), replications=1, seed=103)
    # A filter, never a deletion: all rows are there, and say what belongs to it.
    pd.testing.assert_frame_equal(whole.plays.drop(columns="warm_up"), late.plays.drop(columns="warm_up"))
    pd.testing.assert_frame_equal(whole.visits.drop(columns="warm_up"), late.visits.drop(columns="warm_up"))
    assert np.array_equal(late.plays["warm_up"], late.plays["began"] < 3 * DAY)
    assert np.array_equal(late.visits["warm_up"], late.visits["arrived"] < 3 * DAY)
    contests = whole.plays[whole.plays["began"] >= 3 * DAY]
    visits = whole.visits[whole.visits["arrived"] >= 3 * DAY]
    assert 0 < len(contests) < len(whole.plays)
    assert_close(late.measured.venue["close_finishes"], contests["close"].astype(float).mean(), 1e-9)
    assert_close(late.measured.venue["visits_per_hour"], len(visits) / 48, 1e-9)
    assert_close(late.measured.venue["credits_per_hour"], contests["credits"].sum() / 48, 1e-9)
    assert_close(np.nansum(late.measured.hourly) * 2, contests["credits"].sum(), 1e-9)
    busy = (whole.plays["ended"] - whole.plays["began"].clip(lower=3 * DAY)).clip(lower=0.0).sum()
    assert_close(late.measured.venue["utilisation"], busy / (40 * 48 * 3600), 1e-9)
    with pytest.raises(Disagrees):
        assert_close(late.measured.venue["visits_per_hour"], len(whole.visits) / 120, 1e-3)


# -- the better side -----------------------------------------------------------------------------------------------


@cache
def against_the_house(sd: float) -> tuple[Run, ...]:
    """Visitors of normal skill against a computer of mean skill, walks of 100 steps."""
    machine = {"walk": {"title": "walk", "price": 1, "count": 60}}
    people = {"skill": {"sd": sd}}
    return tuple(run(textbook(machine, 20.0, titles={"walk": walk(100)}, people=people), seed=104))


def check_sheppard(runs: tuple[Run, ...], sd: float) -> None:
    # Sheppard 1899, Phil. Trans. R. Soc. A 192 (location from memory): two normals agree in sign with an arc tangent.
    # Here a small skill gap, with deviation sd, and a final margin of 100 steps that is normal about 100 gap / 2.
    expected = 0.5 + math.atan(sd * math.sqrt(100) / 2) / math.pi
    assert_simulated([one.measured.venue["better_side_wins"] for one in runs], expected)


def test_better_side_wins() -> None:
    check_sheppard(against_the_house(0.1), 0.1)


def test_control_better_side_by_less() -> None:
    with pytest.raises(Disagrees):
        check_sheppard(against_the_house(0.1), 0.18)


def test_skill_edge_is_whole_where_nothing_helps() -> None:
    for one in against_the_house(0.1):
        assert one.measured.venue["skill_edge"] == pytest.approx(1.0, rel=1e-6)


# -- contests, of one visitor or two -------------------------------------------------------------------------------


def one_row_each(one: Run) -> pd.DataFrame:
    """Contests, a row each."""
    return one.plays[one.plays["against"] >= 0].drop_duplicates("contest")


@pytest.mark.parametrize("name", ["bar", "pier"])
def test_a_contest_between_visitors_is_one_contest(name: str) -> None:
    # Both measures are shares of contests; each of these venues has contests of both kinds.
    for one in demo(name):
        contests = one_row_each(one)
        assert 0 < (contests["against"] == 1).mean() < 1
        for measure, column in (("better_side_wins", "better_won"), ("close_finishes", "close")):
            assert_close(one.measured.venue[measure], contests[column].astype(float).mean(), 1e-6)


# -- what catch-up leaves of the better side's edge ----------------------------------------------------------------


@cache
def helped(strength: float) -> tuple[Run, ...]:
    """Visitors of unequal skill at a walk of 40 steps with a pull; the same contests at every strength."""
    machine = {"walk": {"title": "walk", "price": 1, "count": 60}}
    scenario = textbook(machine, 16.0, titles={"walk": walk(40, 0.02)}, people={"skill": {"sd": 0.3}})
    return tuple(run(scenario, seed=106, strength=strength))


def check_edge(strength: float, stated_at: float) -> None:
    """The edge kept, which is exact, against how often the better side did win with and without help."""
    away = []
    for unaided, aided, stated in zip(helped(0.0), helped(strength), helped(stated_at), strict=True):
        kept = stated.measured.venue["skill_edge"]
        edges = [one.measured.venue["better_side_wins"] - 0.5 for one in (unaided, aided)]
        away.append(kept * edges[0] - edges[1])
    assert_simulated(away, 0.0)


@pytest.mark.parametrize("strength", [0.0, 1.0, 2.0])
def test_skill_edge_says_what_help_costs_the_better_side(strength: float) -> None:
    check_edge(strength, strength)


def test_control_skill_edge_of_another_strength() -> None:
    with pytest.raises(Disagrees):
        check_edge(2.0, 0.0)


# -- time in play --------------------------------------------------------------------------------------------------


def late_plays() -> tuple[float, float, float]:
    """Time in play of a venue that is open for an hour, with plays of up to 50 minutes: as measured, by the rows of
    plays while it is open, and by the rows in all."""
    machine = {"desk": {"price": 1, "count": 3, "play_time": "50 min"}}
    hours = {"every_day": "10:00-11:00"}
    scenario = textbook(machine, 6.0, hours=hours, days=20)
    (one,) = run(scenario, replications=1, seed=5)
    closes = one.plays["began"] // DAY * DAY + 11 * HOUR
    sold = 3 * 20 * HOUR
    in_open_hours = (np.minimum(one.plays["ended"], closes) - one.plays["began"]).sum() / sold
    in_all = (one.plays["ended"] - one.plays["began"]).sum() / sold
    return one.measured.venue["utilisation"], float(in_open_hours), float(in_all)


def test_time_in_play_counts_while_the_venue_is_open() -> None:
    measured, while_open, _ = late_plays()
    assert 0.5 < measured < 1.0
    assert measured == pytest.approx(while_open, rel=1e-12)


def test_control_time_in_play_with_play_after_closing() -> None:
    measured, _, in_all = late_plays()
    with pytest.raises(Disagrees):
        check_close(measured, in_all, rel=1e-12)
