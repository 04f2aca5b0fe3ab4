"""Charts: the finding in one line, units on the axes, honest scales, labels clear of one another, the same facts in a
folder and on the page."""

from __future__ import annotations

import itertools
import math
import warnings
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.text import Annotation, Text
from matplotlib.ticker import AutoLocator
from matplotlib.transforms import Bbox

import venue
from venue.report import drawing
from venue.report.charts.collection import charts_of, folder_charts
from venue.report.charts.frame import FOLDER, LEAST_SPAN, PAGE, Chart, Theme, blank
from venue.report.charts.over_settings import take_chart
from venue.report.page.reading import study_of
from venue.report.page.record import Record, made
from venue.scenario.load import Loaded
from venue.study.results import SweepResult
from venue.study.title_records import ContestRecord
from venue.study.title_rules import greatest_rules

from .building import Effect, no_effect, renamed, run_result, scenario, sweep_result

STRENGTH = "catch-up strength (0 off, 1 as designed)"


def earning(gain: float) -> Effect:
    """A take that grows with strength, everything else as it is."""
    return lambda name, strength: 1 + gain * strength if name == "credits_per_hour" else no_effect(name, strength)


def changing(name: str, change: float) -> Effect:
    return lambda measure, strength: 1 + change * strength if measure == name else no_effect(measure, strength)


def record_of(result: Any) -> Record:
    return made(result.to_dict(), result.loaded, ())


def drawn(result: Any, theme: Theme = PAGE) -> dict[str, Chart]:
    return charts_of(study_of(record_of(result)), theme)


def solved(loaded: Loaded | None = None, **how: Any) -> Any:
    return venue.solve(loaded or scenario(), **how)


def boxes(figure: Figure) -> Iterator[tuple[str, Bbox]]:
    """Every text on a chart with the place it takes, ticks too."""
    with drawing.plain_text(figure):
        drawing.settled(figure)
        figure.draw_without_rendering()
    unseen = {
        id(label)
        for axis in (figure.axes[0].xaxis, figure.axes[0].yaxis)
        for place, label in zip(axis.get_majorticklocs(), axis.get_majorticklabels(), strict=True)
        if not min(axis.get_view_interval()) <= place <= max(axis.get_view_interval())
    }
    hidden = {id(part) for artist in figure.findobj() if str(artist.get_gid()).startswith("only") for part in [artist]}
    for text in figure.findobj(Text):
        assert isinstance(text, Text)
        if text.get_text().strip() and text.get_visible() and id(text) not in unseen | hidden:
            # Of an annotation the words count, not the line to what they name.
            yield text.get_text(), Text.get_window_extent(text)


def assert_clear(figure: Figure) -> None:
    """No text is cut off by the edge, none lies over another."""
    found = list(boxes(figure))
    frame = figure.bbox
    for text, box in found:
        assert box.x0 >= frame.x0 - 1 and box.x1 <= frame.x1 + 1, f"{text!r} runs off the side"
        assert box.y0 >= frame.y0 - 1 and box.y1 <= frame.y1 + 1, f"{text!r} runs off the top or bottom"
    for (first, one), (second, other) in itertools.combinations(found, 2):
        overlap = Bbox.intersection(one, other)
        assert overlap is None or min(overlap.width, overlap.height) < 1.5, f"{first!r} lies over {second!r}"


def step_of(axes: Axes, axis: str) -> float | None:
    """The step between ticks of an axis of numbers, as a figure from 1 to 10."""
    places = getattr(axes, f"{axis}axis").get_majorticklocs()
    steps = np.diff(np.sort(places))
    if len(steps) == 0 or steps[0] <= 0:
        return None
    return float(steps[0] / 10.0 ** math.floor(math.log10(steps[0]) + 1e-9))


# Charts whose across axis counts days in weeks, or has names.
NOT_TENS = {"return-curve", "cohorts", "by-hour"}


@pytest.mark.parametrize("theme", [PAGE, FOLDER])
def test_ticks_stand_on_steps_of_1_2_or_5(theme: Theme) -> None:
    every = drawn(sweep_result(effect=earning(0.013)), theme) | drawn(solved(strengths=(0.0, 0.7)), theme)
    checked = 0
    for name, chart in every.items():
        if name in NOT_TENS:
            continue
        for axis in ("x", "y"):
            step = step_of(chart.figure.axes[0], axis)
            if step is not None and name not in ("rules", "chance-to-win"):
                assert round(step, 6) in (1, 2, 5, 10), (name, axis, step)
                checked += 1
    assert checked >= 20


