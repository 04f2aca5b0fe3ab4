"""Surroundings that fail a command: full and closed streams, names in no encoding, an end asked for from outside."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from venue.errors import readable
from venue.report.tables import safe

from .building import SMALL, Shell, environment


def shell_command(words: str, folder: Path) -> tuple[int, str, str]:
    """Exit code, stdout and stderr of a line for a shell in which `venue` is the command."""
    line = words.replace("venue ", f"'{sys.executable}' -m venue ", 1)
    done = subprocess.run(["bash", "-c", line], cwd=folder, env=environment(), capture_output=True, timeout=120)
    return done.returncode, done.stdout.decode(), done.stderr.decode()


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "small.toml").write_text(SMALL, encoding="utf-8")
    return tmp_path


@pytest.mark.slow
@pytest.mark.parametrize(
    "words, code, err",
    [
        ("venue check --no-run small.toml > /dev/full", 1,
         "venue: cannot be written (No space left on device); make room, or write elsewhere\n"),
        ("venue check --no-run small.toml >&-", 0, ""),
        ("venue check nowhere.toml 2>&-", 2, ""),
        ("venue check nowhere.toml 2> /dev/full", 2, ""),
        ("venue check $'\\xff.toml'", 2, "venue: \\udcff.toml: file: no such file; did you mean small.toml?\n"),
        (f"venue run small.toml --no-store --out {'x' * 300}", 2,
         f"venue: --out {'x' * 300}: cannot be used (File name too long); name another folder\n"),
    ],
)  # fmt: skip
def test_streams_and_names_that_cannot_be_used(folder: Path, words: str, code: int, err: str) -> None:
    assert shell_command(words, folder) == (code, "", err)


@pytest.mark.slow
@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP])
@pytest.mark.parametrize("whole_group", [False, True])
def test_an_end_asked_for_from_outside_tells_what_is_kept(folder: Path, number: int, whole_group: bool) -> None:
    words = ("sweep", "small.toml", "--store", "kept.sqlite", "--replications", "4000", "--workers", "2")
    child = subprocess.Popen(
        [sys.executable, "-m", "venue", *words], cwd=folder, env=environment(), stdout=subprocess.PIPE,
        stderr=subprocess.PIPE, text=True, start_new_session=True,
    )  # fmt: skip
    journal = folder / "kept.sqlite-wal"
    until = time.monotonic() + 60
    while time.monotonic() < until and not (journal.exists() and journal.stat().st_size > 1_000_000):
        time.sleep(0.05)
    (os.killpg if whole_group else os.kill)(child.pid, number)
    out, err = child.communicate(timeout=60)
    assert (child.returncode, out) == (143, "")
    (line,) = err.split("\n")[1:-1]  # the first is that of the terminal's own ^C
    assert line.startswith("venue: stopped; ") and line.endswith("the same command goes on from there")


def test_a_name_in_a_foreign_store_moves_no_cursor(shell: Shell) -> None:
    assert shell("run", "small.toml", "--workers", "1", "--store", "kept.sqlite").code == 0
    import sqlite3

    with sqlite3.connect(shell.folder / "kept.sqlite") as store:
        store.execute("UPDATE study SET venue = ?, source = ?", ("\x1b[2J\x1b]0;owned\x07", "a\u202eb\nc"))
    store.close()
    for words in (("studies",), ("studies", "1"), ("studies", "--full")):
        outcome = shell(*words, "--store", "kept.sqlite")
        assert outcome.code == 0
        assert not set("\x1b\x07\u202e") & set(outcome.out)
        assert r"\x1b[2J" in outcome.out


def test_readable_keeps_letters_of_all_scripts_and_escapes_what_a_terminal_obeys() -> None:
    kept = "Kø 灯台 قاعة 👩\u200d🔧\nnext line"
    assert readable(kept) == kept
    assert readable("a\x1b[2Jb\rc\u2028d\u202ee\x9bf") == r"a\x1b[2Jb\rc\u2028d\u202ee\x9bf"


@pytest.mark.parametrize(
    "cell, shown",
    [("a;=1+1", "a;'=1+1"), ("a; @SUM(A1)", "a; '@SUM(A1)"), ("a\t=1", "a\t'=1"), ("=1;=2", "'=1;'=2"),
     ("a;b", "a;b"), ("3 - 2", "3 - 2"), ("a, -b", "a, -b")],
)  # fmt: skip
def test_no_part_of_a_cell_is_taken_for_a_formula(cell: str, shown: str) -> None:
    assert safe(cell) == shown
