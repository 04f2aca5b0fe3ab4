"""Every play, visit and offer as rows: they add up to each other, and to what is told by margin."""

from __future__ import annotations

import math
from functools import cache

import numpy as np
import pandas as pd
import pytest
from scipy import stats

import venue
from tests.checking import Disagrees
from venue.report.study_tables import row_files
from venue.study.by_margin import OffersAt, band_of, gathered
from venue.study.results import RunResult
from venue.visitors.perception import naive_chance

from ..floor.demos import FOLDER
from ..floor.textbook import Run, assert_close, assert_simulated, run, textbook, walk


@cache
def demo(name: str) -> RunResult:
    loaded = venue.load(FOLDER / f"{name}.toml", ["study.days=9", "study.warm_up=2"])
    return venue.run(loaded, replications=2 if name == "pier" else 1, seed=3, rows=True)


@pytest.mark.parametrize("name", ["pier", "bar"])
def test_offers_add_up_to_visits_and_plays(name: str) -> None:
    result = demo(name)
    keys = ["replication", "person", "visit"]
    offers, visits, plays = result.offers, result.visits.set_index(keys), result.plays
    later = offers[offers["kind"] != "start"].groupby(keys).size().reindex(visits.index, fill_value=0)
    assert (later == visits["offers"]).all()
    bought = offers[(offers["kind"] == "break") & (offers["taken"] == 1)].groupby(keys).size()
    periods = (plays["periods"] - 1).groupby([plays[key] for key in keys]).sum()
    assert (bought.reindex(visits.index, fill_value=0) == periods.reindex(visits.index, fill_value=0)).all()
    # A play begins with an offer taken and paid for; another contest that was wanted could not always be had.
    starts = ((offers["kind"] == "start") & (offers["taken"] == 1)).sum()
    assert starts + visits["taken"].sum() - bought.sum() == len(plays)
    assert offers.loc[offers["kind"] != "start", "taken"].sum() >= visits["taken"].sum()
    assert set(offers["kind"]) >= {"start", "break", "again"}
    # Who took an offer needs no reason, who did not has one.
    assert ((offers["because"] == "") == (offers["taken"] == 1)).all()


@pytest.mark.parametrize("name", ["pier", "bar"])
def test_what_could_be_started_and_was_not_is_there_with_a_reason(name: str) -> None:
    result = demo(name)
    starts = result.offers[result.offers["kind"] == "start"]
    no = starts[starts["taken"] == 0]
    assert (no["because"] != "").all() and len(no) > len(starts) / 3
    assert {"chose another machine", "rested", "had enough"} <= set(no["because"])
    # Whoever chose another machine began to play there at that moment, or else did not get to.
    keys = ["replication", "person", "visit", "at"]
    passed = no[no["because"] == "chose another machine"].groupby(keys)["machine"].agg(set)
    others = starts[starts["because"] != "chose another machine"].groupby(keys)["machine"].agg(set)
    chosen = others.reindex(passed.index)
    assert chosen.notna().mean() > 0.5  # the rest waited in line, or for others to play with, and began later
    assert not any(left & taken for left, taken in zip(passed, chosen, strict=True) if isinstance(taken, set))
    # Nobody is offered what they cannot pay.
    assert (no["price"] >= 0).all() and no["perceived"].between(0, 1).sum() == (no["title"] != "").sum()


MANY = 90


@cache
def choosers() -> pd.DataFrame:
    """Offers of two kinds of machine without a contest, always free; one is liked by a whole unit more."""
    machine = {"price": 1, "count": MANY, "play_time": "1 min"}
    machines = {"liked": machine | {"appeal": 1.0}, "other": machine | {"appeal": 0.0}}
    return venue.run(textbook(machines, 30.0, people={"choice": {"leave": 4.0}}), seed=61, rows=True).offers


def check_shares_of_starts(appeal: float) -> None:
    # The multinomial logit in closed form (McFadden 1974): machines and the way out.
    # A row of machines counts as so many options alike.
    weights = {"liked": MANY * math.exp(appeal), "other": MANY}
    for machine, weight in weights.items():
        offers = choosers()[choosers()["machine"] == machine]
        assert_simulated(
            offers.groupby("replication")["taken"].mean(), weight / (sum(weights.values()) + math.exp(4.0))
        )


def test_starts_are_taken_as_the_logit_says() -> None:
    check_shares_of_starts(1.0)


def test_control_starts_of_people_who_like_it_more() -> None:
    with pytest.raises(Disagrees):
        check_shares_of_starts(1.2)


def test_by_margin_is_what_the_rows_say() -> None:
    result = demo("pier")
    offers = result.offers
    found = pd.DataFrame(result.point.by_margin()).set_index(["title", "margin"])
    rows = offers[(offers["kind"] == "break") & ~offers["warm_up"]].copy()
    assert len(rows) < (offers["kind"] == "break").sum()
    bands = found["band"].groupby("title").first()
    width = rows["title"].map(bands)
    rows["margin"] = (width * (rows["margin"] / width).round()).astype(int)
    groups = rows.groupby(["title", "margin"])
    assert (groups.size() == found["offers"].reindex(groups.size().index)).all()
    assert found["offers"].sum() == len(rows)
    for name, column in (("taken", "taken"), ("perceived", "perceived"), ("true", "true_chance")):
        means = found[name].map(lambda item: item["mean"]).reindex(groups.size().index)
        assert np.allclose(groups[column].mean(), means, rtol=1e-5)


