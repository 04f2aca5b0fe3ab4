"""Venues at the edge of what can be: nobody comes, nobody can pay, nobody gives up, an hour, a year.

The accounts balance in all of them (a run whose accounts do not is an error), results can be told and printed, and
what must come out is known without a model.
"""

from __future__ import annotations

import json
import math
from typing import Any

import pytest

import venue
from venue.report import study_tables, study_text
from venue.report.layout import as_text
from venue.scenario.load import Loaded
from venue.study.results import RunResult

from .demos import FOLDER, NAMES
from .textbook import NEVER, SURELY, textbook, walk

WALK = {"walk": walk(10, periods=2)}
ROW = {"title": "walk", "price": 2, "price_to_go_on": 1}


def told(loaded: Loaded, replications: int = 2) -> RunResult:
    """A run with its rows, after everything has been made of it that people get to see."""
    result = venue.run(loaded, replications=replications, rows=True)
    json.dumps(result.to_dict(), allow_nan=False)
    assert "Caution" in as_text(study_text.run_parts(result), 80)
    assert all(table.to_csv() for table in study_tables.run_files(result))
    assert [table.name for table in study_tables.row_files(result)] == ["plays", "visits", "offers"]
    for account in result.point.accounts():
        assert account.balances
    return result


def mean(result: RunResult, measure: str) -> float:
    return float(result.measures.loc[measure, "mean"])


def test_nobody_comes() -> None:
    result = told(textbook({"walk": ROW | {"count": 3}}, 1e-9, titles=WALK, hours="10:00-20:00", days=8))
    assert mean(result, "credits_per_hour") == mean(result, "visits_per_hour") == mean(result, "utilisation") == 0.0
    assert "buy_in_rate" not in result.measures.index and result.visits.empty and result.offers.empty
    assert result.to_dict()["by_margin"] == result.to_dict()["cohorts"] == []


def test_a_thousand_wait_for_one_machine() -> None:
    # All within the first hour, for plays of an hour: the machine is never idle from the first visitor on.
    machine = {"desk": {"price": 1, "count": 1, "play_time": "1 h"}}
    result = told(textbook(machine, {"10:00": 1000, "11:00": 0}, hours="10:00-20:00"), replications=1)
    visits, plays = result.visits, result.plays
    assert len(visits) > 900 and 9 <= len(plays) <= 10
    waited = visits[visits["plays"] == 0]
    assert set(waited["because"]) == {"closing time"} and (waited["left"] == 20 * 3600.0).all()
    assert (waited["waited"] == waited["left"] - waited["arrived"]).all()


def test_wallets_of_nothing() -> None:
    people = {"wallet": {"median": 0.01, "spread": 0.0}}
    result = told(textbook({"walk": ROW | {"count": 3}}, 20.0, titles=WALK, people=people, hours="10:00-20:00"))
    assert len(result.visits) > 100 and set(result.visits["because"]) == {"wallet empty"}
    assert mean(result, "credits_per_hour") == 0.0 and mean(result, "empty_wallets") == 1.0
    assert result.plays.empty and result.offers.empty


def test_endless_patience() -> None:
    # A line that grows all day breaks up at closing, and nobody has given it up.
    machine = {"desk": {"price": 1, "count": 1, "play_time": "10 min"}}
    result = told(textbook(machine, 60.0, people={"patience": {"off": True}}, hours="10:00-14:00"))
    assert mean(result, "gave_up_waiting") == 0.0
    assert result.plays.groupby("replication").size().between(24, 25).all()


def test_a_price_that_nobody_pays() -> None:
    # Beyond every wallet; and within it, but beyond every taste.
    people: dict[str, Any] = {"wallet": {"median": 50, "spread": 0.0}, "choice": {"price": 3.0, "leave": 0.0}}
    dear = told(textbook({"walk": ROW | {"price": 1000}}, 20.0, titles=WALK, people=people, hours="10:00-20:00"))
    assert dear.plays.empty and set(dear.visits["because"]) == {"wallet empty"}
    poor = told(textbook({"walk": ROW | {"price": 20}}, 20.0, titles=WALK, people=people, hours="10:00-20:00"))
    assert poor.plays.empty and set(poor.visits["because"]) == {"found nothing"}


def test_open_for_one_hour() -> None:
    people = {"buy_in": {"again": SURELY}, "wallet": {"off": True}, "stay": {"off": True}}
    loaded = textbook({"walk": ROW | {"count": 200}}, 60.0, titles=WALK, people=people, hours="10:00-11:00")
    result = told(loaded)
    assert set(result.visits["because"]) == {"closing time"}
    # Nothing is sold after closing, and what was sold is played out: a break and a period at most.
    assert result.offers.loc[result.offers["taken"] == 1, "at"].max() < 11 * 3600
    assert result.plays["ended"].max() <= 11 * 3600 + 20


def test_nobody_goes_on() -> None:
    people = {"buy_in": {"go_on": NEVER, "again": NEVER}, "wallet": {"off": True}}
    result = told(textbook({"walk": ROW | {"count": 9}}, 20.0, titles=WALK, people=people, hours="10:00-20:00"))
    assert (result.plays["periods"] == 1).all() and (result.plays["credits"] == 2).all()
    assert mean(result, "buy_in_rate") == 0.0
    assert all(row["taken"]["mean"] == 0.0 for row in result.to_dict()["by_margin"])


def test_everybody_comes_back_to_a_small_town() -> None:
    # A catchment of twelve, who come again the day after: never more than twelve a day.
    people = {"come_back": {"constant": SURELY, "delay_median": "1 h"}}
    loaded = textbook({"walk": ROW | {"count": 9}}, 30.0, titles=WALK, people=people, hours="10:00-20:00", days=20)
    result = told(loaded.vary(["venue.arrivals.catchment=12"]))
    assert result.visits.groupby("replication")["person"].nunique().max() == 12
    assert result.visits.groupby(["replication", result.visits["arrived"] // 86400]).size().max() == 12
    last = result.to_dict()["weeks"][-1]
    assert last["visits_per_hour"]["mean"] == pytest.approx(1.2)


@pytest.mark.slow
@pytest.mark.parametrize("name", NAMES)
def test_a_year(name: str) -> None:
    loaded = venue.load(FOLDER / f"{name}.toml", ["study.days=365", "study.warm_up=35"])
    result = venue.run(loaded, replications=1)
    plain = result.to_dict()
    assert (
        len(plain["weeks"]) == (52 if name == "bar" else 53) and plain["weeks"][5]["warm_up"] is False
    )  # the bar is closed on day 365, a Monday
    assert plain["return_curve"][-1]["days"] >= 252
    # A steady state: the last two quarters of the year are alike.
    visits = [week["visits_per_hour"]["mean"] for week in plain["weeks"][:52]]
    assert math.isclose(sum(visits[26:39]), sum(visits[39:]), rel_tol=0.1)
