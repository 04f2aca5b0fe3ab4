"""A table declared once: the same figures as text, cells, HTML and rows of a file; registry of measures."""

from __future__ import annotations

import csv
import io
import re

import pytest

from venue.report.figures import column, interval, with_half
from venue.report.layout import Lines, as_html, as_text
from venue.report.tables import Column, Said, Table
from venue.study.intervals import Estimate
from venue.study.registry import MACHINE_MEASURES, MEASURES, TITLE_MEASURES

FAIR = Estimate(0.7284, 0.7194, 0.7374, 6)
FAIRER = Estimate(0.7484, 0.7394, 0.7574, 6)
TAKE = Estimate(99.04, 94.54, 103.54, 6)
TABLE = Table(
    "measures",
    (
        Column("setting", "setting", "words"), Column("source", "source", "words", shown_to="files"),
        Column.of("better_side_wins", MEASURES["better_side_wins"]),
        Column("take", "take", "interval", MEASURES["credits_per_hour"], spare=2),
        Column("about", "what it is", "words", shown_to="people", spare=1),
    ),
    [["=1+1", "a.toml", FAIR, TAKE, "<b>as it was</b>"], [Said(2.0, "2 <"), "b.toml", FAIRER, None, ""]],
    "Two settings",
)  # fmt: skip


def test_as_text_shares_are_percentages_and_columns_share_decimals() -> None:
    assert TABLE.to_text(100).split("\n") == [
        "          better side",
        "setting       wins, %  take  95 % interval  what it is",
        "-------  ------------  ----  -------------  ----------------",
        "=1+1     72.84 ± 0.90  99.0  94.5 to 103.5  <b>as it was</b>",
        "2 <      74.84 ± 0.90     -              -",
    ]


def test_spare_columns_leave_in_their_order_where_the_window_is_narrow() -> None:
    def heads(width: int) -> str:
        return TABLE.to_text(width).split("\n")[1]

    assert "what it is" in heads(60) and "what it is" not in heads(58) and "take" in heads(58)
    assert "take" not in heads(40) and "wins, %" in heads(40)
    # What is not spare stays, in blocks.
    assert TABLE.to_text(10).count("wins, %") == 1


def test_a_row_takes_two_lines_where_it_says_where_to_break() -> None:
    table = Table("x", (Column("a", "a", "words"), Column("b", "b", "words"), Column("c", "c", "words")),
                  [["one", "two", "three"]], below="b")  # fmt: skip
    assert table.to_text(40).split("\n")[-1] == "one  two  three"
    assert table.to_text(10).split("\n") == ["a", "    b    c", "---", "one", "    two  three"]


def test_in_files_figures_are_whole_and_ends_of_intervals_beside_them() -> None:
    rows = list(csv.reader(io.StringIO(TABLE.to_csv())))
    assert rows[0] == ["setting", "source", "better_side_wins", "better_side_wins_low", "better_side_wins_high",
                       "take", "low", "high"]  # fmt: skip
    assert rows[1] == ["'=1+1", "a.toml", "0.7284", "0.7194", "0.7374", "99.04", "94.54", "103.54"]
    assert rows[2][0] == "2.0" and rows[2][5:] == ["", "", ""]


def test_a_row_a_figure() -> None:
    unknown = ["3", "c.toml", None]  # what is not known has no row
    found = Table("x", TABLE.columns[:3], [*(row[:3] for row in TABLE.rows), unknown]).long(["share"])
    assert len(found.rows) == 2
    assert found.keys() == ["setting", "source", "measure", "mean", "low", "high", "unit"]
    assert found.plain_rows()[1] == [2.0, "b.toml", "better_side_wins", 0.7484, 0.7394, 0.7574, "share"]


def test_cells_of_a_page_hold_text_and_number() -> None:
    assert TABLE.heads() == [("setting", True), ("better side wins, %", False), ("take", False),
                             ("95 % interval", False), ("what it is", True)]  # fmt: skip
    first, second = TABLE.lines()
    assert [(cell.text, cell.value) for cell in first[:3]] == [
        ("=1+1", None),
        ("72.84 ± 0.90", 0.7284),
        ("99.0", 99.04),
    ]
    assert (second[0].text, second[0].value, second[2].text) == ("2 <", 2.0, "-")


def test_html_shows_texts_as_they_stand() -> None:
    text = as_html(["a < b", TABLE, Lines("[study]")])
    assert "<b>as it was" not in text and "&lt;b&gt;as it was" in text and "a &lt; b" in text
    assert text.count("<tr>") == 3 and "<caption" in text and "<pre>[study]</pre>" in text
    assert as_text(["a < b", TABLE], 80).startswith("a < b\n\nTwo settings:\n\n")


def test_fewer_columns_and_rows() -> None:
    assert [item.key for item in TABLE.only("about", "setting").columns] == ["about", "setting"]
    assert [item.key for item in TABLE.without("take").columns][-2:] == ["better_side_wins", "about"]
    assert len(TABLE.first(1).rows) == 1
    few = TABLE.narrowing(4)
    assert [item.spare for item in few.columns] == [0, 0, 0, 1]


def test_digits_are_those_of_the_interval_but_at_most_one_more_than_the_measure_has() -> None:
    wide, sharp = Estimate(0.5, 0.4, 0.6, 9), Estimate(0.5, 0.4999, 0.5001, 9)
    share = MEASURES["better_side_wins"]
    assert with_half(wide, measure=share) == "50 ± 10" and with_half(sharp, measure=share) == "50.00 ± 0.01"
    assert column([wide], share, "+") == ["+50 ± 10"]
    assert interval(wide, share) == ("50", "40 to 60")
    assert interval(wide) == ("0.50", "0.40 to 0.60")


@pytest.mark.parametrize("known", [MEASURES, MACHINE_MEASURES, TITLE_MEASURES])
def test_every_measure_has_its_words(known: dict[str, object]) -> None:
    from venue.study.registry import Measure

    found = [item for item in known.values() if isinstance(item, Measure)]
    assert len(found) == len(known) and len({item.label for item in found}) == len(found)
    for item in found:
        assert item.unit and item.meaning and not item.meaning.endswith(".")
        lines = item.short.split("\n")
        assert len(lines) <= 2 and all(len(line) <= 14 for line in lines)
        assert not re.search(r"_", item.label + item.short)
    assert MEASURES["take_per_week"].unit_in("crowns") == "crowns per week"
    assert MEASURES["skill_edge"].unit_shown("crowns") == "%"
