"""What people did, as tables and charts: bands of margins worked by hand, weeks in powers of two."""

from __future__ import annotations

from typing import Any

import pytest

from venue.report.charts.collection import charts_of
from venue.report.charts.frame import PAGE, Chart
from venue.report.layout import as_text
from venue.report.page.reading import study_of
from venue.report.page.record import made
from venue.report.study_tables import banded
from venue.report.study_text import run_parts
from venue.study.results import RunResult

from .building import blocks, run_result, scenario


def offered(counts: dict[int, int], band: int = 1) -> list[dict[str, Any]]:
    return [{"margin": margin, "band": band, "offers": count} for margin, count in sorted(counts.items())]


def labels(counts: dict[int, int], band: int = 1) -> list[tuple[str, int]]:
    return [(label, sum(item["offers"] for item in items)) for label, items in banded(offered(counts, band))]


def test_few_margins_are_a_band_each() -> None:
    assert labels({-1: 5, 0: 10, 1: 5}) == [("-1 or less", 5), ("0", 10), ("1 or more", 5)]
    assert labels({0: 3}) == [("any", 3)]


def test_many_margins_share_bands_that_are_odd_and_open_at_the_ends() -> None:
    # 21 margins in 7 bands of 3, one about level; nothing is left out.
    found = labels(dict.fromkeys(range(-10, 11), 10))
    assert found == [
        ("-8 or less", 30), ("-7 to -5", 30), ("-4 to -2", 30), ("-1 to 1", 30), ("2 to 4", 30), ("5 to 7", 30),
        ("8 or more", 30),
    ]  # fmt: skip
    # A few offers far out do not stretch the bands: less than one in a hundred lies beyond the last.
    assert labels({-40: 1, -1: 300, 0: 400, 1: 300})[0] == ("-1 or less", 301)


def test_margins_that_come_in_bands_stay_whole() -> None:
    # Bands of three points, about -6 to 6: their edges are edges of the table's bands.
    assert labels(dict.fromkeys((-6, -3, 0, 3, 6), 1), band=3) == [
        ("-5 or less", 1), ("-4 to -2", 1), ("-1 to 1", 1), ("2 to 4", 1), ("5 or more", 1),
    ]  # fmt: skip


def test_tables_of_a_run_say_what_people_did() -> None:
    text = as_text(run_parts(run_result()), 100)
    found = [block for block in blocks(text) if any("because" in line for line in block)]
    # 70 % of the changes of machine because the chance was gone; nobody left for that.
    (row,) = (line for line in found[0] if line.startswith("chance gone"))
    assert row.split()[-2:] == ["-", "70.0"]
    weeks = [line for line in text.split("\n") if line[:2] in ("1 ", "2 ", "4 ", "6 ")]
    assert [line.split()[0] for line in weeks] == ["1", "2", "4", "6"] and "(warm-up)" in weeks[0]
    assert "offers at breaks" in text and "points ahead" in text


def drawn(result: RunResult) -> dict[str, Chart]:
    return charts_of(study_of(made(result.to_dict(), result.loaded, ())), PAGE)


def test_charts_of_what_people_did() -> None:
    found = drawn(run_result())
    assert set(found) == {"by-hour", "weeks", "return-curve", "cohorts", "by-margin"}
    # Replications grow by a hundredth each, so the mean of 28 hundredths is 28.56.
    assert "28.6 % of visits have another within 28 days" in found["return-curve"].finding
    (margins,) = found["by-margin"].figure.axes
    assert margins.get_xlabel() == "points ahead at the offer (negative: behind)"
    assert len([line for line in margins.lines if len(line.get_xdata()) > 2]) == 3


def test_nothing_to_draw_is_nothing_drawn() -> None:
    result = run_result()
    nothing: dict[str, Any] = {"by_margin": [], "return_curve": [], "cohorts": [], "weeks": [], "by_hour": {}}
    plain = result.to_dict() | nothing
    assert charts_of(study_of(made(plain, result.loaded, ())), PAGE) == {}


@pytest.mark.parametrize("replications", [1, 2])
def test_few_replications_are_drawn_without_what_they_cannot_tell(replications: int) -> None:
    result = run_result(scenario(replications))
    assert len(drawn(result)) == 5
    assert "offers at breaks" in as_text(run_parts(result), 80)
