"""Who meets whom, and the edge of skill that is left, by hand."""

from __future__ import annotations

import math

import pytest

from venue.contest.results import better_side
from venue.contest.table import TitleTables
from venue.study.line_ups import match_ups_of
from venue.study.match_ups import Unaided

from ..floor.textbook import run, textbook, walk


def test_two_visitors_differ_by_root_two_of_one() -> None:
    # The difference of two independent skills has twice the variance of one.
    machine = {"walk": {"title": "walk", "price": 1, "seats": 2}}
    loaded = textbook(machine, 6.0, titles={"walk": walk(10)}, people={"skill": {"sd": 0.4}})
    found = match_ups_of(loaded, "walk")
    assert (found.mean, found.sd, found.side_b) == (0.0, pytest.approx(0.4 * math.sqrt(2.0)), "visitor")


def test_the_edge_kept_weighs_each_match_up_by_its_contests() -> None:
    machine = {"walk": {"title": "walk", "price": 1, "count": 60}}
    scenario = textbook(machine, 10.0, titles={"walk": walk(20, 0.02)}, people={"skill": {"sd": 0.3}}, days=2)
    (one,) = run(scenario, replications=1, seed=107, strength=2.0)
    contests = one.plays[one.plays["against"] >= 0]
    assert not contests["contest"].duplicated().any()
    title = scenario.scenario.titles["walk"]
    tables, unaided = TitleTables(title, 2.0, frozenset()), Unaided({"walk": title}, frozenset())
    kept = aided = 0.0
    for node in (contests["grid_gap"] / tables.grid).round().astype(int):
        if node:
            aided += better_side(node, tables.at(node, "visitor", "computer").win_chance) - 0.5
            kept += better_side(node, unaided.win("walk", node, "computer")) - 0.5
    sizes = contests["grid_gap"].value_counts()
    assert sizes.max() > 2 * sizes.min()  # or weights would not matter
    assert one.measured.venue["skill_edge"] == pytest.approx(aided / kept, rel=1e-12)


def test_a_contest_between_visitors_weighs_no_more_than_one_against_the_computer() -> None:
    machine = {"walk": {"title": "walk", "price": 1, "count": 30, "seats": 2}}
    scenario = textbook(machine, 8.0, titles={"walk": walk(20, 0.02)}, people={"skill": {"sd": 0.3}}, days=1)
    (one,) = run(scenario, replications=1, seed=108, strength=2.0)
    title = scenario.scenario.titles["walk"]
    tables, unaided = TitleTables(title, 2.0, frozenset()), Unaided({"walk": title}, frozenset())
    once, by_row, met = [0.0, 0.0], [0.0, 0.0], set()
    for _, rows in one.plays[one.plays["against"] >= 0].groupby("contest"):
        opponent = "computer" if rows["against"].min() == 0 else "visitor"
        met.add((opponent, len(rows)))
        for node in (rows["grid_gap"] / tables.grid).round().astype(int):
            if node:
                aided = better_side(node, tables.at(node, "visitor", opponent).win_chance) - 0.5
                alone = better_side(node, unaided.win("walk", node, opponent)) - 0.5
                once = [once[0] + aided / len(rows), once[1] + alone / len(rows)]
                by_row = [by_row[0] + aided, by_row[1] + alone]
    assert {("computer", 1), ("visitor", 2)} <= met
    assert one.measured.venue["skill_edge"] == pytest.approx(once[0] / once[1], rel=1e-12)
    # The twin: a contest counts for each of its visitors.
    assert one.measured.venue["skill_edge"] != pytest.approx(by_row[0] / by_row[1], rel=1e-9)


@pytest.mark.parametrize("most, counts", [(0.3, False), (0.9, True)])
def test_the_edge_kept_is_absent_where_skill_counts_for_nothing(most: float, counts: bool) -> None:
    # Every attempt would succeed more often than it may, whoever tries: what is left of an edge is rounding. The twin
    # with room for skill has one.
    machine = {"walk": {"title": "walk", "price": 1, "count": 20}}
    title = {**walk(60, 0.02), "play": "turns", "mean_attack": "2 s", "maximum_chance": most}
    title["attempts"] = {"step": {"share": 1.0, "points": 1, "chance": 0.6}}
    scenario = textbook(machine, 20.0, titles={"walk": title}, people={"skill": {"sd": 0.3}})
    (one,) = run(scenario, replications=1, seed=11)
    assert len(one.plays) > 50
    assert math.isfinite(one.measured.venue["skill_edge"]) == counts