def test_a_step_of_2_and_a_half_would_be_seen() -> None:
    _, axes = blank(PAGE, "x", "y")
    axes.set_xlim(0, 15)
    axes.xaxis.set_major_locator(AutoLocator())
    assert step_of(axes, "x") == 2.5


def test_titles_take_one_line_and_are_there() -> None:
    every = drawn(sweep_result(effect=earning(0.05))) | drawn(run_result()) | drawn(solved(strengths=(0.0, 1.0)))
    assert len(every) >= 18
    for chart in every.values():
        assert 10 < len(chart.finding) <= (72 if chart.wide else 64) and "\n" not in chart.finding, chart.finding


def test_axes_name_what_they_show_with_its_unit() -> None:
    charts = drawn(sweep_result())
    labels = {name: (chart.figure.axes[0].get_xlabel(), chart.figure.axes[0].get_ylabel())
              for name, chart in charts.items()}  # fmt: skip
    assert labels["credits-per-hour"] == (STRENGTH, "take against today")
    assert labels["retention"] == (STRENGTH, "visits in a hundred, against today")
    assert labels["trade-off"] == ("better side wins, in a hundred, against today", "take against today")
    assert labels["by-hour"] == ("hour of day (14 is 14:00 to 15:00)", "credits per open hour")
    assert all(across and up for name, (across, up) in labels.items())


def test_a_change_is_the_paired_difference_in_percent_with_its_band() -> None:
    result = sweep_result(effect=earning(0.05))
    axes = drawn(result)["credits-per-hour"].figure.axes[0]
    line = next(line for line in axes.get_lines() if len(line.get_xdata()) == 5)
    # The take is 140 (1 + 0.05 s); at strength 1 it is 147.
    expected = [100 * 140 * 0.05 * (strength - 1) / 147 for strength in (0, 0.5, 1, 1.5, 2)]
    assert np.allclose(np.asarray(line.get_ydata(), dtype=float), expected)
    (band,) = axes.collections[:1]
    assert len(band.get_paths()) == 1


def test_three_per_cent_is_no_cliff() -> None:
    small = drawn(sweep_result(effect=earning(0.015)))["credits-per-hour"].figure.axes[0]
    low, high = small.get_ylim()
    assert low <= -LEAST_SPAN and high >= LEAST_SPAN
    assert 3.0 / (high - low) < 1 / 3
    charts = drawn(sweep_result())
    for name in ("machines", "weeks", "by-hour", "why-people-left", "return-curve", "cohorts"):
        assert charts[name].figure.axes[0].get_ylim()[0] == 0.0


def test_a_cropped_axis_would_be_seen() -> None:
    _, axes = blank(PAGE, "x", "y")
    axes.plot([0, 1], [100, 103])
    assert 3.0 / np.ptp(axes.get_ylim()) > 1 / 3


def test_folder_and_page_draw_the_same_facts() -> None:
    record = record_of(sweep_result(effect=earning(0.05)))
    study = study_of(record)
    page, folder = charts_of(study, PAGE), charts_of(study, FOLDER)
    assert list(page) == list(folder)
    for name, chart in page.items():
        ours, theirs = ([np.asarray(line.get_xydata()).tolist() for line in one.figure.axes[0].get_lines()]
                        for one in (chart, folder[name]))  # fmt: skip
        assert str(ours) == str(theirs) and chart.finding == folder[name].finding, name
    assert set(folder_charts(record)) == {"credits-per-hour", "retention", "trade-off", "by-hour"}