def test_rows_speak_in_words_and_know_the_warm_up() -> None:
    result = demo("pier")
    plays, visits, offers = result.plays, result.visits, result.offers
    assert set(plays["machine"]) == {"tug", "lantern", "shingle"} and set(plays["title"]) == {"tug", "lantern", ""}
    assert set(offers["because"]) >= {"", "chance gone", "wallet empty"}
    assert (visits["warm_up"] == (visits["arrived"] < 2 * 86400)).all() and visits["warm_up"].any()
    # Contests that were left early are there, and say so.
    left = plays[~plays["finished"]]
    assert len(left) > 50 and left["result"].isna().all()
    assert plays.loc[plays["finished"] & (plays["title"] != ""), "result"].notna().all()


def test_heads_of_files_name_units() -> None:
    frames = {table.name: table.frame for table in row_files(demo("pier"))}
    assert {"began_s", "ended_s", "gap_log_odds", "margin_points", "credits"} <= set(frames["plays"])
    assert {"arrived_s", "left_s", "waited_s", "next_visit_s"} <= set(frames["visits"])
    assert {"at_s", "price_credits", "margin_points", "perceived", "true_chance"} <= set(frames["offers"])
    # Nobody comes again at an infinite time: the cell is empty.
    again = frames["visits"]["next_visit_s"]
    assert again.isna().any() and np.isfinite(again.dropna()).all()


# -- offers by margin on the floor ---------------------------------------------------------------------------------

CONSTANT, CLOSENESS, SECONDS = -0.5, 2.0, 16


@cache
def walkers() -> tuple[Run, ...]:
    """Two periods of a fair walk of eight steps; whether to buy the second depends on how close it is."""
    tastes = {"go_on": CONSTANT, "closeness": CLOSENESS}
    scenario = textbook(
        {"walk": {"title": "walk", "price": 1, "count": 80}},
        20.0,
        titles={"walk": walk(SECONDS // 2, periods=2)},
        people={"wallet": {"off": True}, "buy_in": tastes, "belief": {"learning_half_life": 1e9}},
    )
    return tuple(run(scenario, seed=121))


def at_margin(one: Run, margin: int) -> OffersAt:
    return next(item for item in one.measured.by_margin if item.margin == margin)


def check_taken(closeness: float) -> None:
    # The logit in closed form at each margin; sigma of a walk of n fair steps is sqrt n.
    for margin in (-4, -2, 0, 2):
        near = math.exp(-(margin**2) / SECONDS / 2)
        items = [at_margin(one, margin) for one in walkers()]
        chance = 1 / (1 + math.exp(-CONSTANT - closeness * near))
        assert_simulated([item.taken - item.offers * chance for item in items], 0.0)


def test_share_taken_by_margin() -> None:
    check_taken(CLOSENESS)


def test_control_share_taken_by_people_who_like_it_closer() -> None:
    with pytest.raises(Disagrees):
        check_taken(1.5 * CLOSENESS)


def check_chances(steps_left: int) -> None:
    """True: the walk's binomial, a draw worth one half. Perceived: the naive reading of the scoreboard."""
    for margin in (-4, -2, 0, 2):
        ends = margin + 2 * np.arange(steps_left + 1) - steps_left
        true = stats.binom.pmf(np.arange(steps_left + 1), steps_left, 0.5) @ np.select([ends > 0, ends == 0], [1, 0.5])
        perceived = naive_chance(margin, 0.5, math.sqrt(SECONDS), 0.5)
        for one in walkers():
            item = at_margin(one, margin)
            assert_close(item.true / item.offers, float(true), 1e-6)
            assert_close(item.perceived / item.offers, perceived, 1e-6)


def test_chances_by_margin() -> None:
    check_chances(SECONDS // 2)


def test_control_chances_with_more_to_come() -> None:
    with pytest.raises(Disagrees):
        check_chances(SECONDS // 2 + 2)


def test_margins_are_offered_as_often_as_the_walk_comes_to_them() -> None:
    for margin in (-4, 0, 2):
        shares = [at_margin(one, margin).offers / len(one.plays) for one in walkers()]
        assert_simulated(shares, float(stats.binom.pmf((8 + margin) // 2, 8, 0.5)))


@pytest.mark.parametrize(("spread", "band"), [(4.0, 1), (7.9, 1), (8.0, 3), (20.0, 5), (1e-9, 1)])
def test_bands_are_odd(spread: float, band: int) -> None:
    assert band_of(spread) == band


def test_replications_together_are_a_ratio() -> None:
    # By hand: 6 of 10 and none of none, 3 of 5: 9 of 15; a margin that only one of them met.
    first = [OffersAt("t", -1, 1, 10, 6, 2.0, 1.0), OffersAt("t", 0, 1, 4, 4, 2.0, 2.0)]
    rows = gathered([first, [OffersAt("t", -1, 1, 5, 3, 1.0, 0.5)]])
    assert [(row["margin"], row["offers"]) for row in rows] == [(-1, 15), (0, 4)]
    assert rows[0]["taken"]["mean"] == pytest.approx(9 / 15) and rows[0]["taken"]["low"] == pytest.approx(9 / 15)
    assert rows[1]["true"]["mean"] == pytest.approx(0.5)
