"""What is said of the weeks after a change: where horizons disagree that comes first, and a difference that moves is
called moving."""

from __future__ import annotations

from dataclasses import replace

import pytest

from venue.report.sentences import horizons
from venue.report.sentences.parts import sentence_text
from venue.report.sentences.sweeps import Settings
from venue.study.findings import Changed, Drift, Horizon, Over, Settling
from venue.study.plain import Interval

from .building import sweep_result


def interval(mean: float) -> Interval:
    return Interval(mean=mean, low=mean - 1.0, high=mean + 1.0)


def view(*agrees: bool, moving: bool = False) -> Settings:
    found = Settings.of_result(sweep_result())
    told = tuple(
        Horizon(weeks=weeks, best=0 if good else 1, behind=None if good else interval(6.0), agrees=good)
        for weeks, good in zip((4, 13, 26), agrees, strict=True)
    )
    drift = Drift(state="moving" if moving else "settled", change=interval(-3.0), first=14, last=26)
    drifts = tuple(None if place == found.findings.reference else drift for place in range(len(found.at)))
    return replace(found, findings=found.findings.model_copy(update={"horizons": told, "drifts": drifts}))


def test_horizons_that_disagree_are_named_with_what_is_better() -> None:
    said = sentence_text(horizons.disagree(view(False, True, True)))
    assert said.startswith("The answer depends on how long it is to hold: over the first 4 weeks catch-up strength")
    assert "by +6.0 ± 1.0 credits per open hour" in said
    assert sentence_text(horizons.agree(view(False, True, True))) == (
        "No other surely brings more over the first 13 and 26 weeks after the change."
    )


def test_control_where_they_agree() -> None:
    assert horizons.disagree(view(True, True, True)) == ()
    assert "4, 13 and 26" in sentence_text(horizons.agree(view(True, True, True)))


def test_a_difference_that_moves() -> None:
    said = sentence_text(horizons.drifting(view(True, True, True, moving=True)))
    assert said.startswith("The difference of catch-up strength 0 (and 3 more) from catch-up strength 1 still changes")
    assert said.endswith("(−3.0 ± 1.0 over weeks 14 to 26).")
    assert horizons.drifting(view(True, True, True)) == ()


@pytest.mark.parametrize(
    ("state", "end"),
    [("moving", "; it still changes (+2.0 ± 1.0 over weeks 14 to 26)."), ("settled", "± 1.0.")],
)
def test_a_comparison_says_the_same(state: str, end: str) -> None:
    drift = Drift.model_validate({"state": state, "change": interval(2.0), "first": 14, "last": 26})
    found = Changed(
        name="dearer", take="more", by_importance=(), settled=Settling(state="settled"),
        over=(Over(weeks=4, difference=interval(5.0)), Over(weeks=13, difference=interval(1.0))), drift=drift,
    )  # fmt: skip
    said = sentence_text(horizons.of_change(found))
    assert said.startswith("Over the first 4 weeks +5.0 ± 1.0, 13 weeks +1.0 ± 1.0")
    assert said.endswith(end)
    assert horizons.of_change(found.model_copy(update={"over": ()})) == ()
