"""Sweeps over any key: every combination of values once, and each the scenario that a change by hand would make."""

from __future__ import annotations

import pandas as pd
import pytest

import venue
from tests.checking import Disagrees
from venue.errors import InputError
from venue.scenario.load import to_raw
from venue.study.axis import variants_over

from .test_workers import check_same_replications, small


def test_two_keys_make_every_pair_the_last_changing_quickest() -> None:
    loaded = small()
    found = variants_over(loaded, {"machines.solo.price": [1, 2], "strength": [0, 0.5, 1]})
    at = [
        (("machines.solo.price", price), ("strength", strength)) for price in (1.0, 2.0) for strength in (0.0, 0.5, 1.0)
    ]
    assert [variant.at for variant in found] == at
    by_hand = loaded.vary(["machines.solo.price=2"]).change(strength=0.5)
    assert found[4].loaded.scenario == by_hand.scenario
    assert found[4].loaded.scenario.machines["solo"].price == 2


def test_a_variant_differs_in_the_swept_key_alone() -> None:
    loaded = small()
    first, second = (to_raw(item.loaded.scenario) for item in variants_over(loaded, {"people.skill.sd": [0.1, 0.9]}))
    assert first["people"]["skill"].pop("sd") == 0.1 and second["people"]["skill"].pop("sd") == 0.9
    assert first == second


def test_durations_and_words_can_be_swept() -> None:
    found = variants_over(small(), {"titles.solo.break_length": ["5 s", "1 min"], "people.patience.varies": ["fixed"]})
    assert [item.loaded.scenario.titles["solo"].break_length for item in found] == [5.0, 60.0]
    assert found[1].at == (("titles.solo.break_length", "1 min"), ("people.patience.varies", "fixed"))


def test_a_swept_point_is_the_run_of_that_setting() -> None:
    result = venue.sweep(small(), over={"machines.solo.price": [1, 2]}, replications=2, rows=True)
    alone = venue.run(small().vary(["machines.solo.price=2"]), replications=2, rows=True)
    check_same_replications(list(result.points[1].replications), list(alone.point.replications))
    assert isinstance(result.measures, pd.DataFrame)
    assert result.measures.index.names == ["machines.solo.price", "measure"]
    assert list(result.plays.columns[:2]) == ["machines.solo.price", "replication"]
    assert result.to_dict()["points"][1]["at"] == {"machines.solo.price": 2.0}
    assert result.unit() == "credits"


def test_control_another_setting() -> None:
    result = venue.sweep(small(), over={"machines.solo.price": [1, 3]}, replications=1, rows=True)
    alone = venue.run(small().vary(["machines.solo.price=2"]), replications=1, rows=True)
    with pytest.raises(Disagrees):
        check_same_replications(list(result.points[1].replications), list(alone.point.replications))


@pytest.mark.parametrize(
    ("over", "words"),
    [
        ({}, "--over: names no key"),
        ({"a": [1], "b": [1], "c": [1]}, "--over: names 3 keys, at most 2"),
        ({"strength": [0], "machines.solo.price": []}, "--over machines.solo.price: names no value"),
        ({"machines.solo.price": [1, 1.0]}, "--over machines.solo.price: names a value twice"),
        ({"study.days": [3, 4]}, "--over study.days: is no key to sweep"),
        ({"people.skill.sd": list(range(100)), "strength": list(range(11))}, "--over: makes 1100 settings"),
        ({"machines.solo.prize": [1, 2]}, r'--over machines.solo.prize: unknown key; did you mean "price"?'),
        ({"machines.sole.price": [1, 2]}, 'machines has no "sole"; did you mean "solo"?'),
        ({"machines.solo.price": [1, -2]}, "--over machines.solo.price = -2: must lie between 0 and 1000000"),
    ],
)  # fmt: skip
def test_what_cannot_be_swept(over: dict[str, list[float]], words: str) -> None:
    with pytest.raises(InputError) as caught:
        variants_over(small(), over)
    assert words in str(caught.value)
