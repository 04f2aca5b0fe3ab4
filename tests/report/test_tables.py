"""Results as text: aligned, within the width, with digits in proportion, units and the caution."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from functools import cache

import pytest

import venue
from venue.report.columns import room
from venue.report.heading import CAUTION
from venue.report.layout import as_text
from venue.report.study_text import run_parts, sweep_parts
from venue.report.title_text import title_parts
from venue.scenario.load import Loaded
from venue.study.judgement import Weeks
from venue.study.registry import MEASURES
from venue.study.results import RunResult, SweepResult
from venue.study.title import TitleResult

from .building import blocks, cells, columns_of, merged, no_effect, renamed, run_result, scenario, sweep_result

WIDTHS = (60, 80, 100, 140, 160)
NAMES = ["x" * 200, "灯台ホール" * 10, "قاعة الميناء", "=1+1", "<b>&amp;</b>", "$x^2$ {%s} \\n", "Ke\u0301 Hall"]


def assert_fits(text: str, width: int) -> None:
    for line in text.split("\n"):
        assert room(line) <= width, line
        assert line == line.rstrip()


def assert_aligned(text: str) -> None:
    """Between the columns of every table there is nothing but space."""
    for block in blocks(text):
        gaps = [(end, start) for (_, end), (start, _) in zip(columns_of(block), columns_of(block)[1:], strict=False)]
        for line in block:
            for end, start in gaps:
                assert line[end:start].strip() == "", line


def run_text(result: RunResult, width: int) -> str:
    return as_text(run_parts(result), width)


def sweep_text(result: SweepResult, width: int) -> str:
    return as_text(sweep_parts(result), width)


def title_text(result: TitleResult, width: int) -> str:
    return as_text(title_parts(result), width)


@cache
def title_result(play: str = "turns") -> TitleResult:
    loaded = scenario()
    if play == "open":
        title = {
            "play": "open", "periods": 1, "period_length": "30 s", "mean_attack": "3 s",
            "attempts": {"a": {"share": 1.0, "points": 1}},
            "rules": {"wind": {"kind": "slope", "per_point": "2 pp", "cap": 4}},
        }  # fmt: skip
        loaded = scenario(titles__ferry=title, machines__ferry={"title": "ferry", "price": 1, "seats": 2})
    return venue.solve(loaded, strengths=(0.0, 1.0, 2.0))


@pytest.mark.parametrize("width", WIDTHS)
def test_a_sweep_fits_its_width_and_is_aligned(width: int) -> None:
    text = sweep_text(sweep_result(), width)
    assert_fits(text, width)
    assert_aligned(text)
    table = merged([cells(block) for block in blocks(text.partition("The trade-off:")[0])])
    assert len(table) == 14 and all(len(column) == 5 for column in table.values())


def test_columns_that_say_nothing_are_left_out() -> None:
    """No faults, no limits, and the operator keeps all of the take."""
    plain = {"availability": 1.0, "limit_reached": 0.0, "take_per_week": 5000.0, "profit_per_week": 5000.0}

    def effect(name: str, strength: float) -> float:
        return 0.0 if name in plain else no_effect(name, strength)

    result = sweep_result(effect=effect)
    for point in result.points:
        for replication in point.replications:
            replication.measured.venue.update(plain)
    text = sweep_text(result, 200)
    told = merged([cells(block) for block in blocks(text.partition("The trade-off:")[0])])
    assert not {"profit per week", "without fault, %", "stopped by a limit, %"} & set(told)
    assert len(told) == 11
    assert "Not known" not in text


@pytest.mark.parametrize("width", WIDTHS)
def test_a_run_fits_its_width_and_is_aligned(width: int) -> None:
    text = run_text(run_result(), width)
    assert_fits(text, width)
    assert_aligned(text)
    for name in MEASURES:
        assert re.search(rf"^{name} ", text, re.MULTILINE), name


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("play", ["turns", "open"])
def test_a_title_fits_its_width_and_is_aligned(width: int, play: str) -> None:
    text = title_text(title_result(play), width)
    assert_fits(text, width)
    assert_aligned(text)
    assert "-0.00" not in text


def test_units_and_meanings_go_first_where_the_line_is_short() -> None:
    result = run_result()
    wide, middling, narrow = (run_text(result, width) for width in (160, 80, 60))
    assert "what it is" in wide and "credits per open hour" in wide and "take of the venue" in wide
    assert "what it is" not in middling and "credits per open hour" in middling
    assert narrow.count("credits per open hour") <= 1 and "95 % interval" in narrow
    assert "crowns" in middling


def test_a_column_of_a_sweep_has_one_number_of_decimals() -> None:
    text = sweep_text(sweep_result(), 100)
    table = merged([cells(block) for block in blocks(text.partition("The trade-off:")[0])])
    for head, column in table.items():
        # The made-up results differ by nothing at all, so their paired differences have no width.
        if head not in ("strength", "against the recommended"):
            decimals = {len(cell.split(" ")[0].partition(".")[2]) for cell in column if " ± " in cell}
            halves = {len(cell.split(" ")[-1].partition(".")[2]) for cell in column if " ± " in cell}
            assert len(decimals) == 1 and decimals == halves, head
            assert not any(re.search(r"± 0\.?0*$", cell) for cell in column)
    assert table["skill edge kept, %"][0] == "100"


def test_a_sweep_says_what_was_run_and_marks_what_it_recommends() -> None:
    text = sweep_text(sweep_result(), 100)
    assert " ".join(text.split()).startswith(
        "The Landing: catch-up strength swept over 5 settings; 42 days, the first 7 left out; 5 replications; seed 1"
    )
    assert re.search(r"^1 <  ", text, re.MULTILINE)
    assert "Recommended: run at catch-up strength 1. It takes the most; every other surely takes less." in text
    assert "every strength met the same visitors" in text


def with_ties(fairer: float) -> SweepResult:
    """A sweep whose recommended strength 1 is a tie with 0.5, where the better side wins so much more."""

    def effect(name: str, strength: float) -> float:
        return 1.0 + fairer * (1.0 - strength) if name == "better_side_wins" else no_effect(name, strength)

    result = sweep_result(effect=effect)
    return replace(result, best=replace(result.best, rivals=(1, 3)))


def test_a_tie_in_take_that_is_fairer_is_said_with_the_recommendation() -> None:
    text = " ".join(sweep_text(with_ties(0.02), 100).split())
    assert "Recommended: anything from catch-up strength 0.5 to 1.5 will do. Their takes cannot be told apart." in text
    assert "intervals that hold for all 5 together (wider than those of a table)" in text
    assert re.search(
        r"If fairness is to decide, take 0\.5: the better side wins 0\.7\d*( ± [\d.]+)? more contests", text
    )


def test_a_take_that_still_moves_is_said_beside_its_figures() -> None:
    run, sweep = (" ".join(text.split()) for text in (run_text(run_result(), 100),
                                                      sweep_text(sweep_result(), 100)))  # fmt: skip
    for text in (run, sweep):
        assert "The take is still moving. 62.0" in text and "credits per open hour in the first week counted" in text
        assert "To see it settled: --days 84 --set study.warm_up=14." in text


@pytest.mark.parametrize(
    ("first", "last", "said"),
    [((99, 101), (105, 107), "is still"), ((90, 110), (100, 120), "may still"), ((99, 101), (100, 102), "")],
)
def test_whether_a_take_has_settled(first: tuple[float, float], last: tuple[float, float], said: str) -> None:
    rows = [
        {
            "week": week,
            "warm_up": week == 1,
            "credits_per_hour": {"mean": sum(span) / 2, "low": span[0], "high": span[1]},
        }
        for week, span in enumerate([(1, 2), first, last], start=1)
    ]
    weeks = Weeks(rows, days=21)
    assert len(weeks.counted) == 2
    assert weeks.settling.state == {"is still": "moving", "may still": "unclear", "": "settled"}[said]
    assert Weeks(rows[:1], days=21).settling.state == "too short"
    # A last week that is cut short does not count.
    rows.append({"week": 4, "warm_up": False, "credits_per_hour": {"mean": 1.0, "low": 0.9, "high": 1.1}})
    assert Weeks(rows, days=27).settling == weeks.settling
    assert Weeks(rows, days=28).settling.state == "moving"


def test_a_tie_that_is_no_fairer_is_not() -> None:
    assert "fairness is to decide" not in sweep_text(with_ties(0.0), 100)


def test_a_sweep_without_a_recommendation() -> None:
    text = sweep_text(sweep_result(best=None), 100)
    assert "Recommended: none of the 5 strengths tried can be recommended." in text
    assert "No replication could tell enough of every strength to judge it." in text
    assert "<" not in text


def test_one_strength_and_one_replication() -> None:
    text = sweep_text(sweep_result(scenario(replications=1), strengths=(0.5,), best=0.5), 100)
    assert "swept over 1 setting;" in text and "1 replication;" in text
    assert "±" not in text
    assert "One replication: means without intervals" in text
    assert "one replication" in run_text(run_result(scenario(replications=1)), 100)


@pytest.mark.parametrize("result", ["sweep", "run"])
def test_figures_of_protection_come_with_their_caution(result: str) -> None:
    text = sweep_text(sweep_result(), 160) if result == "sweep" else run_text(run_result(), 160)
    words = " ".join(text.split())
    assert CAUTION in words
    for figure in ("empty", "95", "top tenth"):
        assert figure in words


def test_what_a_run_cannot_tell_is_said() -> None:
    result = run_result(effect=lambda name, strength: math.nan if name == "return_28d" else 1.0)
    text = run_text(result, 100)
    assert "Not known: return_28d (the run is too short, or there was nothing of the kind)." in text
    assert not re.search(r"^return_28d", text, re.MULTILINE)


def test_a_column_without_any_figure_is_left_out_of_a_sweep() -> None:
    result = sweep_result(effect=lambda name, strength: math.nan if name == "return_28d" else 1.0)
    text = sweep_text(result, 160)
    assert "return" not in text.partition("Mean ±")[0]
    assert "Not known: return_28d (the run is too short, or there was nothing of the kind)." in text


def test_switches_that_are_off_are_named() -> None:
    loaded = scenario(study__switches_off=["help"])
    assert "seed 1; switched off: help" in " ".join(sweep_text(sweep_result(loaded), 60).split())
    assert "seed 1; switched off: help" in " ".join(run_text(run_result(loaded), 60).split())


@pytest.mark.parametrize("width", [80, 140])
@pytest.mark.parametrize("name", NAMES)
def test_names_of_any_shape_leave_tables_in_shape(name: str, width: int) -> None:
    loaded: Loaded = renamed(name)
    for text in (sweep_text(sweep_result(loaded), width), run_text(run_result(loaded), width)):
        tabled = [line for block in blocks(text) for line in block]
        assert all(room(line) <= width for line in tabled)
        assert "\x1b" not in text


def test_points_owed_to_rules() -> None:
    turns = title_text(title_result("turns"), 100)
    assert "Points a contest owed to each rule, both sides together and net" in turns
    assert re.search(r"^fog   slope  \+0\.00  \+\d\.\d\d  \+\d\.\d\d$", turns, re.MULTILINE)
    # In open play a rule gives to one side what it takes from the other.
    opened = title_text(title_result("open"), 100)
    assert "both sides together are owed no points" in opened


def test_a_title_says_over_whom_it_was_averaged() -> None:
    assert "side B the computer" in " ".join(title_text(title_result("turns"), 100).split())
    assert "side B another" in " ".join(title_text(title_result("open"), 100).split())
    pair = venue.solve(scenario(), strengths=(1.0,), gap=0.3)
    assert "side A ahead by 0.3 log-odds, against the computer" in " ".join(title_text(pair, 100).split())
