"""Studies killed at random moments and resumed, over and over: the same bits in the end.

    python -m tests.faults.soak --kills 200

A command is killed with SIGKILL, goes on with the same store until it is killed again, and its last JSON is compared
with that of a run that nobody killed.
"""

from __future__ import annotations

import argparse
import random
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from tests.cli.building import SMALL, environment

COMMANDS = {
    "run": ("run", "small.toml", "--replications", "60"),
    "sweep": ("sweep", "small.toml", "--strengths", "0,1,2", "--replications", "20"),
    "compare": ("compare", "small.toml", "--set", "machines.nuts.price=2", "--replications", "30"),
}


def command(name: str, folder: Path, store: str) -> subprocess.Popen[str]:
    """The command begun, its JSON on stdout."""
    return subprocess.Popen(
        [sys.executable, "-m", "venue", *COMMANDS[name], "--workers", "2", "--json", "--store", store], cwd=folder,
        env=environment(), stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip


def soak(name: str, kills: int, draw: random.Random) -> int:
    """Kill a command so often, beginning anew whenever it comes to its end; how many ends were the same.

    Raises
    ------
    AssertionError
        If an end is another than that of the command left alone.
    """
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        (folder / "small.toml").write_text(SMALL, encoding="utf-8")
        began = time.monotonic()
        expected, said = command(name, folder, "alone.sqlite").communicate()
        assert expected, said
        lasts, ends, study = time.monotonic() - began, 0, 0
        while kills > 0 or ends == 0:
            child = command(name, folder, f"{study}.sqlite")
            try:
                out, said = child.communicate(timeout=draw.uniform(0.3, 1.2) * lasts if kills > 0 else None)
            except subprocess.TimeoutExpired:
                child.kill()
                child.communicate()
                kills -= 1
                continue
            assert out == expected, (name, said[-2000:])
            ends, study = ends + 1, study + 1
        return ends


def main() -> None:
    """Share the kills among the commands, and say what came of them."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    for name in COMMANDS:
        kills = -(-given.kills // len(COMMANDS))
        ends = soak(name, kills, random.Random(f"{given.seed} {name}"))
        print(f"{name}: killed {kills} times, came to its end {ends} times, each with the same bits")


if __name__ == "__main__":
    main()
