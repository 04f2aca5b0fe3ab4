"""What only a process of its own shows: imports, pipes, a terminal, Ctrl-C, the encoding of the surroundings."""

from __future__ import annotations

import contextlib
import os
import pty
import re
import select
import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path

import pytest

from .building import SMALL, Shell, contents, environment, process

HEAVY = ("numpy", "pandas", "scipy", "matplotlib", "pydantic", "simpy", "threadpoolctl", "tomli_w")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with the small scenario."""
    (tmp_path / "small.toml").write_text(SMALL, encoding="utf-8")
    return tmp_path


def test_help_and_version_import_nothing_heavy() -> None:
    code = (
        "import sys\nfrom venue.cli.main import main\n"
        "for words in (['--help'], ['--version'], ['sweep', '--help'], ['run', '--help'], []):\n"
        "    try:\n        main(words)\n    except SystemExit as stop:\n        assert stop.code == 0\n"
        f"print('heavy:', [name for name in {HEAVY!r} if name in sys.modules])"
    )
    outcome = process(code=code)
    assert outcome.code == 0, outcome.err
    assert outcome.out.endswith("heavy: []\n")


def test_json_alone_from_two_workers_and_the_same_from_one(shell: Shell) -> None:
    words = ("run", "small.toml", "--json", "--workers")
    one, two = shell(*words, "1"), process(*words, "2", folder=shell.folder)
    assert (one.code, one.err) == (two.code, two.err) == (0, "")
    assert one.json == two.json


def test_a_terminal_that_does_not_know_every_letter(folder: Path) -> None:
    (folder / "small.toml").write_text(SMALL.replace("The Kiosk", "Kiosk 灯"), encoding="utf-8")
    outcome = process("check", "small.toml", folder=folder, PYTHONIOENCODING="latin-1", PYTHONUTF8="0")
    assert (outcome.code, outcome.err) == (0, "")
    assert r"Kiosk \u706f" in outcome.out


def test_a_reader_that_goes_away_sees_no_traceback(folder: Path) -> None:
    """`python -m venue` is the command, and its reader takes one line."""
    command = f"'{sys.executable}' -m venue check small.toml | head -n 1"
    done = subprocess.run(
        ["bash", "-c", command], cwd=folder, env=environment(), capture_output=True, text=True, timeout=60
    )
    assert done.stdout == "small.toml: sound\n"
    assert done.stderr == ""


IMPATIENT = "import venue.cli.progress as p; p._PATIENCE = 0.01; from venue.cli.main import main; main()"


def on_terminal(
    *words: str, folder: Path, start: Sequence[str] = ("-m", "venue"), stop_at: str | None = None
) -> tuple[int, str, str]:  # fmt: skip
    """Exit code, stdout and what a terminal on stderr saw; Ctrl-C as soon as it has seen `stop_at`."""
    ours, theirs = pty.openpty()
    child = subprocess.Popen(
        [sys.executable, *start, *words], cwd=folder, env=environment(), stdout=subprocess.PIPE, stderr=theirs,
        start_new_session=True,
    )  # fmt: skip
    os.close(theirs)
    seen = b""
    until = time.monotonic() + 90
    while time.monotonic() < until:
        ready, _, _ = select.select([ours], [], [], 0.1)
        try:
            seen += os.read(ours, 65536) if ready else b""
        except OSError:  # the other end is closed
            break
        if stop_at is not None and stop_at.encode() in seen:
            os.killpg(child.pid, signal.SIGINT)
            stop_at = None
    try:
        out, _ = child.communicate(timeout=30)
    finally:
        os.close(ours)
        with contextlib.suppress(ProcessLookupError):  # whatever is left of the group would go on for an hour
            os.killpg(child.pid, signal.SIGKILL)
    return child.returncode, out.decode(), seen.decode()


LONG = ("sweep", "small.toml", "--strengths", "0:2:0.05", "--replications", "200", "--out", "out")


@pytest.mark.parametrize("workers", ["1", "2"])
def test_ctrl_c_at_a_terminal(folder: Path, workers: str) -> None:
    """The bar is up, Ctrl-C reaches all of the group: 130, one line, nothing left running or written."""
    before = contents(folder)
    start = ("-m", "venue") if workers == "2" else ("-c", IMPATIENT)
    code, out, seen = on_terminal(*LONG, "--workers", workers, folder=folder, start=start, stop_at=" left [")
    assert code == 130
    assert out == ""
    assert "replications " in seen and "Traceback" not in seen
    assert re.search(
        r"venue: stopped; nothing is kept of \d+ replications; with --store FILE the same command would go on\n$",
        seen.replace("\r", ""),
    )
    assert contents(folder) == before and not (folder / "out").exists()
    assert not left_running(folder)


def left_running(folder: Path) -> list[str]:
    """Processes still at work in a folder, after a moment to end."""
    for _ in range(50):
        found = []
        for process_folder in Path("/proc").glob("[0-9]*"):
            try:
                here = (process_folder / "cwd").readlink() == folder
                dead = "State:\tZ" in (process_folder / "status").read_text()
            except OSError:
                continue
            if here and not dead:
                found.append(process_folder.name)
        if not found:
            return []
        time.sleep(0.1)
    return found


def test_a_bar_is_drawn_and_taken_away(folder: Path) -> None:
    """As it is drawn after a second (the tests of Ctrl-C wait for that), but of a run that is over sooner."""
    words = ("run", "small.toml", "--replications", "40", "--workers", "1")
    code, out, seen = on_terminal(*words, folder=folder, start=("-c", IMPATIENT))
    assert code == 0 and "The Kiosk" in out
    drawn = [part for part in seen.split("\r\x1b[K") if part.startswith("replications ")]
    assert drawn and all("/40, " in part and part.endswith("]") for part in drawn)
    # The last of the bar is wiped; what stays is the word on how to go on.
    assert seen.endswith("\r\x1b[Knext: venue sweep small.toml\r\n")


def test_no_bar_when_quiet(folder: Path) -> None:
    assert on_terminal("run", "small.toml", "--workers", "1", "--quiet", folder=folder)[2] == ""


def test_ctrl_c_says_what_is_kept_and_the_same_command_goes_on(folder: Path) -> None:
    words = ("run", "small.toml", "--replications", "600", "--store", "kept.sqlite", "--workers", "2")
    code, out, seen = on_terminal(*words, folder=folder, stop_at=" left [")
    assert (code, out) == (130, "")
    last = seen.replace("\r", "").rstrip("\n").split("\n")[-1]
    found = re.search(
        r"venue: stopped; (\d+) of 600 replications are kept in kept.sqlite; the same command goes on", last
    )
    assert found and int(found[1]) > 0 and "Traceback" not in seen
    listed = process("studies", "--store", "kept.sqlite", "--json", folder=folder).json["studies"]
    # One more if Ctrl-C struck between keeping it and counting it.
    assert [item["wanted"] for item in listed] == [600]
    assert listed[0]["replications"] - int(found[1]) in (0, 1)
    assert not left_running(folder)
