"""Results where a notebook shows them: what is told, in tables that hold whatever names a scenario has."""

from __future__ import annotations

import html
from html.parser import HTMLParser
from typing import Any

import pytest

import venue
from venue.cli.progress import NotebookBar, ProgressBar, bar
from venue.report.columns import in_columns, paragraph
from venue.study.display import Displayed

from ..floor.textbook import textbook
from .test_workers import small

_EMPTY = {"br", "progress"}


class Page(HTMLParser):
    """Tables of a piece of HTML, as rows of texts; fails on marks that do not match."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tables: list[list[list[str]]] = []
        self.captions: list[str] = []
        self.text = ""
        self.feed(text)
        assert not self.open

    def handle_starttag(self, tag: str, attrs: Any) -> None:
        if tag not in _EMPTY:
            self.open.append(tag)
        if tag == "table":
            self.tables.append([])
        if tag == "tr":
            self.tables[-1].append([])
        if tag in ("td", "th"):
            self.tables[-1][-1].append("")
        if tag == "caption":
            self.captions.append("")

    def handle_endtag(self, tag: str) -> None:
        if tag not in _EMPTY:
            assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.text += data
        if self.open and self.open[-1] in ("td", "th"):
            self.tables[-1][-1][-1] += data
        if self.open and self.open[-1] == "caption":
            self.captions[-1] += data


def page(result: Any) -> Page:
    return Page(result._repr_html_())


def test_a_run_shows_its_measures_with_intervals_and_units() -> None:
    result = venue.run(small(), replications=3)
    found = page(result)
    head, *rows = found.tables[0]
    assert head[:4] == ["measure", "mean", "95 % interval", "unit"]
    assert [row[0] for row in rows] == list(result.measures.index)
    assert rows[0][3] == "credits per open hour" and " to " in rows[0][2]
    assert all(found.captions) and len(found.captions) == len(found.tables)
    assert "Caution" in found.text


def test_a_sweep_shows_every_setting_and_the_recommendation() -> None:
    result = venue.sweep(small(), strengths=[0.0, 1.0], replications=3)
    found = page(result)
    assert [row[0].removesuffix(" <") for row in found.tables[0][1:]] == ["0", "1"]
    assert "±" in found.tables[0][1][1] and "Recommended: " in found.text
    assert "95 % interval" in found.captions[0]


def test_a_comparison_shows_a_table_for_each_scenario() -> None:
    result = venue.compare(small(), "machines.solo.price=2", "machines.solo.count=3", replications=2)
    found = page(result)
    assert len(found.tables) == 2 and found.captions[1].startswith("machines.solo.count=3: differences")
    assert found.tables[0][0][-1] == "unit"


def test_a_ranking_shows_origins() -> None:
    result = venue.sensitivity(
        small(), "buy_in_rate", keys=["people.buy_in.chance", "people.buy_in.price"], trajectories=2, shares=0, days=1
    )
    found = page(result)
    assert found.tables[0][0][:3] == ["number", "from", "moved between"]
    assert {row[0] for row in found.tables[0][1:]} == {factor.key for factor in result.factors}


def test_names_are_shown_as_they_stand() -> None:
    row = {"row": {"count": 1, "price": 1, "play_time": "1 min"}}
    named = textbook(row, 1.0).vary(['venue.name="<script>alert(1)</script> & Sons"'])
    text = venue.run(named, replications=1)._repr_html_()
    assert "<script" not in text and html.escape("<script>alert(1)</script> & Sons") in text
    assert "<script>alert(1)</script> & Sons" in Page(text).text


def test_a_terminal_is_none_the_wiser() -> None:
    """Text is text again once a result was shown, and what has no HTML says so."""
    venue.run(small(), replications=1)._repr_html_()
    assert paragraph("a < b", 40) == "a < b" and "<" not in in_columns(["a"], [["b"]], width=40)
    with pytest.raises(TypeError, match="Displayed has no HTML"):
        Displayed()._repr_html_()


# -- the bar ----------------------------------------------------------------------------------------------------------


def test_a_bar_where_nobody_looks(capfd: pytest.CaptureFixture[str]) -> None:
    venue.run(small(), replications=2, progress=True)
    assert type(bar("replications")) is ProgressBar
    assert capfd.readouterr().err == ""


def test_a_bar_in_a_notebook(monkeypatch: pytest.MonkeyPatch) -> None:
    """IPython's own shell with a kernel's name on it: one display, changed in place, words at the end."""
    from IPython.core.interactiveshell import InteractiveShell
    from IPython.utils.capture import capture_output

    monkeypatch.setattr("venue.cli.progress._PATIENCE", 0.0)
    monkeypatch.setattr("venue.cli.progress._EVERY", 0.0)
    monkeypatch.setattr("venue.study.series._WATCH", 0.0)
    monkeypatch.setattr("venue.study.series._WATCH_COST", 0.0)
    shell = InteractiveShell.instance()
    try:
        shell.kernel = object()
        assert type(bar("replications")) is NotebookBar
        with capture_output() as captured:
            venue.run(small(), replications=4, progress=True)
    finally:
        InteractiveShell.clear_instance()
    shown = [output.data["text/html"] for output in captured.outputs]
    assert [output.update for output in captured.outputs] == [False] + [True] * (len(shown) - 1)
    assert len(shown) == 5 and '<progress value="0.2500" max="1"></progress> replications 1/4' in shown[0]
    assert "credits_per_hour ± " in shown[-2] or "credits_per_hour ± " in shown[-1]
    assert "replications: over after" in shown[-1] and "<progress" not in shown[-1]
    assert all(Page(text) for text in shown)
