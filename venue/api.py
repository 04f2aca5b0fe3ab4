"""The Python interface: load a scenario, run it, sweep it, look at one title.

    import venue

    scenario = venue.load("scenarios/pier.toml")
    result = venue.run(scenario, seed=1, replications=20)
    result.measures          # a DataFrame: mean, low, high, unit

Everything here is a thin layer over the packages below it.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from venue.contest.watch import Event
from venue.errors import InputError
from venue.scenario.load import Loaded
from venue.scenario.load import load as _load
from venue.study import study
from venue.study.results import RunResult, SweepResult
from venue.study.title import TitleResult, the_title, title_result
from venue.study.title import watch as _watch
from venue.study.workers import Progress

if TYPE_CHECKING:
    from venue.study.tune import Tuned

__all__ = ["load", "run", "solve", "sweep", "title_key", "tune", "watch"]


def load(path: str | Path, changes: Sequence[str] = ()) -> Loaded:
    """Read and check a scenario file.

    Parameters
    ----------
    path
        A TOML file; see `docs/scenario.md`.
    changes
        Texts like "machines.front.price=2", laid over the file and checked like it.

    Raises
    ------
    ScenarioError
        With one line for each thing wrong.
    """
    return _load(path, changes)


def run(
    scenario: Loaded,
    *,
    strength: float | None = None,
    seed: int | None = None,
    replications: int | None = None,
    days: int | None = None,
    workers: int = 1,
    rows: bool = False,
    progress: Progress | None = None,
) -> RunResult:
    """Run a venue at one catch-up strength.

    Parameters
    ----------
    strength, seed, replications, days
        Override the scenario's `study` part.
    workers
        Processes; the numbers do not depend on it. With more than one, a script must guard its top level with
        `if __name__ == "__main__":`, as `multiprocessing` asks.
    rows
        Keep a row for each play and each visit: `result.plays`, `result.visits`.
    progress
        Called with (replications done, in all).
    """
    changed = scenario.change(strength=strength, seed=seed, replications=replications, days=days)
    return study.run(changed, workers=_workers(workers), rows=rows, progress=progress)


def sweep(
    scenario: Loaded,
    *,
    strengths: Sequence[float] = (0.0, 0.5, 1.0, 1.5, 2.0),
    seed: int | None = None,
    replications: int | None = None,
    days: int | None = None,
    workers: int = 1,
    rows: bool = False,
    progress: Progress | None = None,
) -> SweepResult:
    """Run a venue at several catch-up strengths on the same visitors, and recommend one.

    Parameters are those of `run`; `strengths` are 0 (no scalable rule) and up, 1 being the title as designed.
    """
    changed = scenario.change(seed=seed, replications=replications, days=days)
    return study.sweep(changed, strengths, workers=_workers(workers), rows=rows, progress=progress)


def solve(
    scenario: Loaded, title: str | None = None, *, strengths: Sequence[float] = (0.0, 0.5, 1.0, 1.5, 2.0),
    gap: float | None = None,
) -> TitleResult:  # fmt: skip
    """Exact results of one title, no floor: averaged over the skills that the scenario's people bring, or for one gap.

    Parameters
    ----------
    title
        Key of the title; may be left out when there is only one.
    strengths
        Catch-up strengths.
    gap
        Skill of side A less side B, in log-odds; if left out, results are averaged over match-ups.
    """
    return title_result(scenario, title, strengths, gap)


def title_key(scenario: Loaded, title: str | None = None) -> str:
    """The key of a title asked for, or of the only one; `InputError` if there is none such."""
    return the_title(scenario, title)


def watch(scenario: Loaded, title: str | None = None, *, gap: float | None = None) -> list[Event]:
    """One contest of a title played out by chance, from the scenario's seed and at its strength.

    Parameters are those of `solve`; skills are the mean ones unless `gap` is given.
    """
    return _watch(scenario, title, gap)


def tune(
    scenario: Loaded, title: str | None = None, *, reach: str, by: str = "strength", keep: Sequence[str] = (),
    gap: float | None = None,
) -> Tuned:  # fmt: skip
    """Solve for the strength, or for one number of a title, that reaches a result exactly.

    Parameters
    ----------
    reach
        Like "close_finishes=0.6".
    by
        "strength", or the key path of a number in the title, like "rules.undertow.per_point".
    keep
        Bounds that the solution must keep, like "better_side_wins>=0.65".
    gap
        As in `solve`.

    Raises
    ------
    InputError
        If nothing reaches it, with the nearest that can be had.
    """
    from venue.study.tune import read_goal
    from venue.study.tune import tune as solve_for

    bounds = [read_goal(text, target=False) for text in keep]
    return solve_for(scenario, title, read_goal(reach, target=True), by, keep=bounds, gap=gap)


def _workers(workers: int) -> int:
    if workers < 1:
        raise InputError(f"workers = {workers}: must be at least 1; leave it out for one process")
    return workers
