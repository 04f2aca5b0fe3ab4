"""Studies of a venue: one setting run in replications, or several on the same visitors."""

from __future__ import annotations

from collections.abc import Sequence
from numbers import Real

from venue.errors import InputError
from venue.scenario.load import Loaded
from venue.study.axis import STRENGTH, Over, variants_over
from venue.study.choose import choose
from venue.study.floors import Floors, Keep
from venue.study.precision import Goal, gather
from venue.study.results import RunResult, SweepResult
from venue.study.series import Means, Series, Variant


def run(loaded: Loaded, means: Means | None = None, *, only: int | None = None, goal: Goal | None = None) -> RunResult:
    """Run the venue at the strength its `study` part names.

    Parameters
    ----------
    only
        Number of the one replication to run; all that the scenario asks for if left out.
    goal
        How precise it must be, if that is what ends it.
    """
    goal = goal or Goal()
    if only is not None and goal.precisions:
        raise InputError("--only: runs one replication alone, which has no precision; leave --precision out")
    count = loaded.scenario.study.replications if only is None else 1
    with Series([Variant(loaded)], means or Means(), first=only or 0, kind="run") as series:
        points, reached = gather(series, goal.precisions, start=count, ceiling=goal.at_most)
    return RunResult(loaded.change(replications=len(points[0].replications)), points[0], reached)


def sweep(
    loaded: Loaded,
    over: Sequence[float] | Over,
    means: Means | None = None,
    *,
    goal: Goal | None = None,
    keep: Sequence[Keep] = (),
) -> SweepResult:
    """Run the venue in several settings on the same visitors, and recommend one.

    Parameters
    ----------
    over
        Catch-up strengths, or values by key path of one or two keys.
    goal
        How precise every setting must be, if that is what ends it.
    keep
        What a recommended setting must keep beside the floors of the scenario.
    """
    goal = goal or Goal()
    variants = _variants(loaded, over)
    study = loaded.scenario.study
    floors = Floors(study.keep_better_side_wins, study.keep_return_28d, tuple(keep))
    with Series(variants, means or Means(), kind="sweep") as series:
        points, reached = gather(series, goal.precisions, start=study.replications, ceiling=goal.at_most)
    loaded = loaded.change(replications=len(points[0].replications))
    return SweepResult(loaded, tuple(points), choose(points, floors, study.seed), tuple(keep), reached)


def _variants(loaded: Loaded, over: Sequence[float] | Over) -> list[Variant]:
    if not isinstance(over, Sequence):
        if set(over) != {STRENGTH}:
            return variants_over(loaded, over)
        over = over[STRENGTH]
    check_strengths(over)
    return [Variant(loaded.change(strength=float(strength))) for strength in over]


def check_strengths(strengths: Sequence[float]) -> None:
    """Raise `InputError` unless there are strengths, each once and each between 0 and 100."""
    if not strengths:
        raise InputError("strengths: none given, at least 1 is needed; name some, like 0:2:0.25")
    if len(set(strengths)) != len(strengths):
        raise InputError(f"strengths: {', '.join(map(str, strengths))} names one twice; name each once")
    wrong = [value for value in strengths if not isinstance(value, Real) or not 0 <= value <= 100]
    if wrong:
        raise InputError(f"strengths: {wrong[0]} is out of bounds, must lie between 0 and 100; 1 is as designed")
