"""The command run in this process or in one of its own, and a scenario small enough for both."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from venue.cli.main import main

ROOT = Path(__file__).parents[2]
SMALL = """
about = "A kiosk with one machine; made to be quick."

[venue]
name = "The Kiosk"
credit_price = 0.5
money = "crowns"

[venue.hours]
every_day = "12:00-16:00"

[venue.arrivals]
per_hour = { "12:00" = { value = 4, from = "measured", note = "counted" } }

[people.skill]
sd = 0.0

[titles.reeds]
label = "Reeds"
periods = 1
period_length = "20 s"
mean_attack = "4 s"

[titles.reeds.attempts.reed]
share = 1.0
points = 1
chance = "50 %"

[titles.reeds.rules.wind]
kind = "slope"
per_point = "3 pp"
cap = 4
switch = "help"

[machines.reeds]
title = "reeds"
price = 1

[machines.nuts]
play_time = "30 s"
price = 1

[study]
days = 4
warm_up = 1
replications = 2
keep_better_side_wins = 0.0
keep_return_28d = 0.0
"""


@dataclass(frozen=True)
class Outcome:
    """What a command left behind."""

    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        """The one JSON object that was printed."""
        assert self.out.count("\n") == 1 and self.out.endswith("\n")
        return json.loads(self.out)


class Shell:
    """Runs commands in this process, in a folder of its own that holds `small.toml`."""

    def __init__(self, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
        self.folder = folder
        self.watched = False  # whether stderr is to pass for a terminal
        self._capsys = capsys
        (folder / "small.toml").write_text(SMALL, encoding="utf-8")

    def __call__(self, *words: str) -> Outcome:
        """The outcome of `venue WORDS`."""
        self._capsys.readouterr()
        with pytest.MonkeyPatch.context() as patch, pytest.raises(SystemExit) as stop:
            if self.watched:
                patch.setattr(sys.stderr, "isatty", lambda: True, raising=False)
                patch.setattr("venue.cli.progress._PATIENCE", 1e9)
            main(words)
        text = self._capsys.readouterr()
        assert isinstance(stop.value.code, int)
        return Outcome(stop.value.code, text.out, text.err)

    def refused(self, *words: str) -> str:
        """The one line on stderr of a command that is refused for bad input, which leaves everything as it was."""
        before = contents(self.folder)
        outcome = self(*words)
        assert (outcome.code, outcome.out) == (2, "")
        assert outcome.err.startswith("venue: ") and outcome.err.count("\n") == 1, outcome.err
        assert outcome.err[:-1].isprintable()
        assert contents(self.folder) == before
        return outcome.err.removeprefix("venue: ").rstrip("\n")


def contents(folder: Path) -> dict[str, bytes]:
    """Everything in a folder."""
    return {str(path): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


def environment(**more: str) -> dict[str, str]:
    """Surroundings of a process: this checkout, no colours, a wide terminal, one thread."""
    return {**os.environ, "PYTHONPATH": str(ROOT), "COLUMNS": "100", "OMP_NUM_THREADS": "1", **more}


def process(*words: str, folder: Path | None = None, code: str | None = None, **more: str) -> Outcome:
    """The outcome of `python -m venue WORDS`, or of a piece of Python, in a process of its own."""
    start = ["-c", code] if code is not None else ["-m", "venue"]
    done = subprocess.run(
        [sys.executable, *start, *words], capture_output=True, cwd=folder, env=environment(**more), timeout=120
    )
    return Outcome(done.returncode, done.stdout.decode("utf-8"), done.stderr.decode("utf-8"))
