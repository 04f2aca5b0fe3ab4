"""Charts: the finding as title and nothing beyond it, units on the axes, labels clear of one another."""

from __future__ import annotations

import itertools
import math
import warnings
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from matplotlib.figure import Figure
from matplotlib.legend import Legend
from matplotlib.text import Annotation, Text
from matplotlib.transforms import Bbox

import venue
from venue.report import charts, drawing, title_charts
from venue.study.results import SweepResult

from .building import Effect, no_effect, renamed, run_result, scenario, sweep_result

STRENGTH = "catch-up strength (0 off, 1 as designed)"


def earning(gain: float) -> Effect:
    """A take that grows with strength, everything else as it is."""
    return lambda name, strength: 1 + gain * strength if name == "credits_per_hour" else no_effect(name, strength)


def changing(name: str, change: float) -> Effect:
    return lambda measure, strength: 1 + change * strength if measure == name else no_effect(measure, strength)


def title(figure: Figure) -> str:
    return " ".join(figure.axes[0].get_title(loc="left").split())


def boxes(figure: Figure) -> Iterator[tuple[str, Bbox]]:
    """Every text on a chart with the place it takes, ticks too."""
    with drawing.plain_text(figure):
        figure.draw_without_rendering()
    unseen = {
        id(label)
        for axis in (figure.axes[0].xaxis, figure.axes[0].yaxis)
        for place, label in zip(axis.get_majorticklocs(), axis.get_majorticklabels(), strict=True)
        if not min(axis.get_view_interval()) <= place <= max(axis.get_view_interval())
    }
    for text in figure.findobj(Text):
        assert isinstance(text, Text)
        if text.get_text().strip() and text.get_visible() and id(text) not in unseen:
            # Of an annotation the words count, not the line to what they name.
            box = Text.get_window_extent(text)
            yield text.get_text(), box


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


def sweep_figures(result: SweepResult) -> dict[str, Figure]:
    return charts.sweep_charts(result)


def test_axes_name_what_they_show_with_its_unit() -> None:
    figures = sweep_figures(sweep_result())
    labels = {name: (figure.axes[0].get_xlabel(), figure.axes[0].get_ylabel()) for name, figure in figures.items()}
    assert labels == {
        "credits-per-hour": (STRENGTH, "credits per open hour"),
        "retention": (STRENGTH, "return within 28 days (share of visits)"),
        "trade-off": ("contests won by the better side (share)", "credits per open hour"),
        "by-hour": ("hour of day (each from its beginning)", "credits per open hour"),
    }


