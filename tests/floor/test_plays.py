"""How often people play on: geometric plays, and venues in which nothing that strength moves is of any effect."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cache
from typing import Any

import numpy as np
import pytest
from scipy import stats

import venue
from tests.checking import Disagrees, check_equal, check_likely, check_same_rows, check_that
from venue.floor.records import PLAY_COLUMNS, Records
from venue.scenario.load import Loaded, check, to_raw

from .demos import FOLDER, NAMES
from .textbook import NEVER, SURELY, Run, assert_simulated, over, run, textbook, walk


def log_odds(chance: float) -> float:
    return math.log(chance / (1 - chance))


# -- geometric plays -----------------------------------------------------------------------------------------------

PRICE = 3


@cache
def repeaters(chance: float, played: float = 0.0) -> tuple[Run, ...]:
    """One-period contests, and a constant chance to want another."""
    scenario = textbook(
        {"walk": {"title": "walk", "price": PRICE, "count": 80}},
        12.0,
        titles={"walk": walk(20)},
        people={
            "wallet": {"off": True},
            "stay": {"off": True},
            "buy_in": {"again": log_odds(chance), "played": played},
        },
    )
    return tuple(run(scenario, seed=71))


def check_geometric(runs: Sequence[Run], chance: float) -> None:
    # A constant chance c to go on: 1 / (1 - c) plays in the mean, with variance c / (1 - c)^2; and the take is price
    # x plays, so its mean is price / (1 - c) a visit (Wald).
    plays = [one.visits["plays"] for one in runs]
    assert_simulated([some.mean() for some in plays], 1 / (1 - chance))
    assert_simulated([((some - 1 / (1 - chance)) ** 2).mean() for some in plays], chance / (1 - chance) ** 2)
    assert_simulated([one.visits["credits"].mean() for one in runs], PRICE / (1 - chance))
    found = np.bincount(np.minimum(np.concatenate(plays), 6), minlength=7)[1:]
    shares = np.append(stats.geom.pmf(np.arange(1, 6), 1 - chance), stats.geom.sf(5, 1 - chance))
    check_likely(stats.chisquare(found, shares * found.sum()).pvalue, 2 * stats.norm.sf(4))


@pytest.mark.parametrize("chance", [0.5, 0.7])
def test_plays_of_a_visit_are_geometric(chance: float) -> None:
    check_geometric(repeaters(chance), chance)


def test_control_plays_of_people_who_tire_of_them() -> None:
    with pytest.raises(Disagrees):
        check_geometric(repeaters(0.7, played=0.2), 0.7)


def test_take_is_price_times_plays() -> None:
    for one in repeaters(0.7):
        assert (one.visits["credits"] == PRICE * one.visits["plays"]).all()
        assert one.account("credits out of wallets").right == PRICE * len(one.plays)
        # Every play but the last was an offer taken; the last offer was not.
        assert (one.visits["offers"] == one.visits["plays"]).all()
        assert (one.visits["taken"] == one.visits["plays"] - 1).all()
        assert set(one.visits["because"]) == {"had enough"}


@cache
def runners(chance: float, tired: float = 0.0) -> tuple[Run, ...]:
    """A contest of fifty periods, and a constant chance to buy the next."""
    scenario = textbook(
        {"walk": {"title": "walk", "price": 2, "price_to_go_on": 1, "count": 80}},
        12.0,
        titles={"walk": walk(5, periods=50, break_length="1 s")},
        people={
            "wallet": {"off": True},
            "stay": {"median": "5 min"},
            "buy_in": {"go_on": log_odds(chance), "tired": tired},
        },
    )
    return tuple(run(scenario, seed=72))


def check_periods(runs: Sequence[Run], chance: float) -> None:
    # The same with an end: the periods of a contest of n are geometric, cut off at n; (1 - c^n) / (1 - c) in the mean.
    assert_simulated([one.plays["periods"].mean() for one in runs], (1 - chance**50) / (1 - chance))
    for one in runs:
        check_that((one.plays["credits"] == 1 + one.plays["periods"]).all())
        check_that((one.plays["result"].notna() == (one.plays["periods"] == 50)).all())


def test_periods_of_a_contest_are_geometric() -> None:
    check_periods(runners(0.8), 0.8)


def test_control_periods_of_people_who_tire() -> None:
    with pytest.raises(Disagrees):
        check_periods(runners(0.8, tired=2.0), 0.8)


# -- no effect -----------------------------------------------------------------------------------------------------

# Everything through which catch-up could be felt.
NUMB = {
    "buy_in": {"chance": 0.0, "closeness": 0.0, "suspicion": 0.0},
    "choice": {"belief": 0.0, "suspicion": 0.0},
    "come_back": {"chance": 0.0, "closeness": 0.0, "wins": 0.0, "suspicion": 0.0},
}


def demo_venue(name: str, tastes: dict[str, Any]) -> Loaded:
    changes = ["study.days=8", "study.warm_up=0"]
    for part, keys in tastes.items():
        changes += [f"people.{part}.{key}={value}" for key, value in keys.items()]
    raw = to_raw(venue.load(FOLDER / f"{name}.toml", changes).scenario)
    for title in raw.get("titles", {}).values():
        # A contest to N points lasts as long as it takes, and that strength does move; let the clock end it.
        if title.pop("first_to", None):
            title["period_length"] = "50 s"
    return check(raw, name)


# What strength must not move when nobody feels it. Results, and what was met and noticed, may differ.
VISIBLE = ["person", "visit", "arrived", "left", "credits", "plays", "finished", "offers", "taken", "lines", "gave_up",
           "waited", "empty", "next_visit"]  # fmt: skip


def check_no_response(loaded: Loaded) -> None:
    weak, strong = (run(loaded, replications=1, seed=73, strength=strength) for strength in (0.0, 2.0))
    for a, b in zip(weak, strong, strict=True):
        check_same_rows(a.visits[VISIBLE], b.visits[VISIBLE])
        played = ["person", "machines", "began", "ended", "credits", "periods", "against"]
        check_same_rows(a.plays[played], b.plays[played])
        # Contests do come out otherwise; it is people who do not mind.
        check_that((a.plays["margin"] != b.plays["margin"]).any())


@pytest.mark.parametrize(
    "name", [name if name == "pier" else pytest.param(name, marks=pytest.mark.slow) for name in NAMES]
)
def test_nobody_minds_strength_when_every_effect_is_zero(name: str) -> None:
    check_no_response(demo_venue(name, NUMB))


def test_control_tastes_as_the_file_has_them() -> None:
    with pytest.raises(Disagrees):
        check_no_response(demo_venue("pier", {}))


EFFECTS = [(part, key) for part, keys in NUMB.items() for key in keys]


@pytest.mark.parametrize(("part", "key"), EFFECTS)
def test_control_each_effect_alone(part: str, key: str) -> None:
    # People of unequal skill who finish what they begin, notice everything and are soon back.
    people = {
        "skill": {"sd": 0.6},
        "wallet": {"median": 12, "spread": 0.5},
        "stay": {"median": "30 min", "spread": 0.5},
        "buy_in": {"go_on": 2.0, "again": 0.0},
        "choice": {"leave": 0.0},
        "suspicion": {"notice": 1.0},
        "come_back": {"constant": 0.0, "delay_median": "2 days"},
    }
    rules = {"pull": {"kind": "slope", "per_point": "4 pp"}}
    machines = {
        "walk": {"title": "walk", "price": 1, "count": 4},
        "slide": {"price": 1, "count": 4, "play_time": "1 min"},
    }
    scenario = textbook(
        machines,
        15.0,
        titles={"walk": walk(12, periods=2, rules=rules)},
        people=over(people, {part: {key: 3.0}}),
        hours="10:00-16:00",
        days=5,
    )
    with pytest.raises(Disagrees):
        check_no_response(scenario)


# -- where to play -------------------------------------------------------------------------------------------------

APPEALS = {"swing": 0.9, "slide": 0.0, "seesaw": -0.6}
COUNTS = {"swing": 30, "slide": 60, "seesaw": 45}


@cache
def choosers(rows: tuple[str, ...]) -> tuple[Run, ...]:
    """Visitors who choose between pastimes, play once and go."""
    machines = {
        name: {"price": 1, "play_time": "30 s", "count": COUNTS[name], "appeal": APPEALS[name]} for name in rows
    }
    return tuple(run(textbook(machines, 25.0), seed=74))


def found_shares(one: Run, rows: tuple[str, ...]) -> dict[str, float]:
    return dict(zip(rows, np.bincount(one.plays["machines"], minlength=len(rows)) / len(one.plays), strict=True))


def check_shares(rows: tuple[str, ...], appeals: dict[str, float]) -> None:
    # McFadden 1974: each option is chosen in proportion to exp(utility); a row counts for as many as it has machines.
    weights = {name: COUNTS[name] * math.exp(appeals[name]) for name in rows}
    for name in rows:
        shares = [found_shares(one, rows)[name] for one in choosers(rows)]
        assert_simulated(shares, weights[name] / sum(weights.values()))


ALL = tuple(APPEALS)


@pytest.mark.parametrize("rows", [ALL, ALL[:2], ALL[1:]])
def test_shares_of_the_machines(rows: tuple[str, ...]) -> None:
    check_shares(rows, APPEALS)


def test_control_shares_of_machines_of_another_appeal() -> None:
    with pytest.raises(Disagrees):
        check_shares(ALL, {**APPEALS, "seesaw": -0.4})


def test_leaving_is_one_of_the_options() -> None:
    machine = {"swing": {"price": 1, "play_time": "30 s", "count": 30, "appeal": 0.9}}
    leave = math.log(30) + 0.9 + log_odds(0.25)
    runs = run(textbook(machine, 25.0, people={"choice": {"leave": leave}}), seed=75)
    assert_simulated([(one.visits["plays"] == 0).mean() for one in runs], 0.25)
    for one in runs:
        assert set(one.visits[one.visits["plays"] == 0]["because"]) == {"found nothing"}


def test_who_gives_up_a_seat_looks_for_other_machines() -> None:
    # A visitor whose chance is gone goes to the other machines, and does not sit down again at the same ones.
    titles = {"walk": walk(10)}
    machines = {
        "walk": {"title": "walk", "price": 1, "count": 50, "appeal": 5.0},
        "slide": {"price": 1, "play_time": "30 s", "count": 50, "appeal": -5.0},
    }
    people = {"wallet": {"median": 2}, "stay": {"off": True}, "buy_in": {"again": NEVER}}
    for one in run(textbook(machines, 20.0, titles=titles, people=people), replications=2, seed=76):
        order = one.plays.groupby("person")["machines"].agg(tuple)
        # Two credits: nearly all choose the walk first, and every one of those the slide next.
        assert set(order) <= {(0, 1), (1, 0), (1, 1)}
        assert (order == (0, 1)).mean() > 0.98
        assert set(one.visits["because"]) == {"wallet empty"}


def test_visitors_spend_no_more_than_their_wallet() -> None:
    people = {"wallet": {"median": 5, "spread": 0.8}, "stay": {"off": True}, "buy_in": {"again": SURELY}}
    machine = {"walk": {"title": "walk", "price": 2, "price_to_go_on": 1, "count": 80}}
    scenario = textbook(machine, 20.0, titles={"walk": walk(10, periods=3)}, people=people)
    for one in run(scenario, replications=2, seed=77):
        # Lognormal with median 5: half spend what a wallet of 5 or less allows.
        assert (one.visits["because"] == "wallet empty").all()
        assert one.visits["credits"].max() > 20
        # Four credits a contest of three periods; what is left is below the price of what comes next.
        left_over = one.visits["credits"] % 4
        assert set(left_over) <= {0, 2, 3}
        assert (one.visits["empty"] == 1).all()


# -- going to another machine --------------------------------------------------------------------------------------


def check_moves(one: Run, of_all: bool) -> None:
    """Changes of machine, counted again from the plays of visits that gave up no line."""
    keys = [one.plays["person"], one.plays["visit"]]
    ordered = one.plays.sort_values(["person", "visit", "began"])
    changed = ordered["machines"] != ordered.groupby(["person", "visit"])["machines"].shift()
    changes = changed.groupby(keys).sum() - 1
    visits = one.visits.set_index(["person", "visit"])
    calm = visits[(visits["gave_up"] == 0) & (visits["plays"] > 0) & (visits["because"] != "closing time")]
    check_that((calm["moved"] == changes.reindex(calm.index)).all())
    assert calm["moved"].sum() > 50
    check_that(math.isclose(sum(one.measured.moved_because.values()), 1.0))
    because = "chance gone" if of_all else "had enough"
    check_equal(max(one.measured.moved_because, key=lambda reason: one.measured.moved_because[reason]), because)


def test_changes_of_machine_are_counted() -> None:
    loaded = venue.load(FOLDER / "pier.toml", ["study.days=8", "study.warm_up=0"])
    for one in run(loaded, replications=2, seed=78):
        check_moves(one, of_all=True)


def test_control_changes_of_machine_of_people_who_do_not_mind_their_chance() -> None:
    loaded = venue.load(FOLDER / "pier.toml", ["study.days=8", "study.warm_up=0", "people.buy_in.chance=0.0",
                                               "people.buy_in.closeness=0.0", "people.buy_in.go_on=2.0"])  # fmt: skip
    for one in run(loaded, replications=2, seed=78):
        with pytest.raises(Disagrees):
            check_moves(one, of_all=True)


def test_a_play_takes_at_most_120_bytes() -> None:
    assert Records(PLAY_COLUMNS).table().itemsize <= 120
