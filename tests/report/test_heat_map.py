"""Maps over two swept keys: figures where they belong, and never a warning, whatever the values."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest

from venue.report.charts.collection import folder_charts
from venue.report.charts.frame import PAGE, numbers_of
from venue.report.charts.maps import map_chart, map_charts
from venue.report.charts.over_settings import across
from venue.report.drawing import save
from venue.report.page.reading import Study, study_of
from venue.report.page.record import made
from venue.study.point import Value
from venue.study.recommendation import Best
from venue.study.results import SweepResult

from .building import point, scenario

PRICE, GAP = "machines.ferry.price", "people.skill.sd"


@pytest.fixture(autouse=True)
def _no_titles(monkeypatch: pytest.MonkeyPatch) -> None:
    """Values here are made up, and some are none that a scenario takes: no title can be solved at them."""
    monkeypatch.setattr("venue.study.results.titles_taken_apart", lambda *_: [])


def swept(rows: list[Value], columns: list[Value], best: int | None = 1) -> SweepResult:
    """Made-up points over two keys, the take rising with the place of the row and falling with that of the column."""
    loaded = scenario(3)
    points = []
    for row, first in enumerate(rows):
        for column, second in enumerate(columns):

            def effect(name: str, strength: float, factor: float = 1 + 0.1 * row - 0.03 * column) -> float:
                return factor if name == "credits_per_hour" else 1.0

            points.append(replace(point(loaded, 1.0, effect), at=((PRICE, first), (GAP, second))))
    return SweepResult(loaded, tuple(points), Best(best, None if best is None else 1.0, "most take"))


def study(result: SweepResult) -> Study:
    return study_of(made(result.to_dict(), result.loaded, ()))


def test_a_map_says_what_is_in_each_cell() -> None:
    result = swept([1, 2, 3], [0.1, 0.2])
    chart = map_chart(study(result), PAGE, "credits_per_hour")
    assert chart is not None
    axes = chart.figure.axes[0]
    shown = {text.xy: text.get_text() for text in axes.texts if hasattr(text, "xy")}
    assert shown[0, 2] == f"{140 * 1.2:.1f}" and shown[1, 0] == f"{140 * 0.97:.1f}"
    assert (axes.get_xlabel(), axes.get_ylabel()) == (f"{GAP} (log-odds)", f"{PRICE} (credits)")
    assert chart.finding.startswith("Credits per open hour: most at 3, 0.1: 168.0; least at 1, 0.2: 135.8")


@pytest.mark.parametrize(
    ("rows", "columns"),
    [
        ([1], [1]),
        ([1, 2], [5]),
        (["fixed", "exponential"], ["20 s", "40 s", "60 s"]),
        (list(range(12)), list(range(8))),
    ],
)  # fmt: skip
def test_every_shape_is_drawn(rows: list[Value], columns: list[Value], tmp_path: Path) -> None:
    result = swept(rows, columns, None)
    charts = folder_charts(made(result.to_dict(), result.loaded, ()))
    maps = {"map-credits-per-hour", "map-better-side-wins", "map-return-28d"}
    assert set(charts) >= maps | {"by-hour"} and set(charts) <= maps | {"by-hour", "trade-off"}
    save(charts["map-credits-per-hour"], tmp_path / "map")
    assert (tmp_path / "map.png").exists()


def test_a_measure_that_could_not_be_told_has_no_map() -> None:
    result = swept([1, 2], [1, 2])
    for item in result.points:
        for replication in item.replications:
            replication.measured.venue["return_28d"] = math.nan
    assert {chart.name for chart in map_charts(study(result), PAGE)} == {"map-credits-per-hour", "map-better-side-wins"}


def test_values_with_a_unit_stand_where_their_numbers_do() -> None:
    assert numbers_of(["20 s", "60 s"]) == ([20.0, 60.0], "s")
    assert numbers_of(["20 s", "1 min"]) is None and numbers_of(["a", 1.0]) is None
    assert across(study(swept(["20 s", "60 s"], [1.0]))) == ([20.0, 60.0], f"{PRICE} (s)", None)
