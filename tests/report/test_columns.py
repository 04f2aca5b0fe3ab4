"""Text set in columns: flush, within the width, broken into blocks, for any script."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from venue.report.columns import in_columns, left, paragraph, right, room, short

HEAD = ["name", "first\nnumber", "second"]
ROWS = [["a", "1", "2.5"], ["longer", "100", "-"]]


def test_columns_are_flush() -> None:
    assert in_columns(HEAD, ROWS, width=80) == (
        "         first\n"
        "name    number  second\n"
        "------  ------  ------\n"
        "a            1     2.5\n"
        "longer     100       -"
    )  # fmt: skip


def test_too_narrow_a_line_breaks_the_table_into_blocks_that_begin_alike() -> None:
    assert in_columns(HEAD, ROWS, width=16) == (
        "         first\n"
        "name    number\n"
        "------  ------\n"
        "a            1\n"
        "longer     100\n"
        "\n"
        "name    second\n"
        "------  ------\n"
        "a          2.5\n"
        "longer       -"
    )  # fmt: skip


def test_more_columns_may_be_set_flush_left() -> None:
    text = in_columns(["a", "b"], [["x", "y"], ["xx", "yyy"]], width=20, flush_left=2)
    assert text.split("\n")[2:] == ["x   y", "xx  yyy"]


@pytest.mark.parametrize("width", [1, 10, 17, 25, 40, 200])
def test_every_cell_is_shown_once_at_any_width(width: int) -> None:
    text = in_columns(HEAD, ROWS, width=width)
    for cell in ("2.5", "100", "second"):
        assert text.count(cell) == 1
    for line in text.split("\n"):
        assert len(line) <= max(width, room("longer") + 2 + 6)
        assert line == line.rstrip()


@pytest.mark.parametrize(("text", "places"), [("abc", 3), ("灯台", 4), ("Kø", 2), ("e\u0301", 1), ("", 0), ("ｗ", 2)])
def test_room_on_a_terminal(text: str, places: int) -> None:
    assert room(text) == places
    assert room(left(text, 8)) == room(right(text, 8)) == 8


def test_wide_letters_keep_columns_in_line() -> None:
    lines = in_columns(["k", "v"], [["灯台", "1"], ["ab", "22"]], width=30).split("\n")
    assert {room(line) for line in lines[1:]} == {8}


def test_long_texts_are_cut() -> None:
    assert short("short", 10) == "short"
    assert short("a long name", 7) == "a long…"
    assert room(short("灯台灯台灯台", 7)) <= 7
    assert short(" two\n lines ", 20) == "two lines"


def test_paragraphs_keep_to_the_width_and_hyphens_together() -> None:
    text = paragraph("the log-odds of it " * 20, 40)
    assert all(len(line) <= 40 for line in text.split("\n"))
    assert "log-\n" not in text
    assert max(len(line) for line in paragraph("word " * 100, 500).split("\n")) <= 100


@given(text=st.text(st.sampled_from("aé灯e\u0301 \U0001f3aa"), max_size=40), most=st.integers(1, 20))
def test_a_text_is_cut_where_one_letter_more_would_not_fit(text: str, most: int) -> None:
    whole = " ".join(text.split())
    found = short(text, most)
    if room(whole) <= most:
        assert found == whole
        return
    kept = found.removesuffix("…")
    longest = max(end for end in range(len(whole) + 1) if room(whole[:end]) <= most - 1)
    assert kept == whole[:longest].rstrip()


def test_texts_without_end_are_cut_at_once() -> None:
    # Letter by letter this would be a million million steps.
    assert short("x" * 1_000_000, 20) == "x" * 19 + "…"
    assert len(paragraph("x" * 1_000_000, 80)) < 1_100