@pytest.mark.parametrize("count", [1, 3, 9, 21])
def test_texts_of_a_sweep_are_clear_of_one_another(count: int) -> None:
    strengths = np.linspace(0, 2, count).tolist()
    record = record_of(sweep_result(strengths=strengths, effect=earning(0.05), best=strengths[count // 2]))
    for name, figure in folder_charts(record).items():
        # So many labels as a sweep in small steps has cannot all be free of one another on the trade-off.
        if name != "trade-off" or count <= 9:
            assert_clear(figure)


@pytest.mark.parametrize("gap", [None, 1.5, -3.0])
@pytest.mark.parametrize("strengths", [(1.0,), (0.0, 0.25, 0.5, 0.75, 1.0, 1.25, 1.5, 2.0)])
def test_texts_of_a_title_are_clear_of_one_another(gap: float | None, strengths: tuple[float, ...]) -> None:
    for figure in folder_charts(record_of(solved(strengths=strengths, gap=gap))).values():
        assert_clear(figure)


@pytest.mark.parametrize(
    "name", ["灯台ホール" * 9, "x" * 90, "Kø", "$\\frac{", "A long name of several words and some more"]
)
def test_names_of_any_shape_stay_on_the_page(name: str) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert_clear(folder_charts(record_of(run_result(renamed(name))))["by-hour"])


def take_title(result: Any) -> str:
    chart = take_chart(study_of(record_of(result)), PAGE)
    assert chart is not None
    return chart.finding


def test_a_take_that_surely_differs_and_one_that_does_not() -> None:
    assert take_title(sweep_result(effect=earning(0.05))).startswith("Credits an hour: 154.0 at 2")
    assert take_title(sweep_result(effect=no_effect)).startswith("Every strength takes the same: ")


@pytest.mark.parametrize(
    ("change", "way"),
    [(0.1, "Return within 28 days, rising: 34.0 % at 0,"), (-0.1, "Return within 28 days, falling: 34.0 % at 0,"),
     (0.0, "Return within 28 days: always the same: 34.0 % at 0,")],
)  # fmt: skip
def test_retention_in_words(change: float, way: str) -> None:
    assert drawn(sweep_result(effect=changing("return_28d", change)))["retention"].finding.startswith(way)


def test_one_replication_claims_nothing() -> None:
    charts = drawn(sweep_result(scenario(replications=1), effect=earning(0.2)))
    assert charts["credits-per-hour"].finding.startswith("No strength surely takes more: ")
    assert "no sure change" in charts["retention"].finding


def test_one_strength_compares_nothing() -> None:
    charts = drawn(sweep_result(strengths=(0.5,), best=0.5))
    assert "credits-per-hour" not in charts and "trade-off" not in charts and "by-hour" in charts


def test_the_note_says_what_was_run() -> None:
    for figure in folder_charts(record_of(sweep_result())).values():
        note = " ".join(str(figure._supxlabel.get_text()).split())  # type: ignore[attr-defined]
        assert note.startswith("The Landing: 5 replications of 42 days, the first 7 left out; seed 1.")


def test_requirements_and_the_recommendation_are_drawn() -> None:
    charts = drawn(sweep_result(scenario(study__keep_return_28d=0.33, study__keep_better_side_wins=0.71)))

    def texts(name: str) -> list[str]:
        return [text.get_text() for text in charts[name].figure.axes[0].texts]

    assert "required: 33 %" in texts("retention") and "required: 71 %" in texts("trade-off")
    assert "today, recommended" in texts("credits-per-hour")
    without = drawn(sweep_result(best=None))
    assert not any(
        "recommended" in text.get_text() for chart in without.values() for text in chart.figure.axes[0].texts
    )


def hours(hourly: list[list[float | None]]) -> Chart:
    result = run_result()
    plain = result.to_dict()
    plain["by_hour"] = dict(zip(plain["by_hour"], hourly, strict=True))
    return charts_of(study_of(made(plain, result.loaded, ())), FOLDER)["by-hour"]


def test_hours_past_midnight_follow_the_evening() -> None:
    row: list[float | None] = [None] * 24
    for hour in (18, 19, 20, 21, 22, 23, 0, 1):
        row[hour] = 9.0 if hour == 22 else 5.0
    chart = hours([row, row])
    ticks = [tick.get_text() for tick in chart.figure.axes[0].get_xticklabels()]
    assert ticks == ["18", "19", "20", "21", "22", "23", "00", "01"]
    assert chart.finding == "Busiest from 22:00: 18.0 credits an hour"
    assert_clear(chart.figure)


@pytest.mark.parametrize("count", [24, 1])
def test_a_venue_open_all_day_or_for_an_hour(count: int) -> None:
    row: list[float | None] = [0.0 if hour < count else None for hour in range(24)]
    chart = hours([row, row])
    assert len(chart.figure.axes[0].get_lines()) == 2
    assert_clear(chart.figure)


def test_many_machines_are_told_apart_or_gathered() -> None:
    machines = {f"row {number}": {"price": 1, "play_time": "60 s"} for number in range(12)}
    axes = drawn(run_result(scenario(titles={}, machines=machines)), FOLDER)["by-hour"].figure.axes[0]
    lines = axes.get_lines()
    # In grey the colour says nothing: dash and marker alone must tell lines apart.
    assert len({(str(line.get_linestyle()), line.get_marker()) for line in lines}) == len(lines) == 6
    assert "7 others" in [text.get_text() for text in axes.texts]


def test_labels_at_line_ends_stay_within_the_frame() -> None:
    chart = drawn(solved(strengths=(0.0, 0.1), gap=3.0), FOLDER)["fairness"]
    figure = chart.figure
    with drawing.plain_text(figure):
        figure.draw_without_rendering()
    frame = figure.axes[0].get_window_extent()
    labels = [item for item in figure.axes[0].texts if isinstance(item, Annotation)]
    assert [label.get_text() for label in labels] == ["better side wins", "skill edge kept", "close finishes"]
    for label in labels:
        assert frame.y0 - 8 <= Text.get_window_extent(label).y0 <= frame.y1


def with_rules(count: int) -> Record:
    """A solved title whose rules are made up: the later in the file, the more each does."""
    result = solved(strengths=(0.0, 1.0))
    plain = result.to_dict()
    apart, bare = plain["apart"], plain["apart"]["bare"]
    apart["alone"] = {f"rule {number}": bare | {"close_finishes": bare["close_finishes"] + number / 100}
                      for number in range(count)}  # fmt: skip
    apart["without"] = dict.fromkeys(apart["alone"], apart["whole"])
    return made(plain, result.loaded, ())


def test_the_chart_of_rules_takes_the_greatest_and_counts_the_others() -> None:
    record = with_rules(11)
    chart = charts_of(study_of(record), PAGE)["rules"]
    assert [tick.get_text() for tick in chart.figure.axes[0].get_yticklabels()] == [
        f"rule {number}" for number in range(10, 2, -1)
    ]
    assert chart.finding == "rule 10 does most: close finishes +10.0 in a hundred"
    assert "The 8 greatest; 3 smaller are left out." in chart.note
    few = charts_of(study_of(with_rules(3)), PAGE)["rules"]
    assert "left out" not in few.note
    # In file order it would begin with the least.
    assert isinstance(record.data, ContestRecord)
    assert greatest_rules(record.data.apart)[:8] != list(record.data.apart.alone)[:8]


def test_colours_are_those_told_apart_with_any_colour_vision() -> None:
    assert set(drawing.COLOURS) == {"#0072B2", "#D55E00", "#009E73", "#CC79A7", "#E69F00", "#56B4E9", "#000000"}


def test_both_kinds_of_picture_are_drawn(tmp_path: Path) -> None:
    drawing.save(folder_charts(record_of(sweep_result()))["credits-per-hour"], tmp_path / "a.b")
    assert (tmp_path / "a.b.png").read_bytes().startswith(b"\x89PNG")
    assert "<svg" in (tmp_path / "a.b.svg").read_text(encoding="utf-8")


def test_the_best_of_many_noisy_strengths_is_not_taken_for_a_finding() -> None:
    """The largest difference of many looks large; the interval allows for the choice."""
    claims: list[SweepResult] = []
    for seed in range(40):
        rng = np.random.default_rng(seed)

        def noise(name: str, strength: float, rng: np.random.Generator = rng) -> float:
            return 1 + 0.02 * rng.standard_normal() if name == "credits_per_hour" else no_effect(name, strength)

        result = sweep_result(effect=noise)
        # The title of the chart is made from this finding.
        if result.findings.measures["credits_per_hour"].direction != "flat":
            claims.append(result)
        elif seed < 4:
            assert take_title(result).startswith("No strength")
    # At 95 % one in twenty may be claimed by chance; six of forty or more would come up once in 70 times.
    assert len(claims) <= 5
    assert not any(take_title(result).startswith("No strength") for result in claims)
