"""Colour on a terminal only, never alone, and not where NO_COLOR is set (no-color.org, an informal standard)."""

from __future__ import annotations

import os
import pty
import re
import subprocess
import sys

import click
import pytest

from venue.cli import colour

from .building import Shell, environment

PAINT = re.compile(r"\x1b\[[0-9;]*m")
SWEEP = ("sweep", "small.toml", "--strengths", "0,1", "--workers", "1", "--no-store")


def seen(shell: Shell, *words: str, **more: str) -> str:
    """What a terminal on stdout sees."""
    ours, theirs = pty.openpty()
    around = {**environment(TERM="xterm", COLUMNS="80", VENUE_STORE=""), **more}
    child = subprocess.Popen(
        [sys.executable, "-m", "venue", *words], cwd=shell.folder, env=around, stdout=theirs, stderr=subprocess.PIPE
    )
    os.close(theirs)
    text = b""
    try:
        while part := os.read(ours, 65536):
            text += part
    except OSError:  # the other end is closed
        pass
    finally:
        os.close(ours)
    assert child.stderr is not None
    assert (child.wait(60), child.stderr.read()) == (0, b"")
    child.stderr.close()
    return text.decode().replace("\r\n", "\n")


def test_a_terminal_has_colour_and_the_same_words(shell: Shell, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.delenv("NO_COLOR", raising=False)
    shown, plain = seen(shell, *SWEEP), shell(*SWEEP).out
    assert PAINT.search(shown) and not PAINT.search(plain)
    assert PAINT.sub("", shown) == plain


@pytest.mark.parametrize("around", [{"NO_COLOR": "1"}, {"TERM": "dumb"}])
def test_a_terminal_that_is_to_have_none(shell: Shell, around: dict[str, str]) -> None:
    assert not PAINT.search(seen(shell, "check", "small.toml", **around))


def test_what_is_painted() -> None:
    """The heading, the sentence and row of the recommended, the caution; a mark inside a row is not the row's."""
    text = "a venue\n\nname    x\n0       1\n1 <     2\n2       a <  b\n\nRecommended: strength 1\n\nCaution: x"
    parts = colour.painted(text).split("\n\n")
    bold = {line for part in parts for line in part.split("\n") if line == click.style(click.unstyle(line), bold=True)}
    assert {click.unstyle(line) for line in bold} == {"a venue", "1 <     2", "Recommended: strength 1"}
    assert parts[3] == click.style("Caution: x", fg="yellow")
    assert click.unstyle(colour.painted(text)) == text
