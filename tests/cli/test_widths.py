"""What a window of 60, 80 or 120 columns shows: no line runs past its edge, and tables stay aligned."""

from __future__ import annotations

import shlex

import pytest

from venue.cli.main import cli
from venue.cli.narrow import folded
from venue.report.columns import in_two_lines, room
from venue.report.layout import as_text
from venue.report.study_text import studies_parts
from venue.study.store import KeptStudy

from .building import ROOT, Shell

PIER, MALL, BAR = (str(ROOT / "scenarios" / f"{name}.toml") for name in ("pier", "mall", "bar"))
QUICK = ("--workers", "1", "--no-store")
STORE = ("--workers", "1", "--store", "kept.sqlite")
COMMANDS = [
    ("--help",),
    ("check", PIER),
    ("check", "small.toml"),
    ("contest", MALL, "--title", "trolley", "--strengths", "0,1"),
    ("contest", "small.toml", "--strengths", "0,1"),
    ("contest", PIER, "--title", "tug", "--at", "period=4, left=5 s, margin=-2"),
    ("contest", PIER, "--title", "tug", "--watch", "--seed", "7"),
    ("contest", PIER, "--title", "lantern", "--watch"),
    ("contest", MALL, "--title", "trolley", "--watch"),
    ("contest", BAR, "--title", "locks", "--watch"),
    ("tune", "small.toml", "--reach", "lead_changes=0.115", "--keep", "close_finishes>=0.5"),
    ("tune", "small.toml", "--reach", "level=0.3", "--by", "strength", "--by", "attempts.reed.chance", "--gap", "0.2"),
    ("tune", "small.toml", "--more", "level", "--less", "lead_changes", "--gap", "0.2"),
    ("run", "small.toml", *QUICK),
    ("run", "small.toml", "--precision", "credits_per_hour=10%", "--at-most", "12", *QUICK),
    ("sweep", "small.toml", "--strengths", "0,1,2", *QUICK),
    ("sweep", "small.toml", "--over", "machines.reeds.price=1:2:1", "--over", "strength=0,1", *QUICK),
    ("compare", "small.toml", "--set", "machines.reeds.price=2; people.buy_in.closeness=0.25", *QUICK),
    ("sensitivity", "small.toml", "--key", "people.buy_in", "--trajectories", "2", "--shares", "0", *QUICK),
]


def too_wide(text: str, width: int) -> list[str]:
    """Lines that run past the edge, but for one word that is longer than a line."""
    return [line for line in text.split("\n") if room(line) > width and len(line.split()) > 1]


@pytest.fixture(params=[60, 80, 120])
def width(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch, shell: Shell) -> int:
    """A window this wide. (`shell` sets another, so it goes first.)"""
    monkeypatch.setenv("COLUMNS", str(request.param))
    assert isinstance(request.param, int)
    return request.param


@pytest.mark.parametrize("words", COMMANDS, ids=lambda words: " ".join(words[:4]).replace(str(ROOT), ""))
def test_no_line_runs_past_the_edge(shell: Shell, width: int, words: tuple[str, ...]) -> None:
    outcome = shell(*words)
    assert (outcome.code, too_wide(outcome.out, width)) == (0, [])


@pytest.mark.parametrize(
    "name", ["check", "compare", "contest", "new", "run", "sensitivity", "studies", "sweep", "tune"]
)
def test_no_line_of_help_runs_past_the_edge(shell: Shell, width: int, name: str) -> None:
    assert too_wide(shell(name, "--help").out, width) == []


def test_no_line_of_what_is_kept_runs_past_the_edge(shell: Shell, width: int) -> None:
    shell("sweep", "small.toml", "--strengths", "0,1", *STORE)
    for words in (("studies",), ("studies", "1")):
        assert too_wide(shell(*words, "--store", "kept.sqlite").out, width) == []


@pytest.mark.parametrize("full", [False, True])
def test_long_names_of_what_is_kept_fit_80_columns(full: bool) -> None:
    long = "A place whose name is as long as names become, and longer"
    kept = KeptStudy(123, "sensitivity", long, f"a/b/{'long-' * 20}name.toml", "v", 0.0, 1e9, 2000, 25, 1999)
    said = as_text(studies_parts("kept.sqlite", [kept], full=full), 80)
    assert too_wide(said, 80) == [] and "-name.toml" in said
    assert len([line for line in said.split("\n") if set(line) <= {"-", " "} and "-" in line]) == 1  # one block


@pytest.mark.parametrize("name", sorted(cli.commands))
def test_a_folded_example_is_the_same_command(name: str) -> None:
    """As a shell reads it: a backslash at the end of a line joins it to the next."""
    for line in map(str.strip, (cli.commands[name].help or "").split("\n")):
        if line.startswith("venue "):
            parts = folded(line, 58)
            assert all(len(part) <= 60 for part in parts)
            assert shlex.split("\n".join(parts).replace("\\\n", "")) == shlex.split(line)


def test_a_table_in_two_lines() -> None:
    text = in_two_lines(["number", "value", "from"], [["people.skill.sd", "0.3", "measured"], ["b", "12", ""]])
    assert text.split("\n") == [
        "number",
        "    value  from",
        "---------------",
        "people.skill.sd",
        "    0.3    measured",
        "b",
        "    12",
    ]
