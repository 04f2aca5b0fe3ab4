"""Put sampled faults into the code and count those that the tests see."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

import click

from .lines import FOLDERS, TARGET, Lines
from .mutants import Mutant, sampled
from .trial import CHOICE, KILLED, NOT_RUN, SURVIVED, TIMED_OUT, copied, fate, passes, warm

ROOT = Path(__file__).parents[2]


def collect(target: Path, tests: tuple[str, ...]) -> None:
    """One run of the suite under coverage."""
    command = [sys.executable, "-m", "pytest", "-p", "tests.mutation.lines", "-p", "no:xdist", "-o", "addopts="]
    subprocess.run(
        [*command, "-q", "--tb=line", *CHOICE, *tests], cwd=ROOT, env=os.environ | {TARGET: str(target)}, check=False
    )


def described(one: Mutant) -> str:
    before, after = (" ".join(text.split()) for text in (one.before, one.after))
    return f"{one.path}:{one.line}: {one.kind}: {before}  ->  {after}"


@click.command()
@click.option("--sample", default=200, show_default=True, help="How many faults, spread over the folders.")
@click.option("--seed", default=1, show_default=True, help="Which are drawn.")
@click.option("--folder", "folders", multiple=True, type=click.Choice(FOLDERS), help="Only these folders.")
@click.option("--lines", "cache", type=click.Path(path_type=Path), help="Where to keep which tests run which lines.")
@click.option("--tests", multiple=True, help="Only these tests or folders of tests.")
@click.option("--seconds", default=40.0, show_default=True, help="Most seconds of tests a fault.")
@click.option("--survivors", type=click.Path(path_type=Path), help="Where to write the survivors.")
def main(
    sample: int,
    seed: int,
    folders: tuple[str, ...],
    cache: Path | None,
    tests: tuple[str, ...],
    seconds: float,
    survivors: Path | None,
) -> None:
    """Sample faults, run the tests of their lines, and write those that survive to standard output."""
    with tempfile.TemporaryDirectory(prefix="venue-mutation-") as folder:
        cache = cache or Path(folder) / "lines.json"
        if not cache.exists():
            collect(cache.resolve(), tests)
        lines = Lines.read(cache)
        tree = copied(ROOT, Path(folder) / "tree")
        warm()
        quick = sorted(lines.seconds, key=lambda test: lines.seconds[test])[:20]
        if not passes(tree, quick, 120.0):
            raise click.ClickException("tests fail in the copy before any fault is put into it")
        counts: Counter[str] = Counter()
        left: list[str] = []
        chosen = sampled(ROOT, list(folders) or FOLDERS, sample, seed)
        for number, one in enumerate(chosen, 1):
            begun = time.monotonic()
            found = fate(tree, one, lines, seconds)
            counts[found] += 1
            click.echo(f"{number}/{len(chosen)} {found}, {time.monotonic() - begun:.1f} s: {described(one)}", err=True)
            if found in (SURVIVED, NOT_RUN):
                left.append(f"{found}: {described(one)}")
    if survivors:
        survivors.write_text("".join(f"{line}\n" for line in left), encoding="utf-8")
    for line in left:
        click.echo(line)
    seen = counts[KILLED] + counts[TIMED_OUT]
    click.echo(", ".join(f"{number} {name}" for name, number in counts.items()))
    click.echo(f"{seen} of {len(chosen)} seen ({seen / max(1, len(chosen)):.1%}), seed {seed}")


if __name__ == "__main__":
    main()