@pytest.mark.parametrize("count", [1, 3, 9, 21])
def test_texts_of_a_sweep_are_clear_of_one_another(count: int) -> None:
    strengths = np.linspace(0, 2, count).tolist()
    result = sweep_result(strengths=strengths, effect=earning(0.01), best=strengths[count // 2])
    for name, figure in sweep_figures(result).items():
        # So many labels as a sweep in small steps has cannot all be free of one another on the trade-off.
        if name != "trade-off" or count <= 9:
            assert_clear(figure)


@pytest.mark.parametrize("gap", [None, 1.5, -3.0])
@pytest.mark.parametrize("strengths", [(1.0,), (0.0, 1.0), (0.0, 0.25, 0.5, 0.75, 1.0, 1.25, 1.5, 2.0)])
def test_texts_of_a_title_are_clear_of_one_another(gap: float | None, strengths: tuple[float, ...]) -> None:
    result = venue.solve(scenario(), strengths=strengths, gap=gap)
    for figure in title_charts.title_charts(result).values():
        assert_clear(figure)
        for legend in figure.findobj(Legend):
            assert isinstance(legend, Legend)
            # Beside the lines, never over them.
            assert legend.get_window_extent().x0 >= figure.axes[0].get_window_extent().x1


@pytest.mark.parametrize(
    "name", ["灯台ホール" * 9, "x" * 90, "Kø", "$\\frac{", "A long name of several words and some more"]
)
def test_names_of_any_shape_stay_on_the_page(name: str) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert_clear(charts.run_charts(run_result(renamed(name)))["by-hour"])


def test_a_take_that_surely_depends_on_strength() -> None:
    figure = charts.credits_chart(sweep_result(effect=earning(0.05)))
    assert title(figure).startswith("The take depends on strength: ")
    assert "at strength 2," in title(figure) and title(figure).endswith("at 0")


def test_a_take_that_does_not_is_not_said_to() -> None:
    """Replications share their visitors: the noise of each is large, that of the difference is what counts."""
    noisy = charts.credits_chart(sweep_result(effect=wobbling))
    assert title(noisy).startswith("No strength surely earns more than another: ")


def wobbling(name: str, strength: float) -> float:
    return 1 + 0.001 * strength * WOBBLE.standard_normal() if name == "credits_per_hour" else no_effect(name, strength)


WOBBLE = np.random.default_rng(5)


def test_the_best_of_many_noisy_strengths_is_not_taken_for_a_finding() -> None:
    """The largest difference of many looks large; the interval allows for the choice."""
    claims = 0
    for seed in range(40):
        rng = np.random.default_rng(seed)

        def noise(name: str, strength: float, rng: np.random.Generator = rng) -> float:
            return 1 + 0.02 * rng.standard_normal() if name == "credits_per_hour" else no_effect(name, strength)

        claims += title(charts.credits_chart(sweep_result(effect=noise))).startswith("The take depends")
    # At 95 % one in twenty may be claimed by chance; six of forty or more would come up once in 70 times.
    assert claims <= 5


@pytest.mark.parametrize(
    ("change", "start"),
    [(0.1, "Return within 28 days rises from 34."), (-0.1, "Return within 28 days falls from 34."),
     (0.0, "No sure change of return within 28 days: 34.")],
)  # fmt: skip
def test_retention_in_words(change: float, start: str) -> None:
    figure = charts.retention_chart(sweep_result(effect=changing("return_28d", change)))
    assert figure is not None and title(figure).startswith(start)


def test_trade_off_in_words() -> None:
    def words(effect: Effect) -> str:
        figure = charts.trade_off_chart(sweep_result(effect=effect))
        assert figure is not None
        return title(figure)

    def both(name: str, strength: float) -> float:
        return 1 + 0.05 * strength if name in ("credits_per_hour", "better_side_wins") else no_effect(name, strength)

    assert words(both).startswith("From strength 0 to 2 the better side's wins go from ")
    assert not words(both).endswith("surely)") and "not surely" not in words(both)
    assert words(changing("better_side_wins", -0.05)).endswith("(not surely)")
    assert words(earning(0.05)).endswith("; the wins not surely")
    assert words(no_effect).endswith("; neither surely")


def test_one_replication_claims_nothing() -> None:
    figures = sweep_figures(sweep_result(scenario(replications=1), effect=earning(0.2)))
    assert title(figures["credits-per-hour"]).startswith("No strength surely earns more than another: ")
    assert title(figures["retention"]).startswith("No sure change")
    assert title(figures["trade-off"]).endswith("; neither surely")


def test_one_strength_compares_nothing() -> None:
    figures = sweep_figures(sweep_result(strengths=(0.5,), best=0.5))
    assert title(figures["credits-per-hour"]).startswith("The take is 140.0 credits per open hour")
    assert title(figures["retention"]).endswith("of visits are followed by another within 28 days at strength 0.5")
    assert title(figures["trade-off"]).startswith("At strength 0.5 the better side wins 7")


def test_the_note_says_what_was_run() -> None:
    figures = sweep_figures(sweep_result())
    notes = {name: " ".join(str(figure._supxlabel.get_text()).split()) for name, figure in figures.items()}  # type: ignore[attr-defined]
    for note in notes.values():
        assert note.startswith("The Landing: 5 replications of 42 days, the first 7 left out; seed 1.")
    assert "Bands: 95 % intervals" in notes["credits-per-hour"]
    assert "the difference from strength 0" in notes["trade-off"]
    # No word of bands where none are drawn.
    assert "Bands" not in notes["by-hour"]
    one = charts.credits_chart(sweep_result(scenario(replications=1)))
    assert "Bands" not in str(one._supxlabel.get_text())  # type: ignore[attr-defined]


def test_floors_and_the_recommendation_are_drawn() -> None:
    figures = sweep_figures(sweep_result(scenario(study__keep_return_28d=0.33, study__keep_better_side_wins=0.71)))

    def texts(name: str) -> list[str]:
        return [text.get_text() for text in figures[name].axes[0].texts]

    assert "retention floor 0.33" in texts("retention") and "recommended" in texts("retention")
    assert "fairness floor 0.71" in texts("trade-off") and "1 recommended" in texts("trade-off")
    assert "recommended" in texts("credits-per-hour")
    without = sweep_figures(sweep_result(best=None))
    assert not any("recommended" in text.get_text() for figure in without.values() for text in figure.axes[0].texts)


def test_hours_past_midnight_follow_the_evening() -> None:
    result = run_result()
    hourly = np.array([[math.nan] * 24] * 2)
    hourly[:, [18, 19, 20, 21, 22, 23, 0, 1]] = 5.0
    hourly[:, 22] = 9.0
    for replication in result.point.replications:
        replication.measured.hourly[:] = hourly
    figure = charts.hourly_chart(result.loaded, result.point)
    ticks = [tick.get_text() for tick in figure.axes[0].get_xticklabels()]
    assert ticks == ["18", "19", "20", "21", "22", "23", "00", "01"]
    assert title(figure) == "Busiest about 22:00: 18.0 credits per open hour from all machines, at strength 1"
    assert_clear(figure)


@pytest.mark.parametrize("hours", [24, 1])
def test_a_venue_open_all_day_or_for_an_hour(hours: int) -> None:
    result = run_result()
    for replication in result.point.replications:
        replication.measured.hourly[:] = math.nan
        replication.measured.hourly[:, :hours] = 0.0
    figure = charts.hourly_chart(result.loaded, result.point)
    assert len(figure.axes[0].get_xticklabels()) == hours
    assert_clear(figure)


def test_many_machines_are_told_apart_or_gathered() -> None:
    machines = {f"row {number}": {"price": 1, "play_time": "60 s"} for number in range(12)}
    loaded = scenario(titles={}, machines=machines)
    figure = charts.run_charts(run_result(loaded))["by-hour"]
    lines = figure.axes[0].get_lines()
    styles = {(line.get_color(), str(line.get_linestyle()), line.get_marker()) for line in lines}
    assert len(lines) == len(styles) == len(drawing.COLOURS)
    # In grey the colour says nothing: dash and marker alone must tell lines apart.
    assert len({(str(line.get_linestyle()), line.get_marker()) for line in lines}) == len(lines)
    assert "6 others" in [text.get_text() for text in figure.axes[0].texts]
    assert_clear(figure)


def test_labels_at_line_ends_stay_within_the_frame() -> None:
    result = venue.solve(scenario(), strengths=(0.0, 0.1), gap=3.0)
    figure = title_charts.fairness_chart(result)
    with drawing.plain_text(figure):
        figure.draw_without_rendering()
    frame = figure.axes[0].get_window_extent()
    labels = [item for item in figure.axes[0].texts if isinstance(item, Annotation)]
    assert [label.get_text() for label in labels] == ["better side wins", "skill edge kept", "close finishes"]
    for label in labels:
        assert frame.y0 - 8 <= Text.get_window_extent(label).y0 <= frame.y1


def test_colours_are_those_told_apart_with_any_colour_vision() -> None:
    assert set(drawing.COLOURS) == {"#0072B2", "#D55E00", "#009E73", "#CC79A7", "#E69F00", "#56B4E9", "#000000"}


def test_both_kinds_of_picture_are_drawn(tmp_path: Path) -> None:
    drawing.save(charts.credits_chart(sweep_result()), tmp_path / "a.b")
    assert (tmp_path / "a.b.png").read_bytes().startswith(b"\x89PNG")
    assert "<svg" in (tmp_path / "a.b.svg").read_text(encoding="utf-8")
