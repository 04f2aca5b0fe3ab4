"""What a report shows of a title's rules is what `venue contest` computes, at the settings that it shows."""

from __future__ import annotations

import pytest

import venue
from tests.report.building import run_result, scenario, sweep_result
from venue.study.title_rules import titles_taken_apart


def test_rules_are_those_of_the_contest_at_each_setting() -> None:
    loaded = scenario()
    found = titles_taken_apart(loaded, [{"strength": 1.0}, {"strength": 0.5}, {"strength": 1.0}])
    assert [(item["title"], item["at"]) for item in found] == [
        ("ferry", {"strength": 1.0}),
        ("ferry", {"strength": 0.5}),
    ]
    for item in found:
        exact = venue.solve(loaded.change(strength=item["at"]["strength"]), strengths=(0.0, 1.0))
        assert item["apart"] == exact.to_dict()["apart"]
    assert found[0]["apart"]["whole"] != found[1]["apart"]["whole"]


def test_other_keys_than_strength_are_set_too() -> None:
    loaded = scenario()
    (first,), (other,) = (titles_taken_apart(loaded, [{"people.skill.sd": sd}]) for sd in (0.2, 0.9))
    assert first["apart"]["whole"] != other["apart"]["whole"]


@pytest.mark.parametrize(("best", "shown"), [(1.0, [1.0]), (0.5, [0.5, 1.0]), (None, [0.0, 1.0])])
def test_a_sweep_keeps_the_recommended_setting_and_todays(best: float | None, shown: list[float]) -> None:
    plain = sweep_result(best=best).to_dict()
    assert [item["at"]["strength"] for item in plain["titles"]] == shown


def test_a_run_keeps_its_own() -> None:
    (item,) = run_result().to_dict()["titles"]
    assert item["at"] == {"strength": 1.0} and set(item["apart"]) >= {"alone", "without", "whole", "bare"}
