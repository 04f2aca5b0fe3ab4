"""Studies of a venue: one strength run in replications, or several on the same visitors."""

from __future__ import annotations

from collections.abc import Sequence
from numbers import Real

from venue.errors import InputError
from venue.scenario.load import Loaded
from venue.study.choose import Floors, choose
from venue.study.point import Point
from venue.study.replicate import Task
from venue.study.results import RunResult, SweepResult
from venue.study.workers import Progress, run_all


def run(loaded: Loaded, *, workers: int = 1, rows: bool = False, progress: Progress | None = None) -> RunResult:
    """Run the venue at the strength its `study` part names."""
    strength = loaded.scenario.study.strength
    return RunResult(loaded, _points(loaded, [strength], workers, rows, progress)[0])


def sweep(
    loaded: Loaded,
    strengths: Sequence[float],
    *,
    workers: int = 1,
    rows: bool = False,
    progress: Progress | None = None,
) -> SweepResult:
    """Run the venue at each strength on the same visitors, and recommend one."""
    check_strengths(strengths)
    points = _points(loaded, strengths, workers, rows, progress)
    study = loaded.scenario.study
    best = choose(points, Floors(study.keep_better_side_wins, study.keep_return_28d), study.seed)
    return SweepResult(loaded, tuple(points), best)


def check_strengths(strengths: Sequence[float]) -> None:
    """Raise `InputError` unless there are strengths, each once and each between 0 and 100."""
    if not strengths:
        raise InputError("strengths: none given, at least 1 is needed; name some, like 0:2:0.25")
    if len(set(strengths)) != len(strengths):
        raise InputError(f"strengths: {', '.join(map(str, strengths))} names one twice; name each once")
    wrong = [value for value in strengths if not isinstance(value, Real) or not 0 <= value <= 100]
    if wrong:
        raise InputError(f"strengths: {wrong[0]} is out of bounds, must lie between 0 and 100; 1 is as designed")


def _points(
    loaded: Loaded, strengths: Sequence[float], workers: int, rows: bool, progress: Progress | None
) -> list[Point]:
    count = loaded.scenario.study.replications
    tasks = [Task(float(strength), number) for strength in strengths for number in range(count)]
    done = run_all(loaded.scenario, tasks, workers=workers, keep_rows=rows, progress=progress)
    return [
        Point(float(strength), tuple(done[index * count : (index + 1) * count]))
        for index, strength in enumerate(strengths)
    ]
