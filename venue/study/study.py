"""Studies of a venue: one setting run in replications, or several on the same visitors."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from venue.errors import InputError
from venue.scenario.load import Loaded
from venue.study.axis import Over, variants_over
from venue.study.before import with_time_before
from venue.study.precision import Goal, gather
from venue.study.ranking_selection import FIRST_STAGE, Assurance, Race, Selection, next_round, rinott_counts
from venue.study.recommendation import allowed_places, assured, choose
from venue.study.requirements import Requirement, Requirements
from venue.study.results import RunResult, SweepResult
from venue.study.series import Execution, Series, Variant
from venue.study.strengths import STRENGTH, check_strengths


def run(
    loaded: Loaded, execution: Execution | None = None, *, only: int | None = None, goal: Goal | None = None
) -> RunResult:
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
    execution = execution or Execution()
    loaded, _ = with_time_before(loaded, execution)
    count = loaded.scenario.study.replications if only is None else 1
    with Series([Variant(loaded)], execution, first=only or 0, kind="run") as series:
        points, reached = gather(series, goal.precisions, start=count, ceiling=goal.at_most)
    return RunResult(loaded.change(replications=len(points[0].replications)), points[0], reached)


def sweep(
    loaded: Loaded,
    over: Sequence[float] | Over,
    execution: Execution | None = None,
    *,
    goal: Goal | None = None,
    keep: Sequence[Requirement] = (),
    assurance: Assurance | None = None,
    worth: float | None = None,
) -> SweepResult:
    """Run the venue in several settings on the same visitors, and recommend one.

    Parameters
    ----------
    over
        Catch-up strengths, or values by key path of one or two keys.
    goal
        How precise every setting must be, if that is what ends it.
    keep
        What a recommended setting must keep beyond the requirements of the scenario.
    assurance
        How sure the choice must be, if that is what ends it.
    worth
        A difference that is worth having; a hundredth of what the recommended setting earns if unsaid.

    Raises
    ------
    InputError
        If both a precision and an assurance are to end it.
    """
    goal, execution = goal or Goal(), execution or Execution()
    loaded, _ = with_time_before(loaded, execution)
    variants = _variants(loaded, over)
    today = next((place for place, item in enumerate(variants) if item.loaded.scenario == loaded.scenario), None)
    if goal.precisions and assurance is not None:
        raise InputError("--sure: a study ends by --precision or by --sure; leave one of them out")
    loaded, others = _requirements_of(loaded, keep)
    study = loaded.scenario.study
    requirements = Requirements.of(study, others)
    if assurance is not None:
        return _selected(loaded, variants, execution, requirements, assurance, today)
    with Series(variants, execution, kind="sweep") as series:
        points, reached = gather(series, goal.precisions, start=study.replications, ceiling=goal.at_most)
    loaded = loaded.change(replications=len(points[0].replications))
    return SweepResult(
        loaded, tuple(points), choose(points, requirements, study.seed, aim=study.maximise, worth=worth),
        others, reached, stands_at=today,
    )  # fmt: skip


def _requirements_of(loaded: Loaded, keep: Sequence[Requirement]) -> tuple[Loaded, tuple[Requirement, ...]]:
    """The scenario with those bounds that it has keys for, and the others."""
    names = {"better_side_wins": "keep_better_side_wins", "return_28d": "keep_return_28d"}
    own = [item for item in keep if item.measure in names and not item.most]
    for item in own:
        if not 0 <= item.bound <= 1:
            raise InputError(f"--keep {item.measure}>={item.bound:g}: must lie between 0 and 1, being a share")
    changed = loaded.change(**{names[item.measure]: item.bound for item in own})
    return changed, tuple(item for item in keep if item not in own)


def _selected(
    loaded: Loaded, variants: Sequence[Variant], execution: Execution, requirements: Requirements, assurance: Assurance,
    today: int | None,
) -> SweepResult:  # fmt: skip
    """Settings dropped one by one until the best is left, or the most replications are reached."""
    study = loaded.scenario.study
    start = max(FIRST_STAGE, study.replications)
    if assurance.at_most < start:
        raise InputError(f"--at-most {assurance.at_most}: must be at least {start}, where --sure begins; allow more")
    counts = [start] * len(variants)
    with Series(variants, execution, kind="sweep") as series:
        series.watched = lambda points: ""  # the observer shows how many settings are left
        series.reach(counts)
        points = series.points()
        candidates = allowed_places(points, requirements)
        first = np.array([points[place].values("credits_per_hour") for place in candidates])
        race = Race(first, assurance.sure, assurance.worth) if len(candidates) else None
        count = start
        while race is not None and len(race.left) > 1 and count < assurance.at_most:
            race.drop([float(np.mean(points[place].values("credits_per_hour"))) for place in candidates], count)
            if len(race.left) > 1:
                count = next_round(count, assurance.at_most)
                for place in race.left:
                    counts[candidates[place]] = count
                series.say_reached(f"{len(race.left)} settings left")
                series.reach(counts)
                points = series.points()
    best, chosen = choose(points, requirements, study.seed), None
    if race is not None:
        left = [candidates[place] for place in race.left]
        chosen = max(left, key=lambda place: float(np.mean(points[place].values("credits_per_hour"))))
    finished = race is not None and len(race.left) == 1
    rinott = tuple(rinott_counts(first, assurance.sure, assurance.worth)) if race is not None else ()
    selection = Selection(assurance, chosen, tuple(candidates), finished, tuple(counts), rinott)
    if chosen is not None and finished:
        best = assured(points, best, selection)
    loaded = loaded.change(replications=max(counts))
    return SweepResult(loaded, tuple(points), best, requirements.others, (), selection, today)


def _variants(loaded: Loaded, over: Sequence[float] | Over) -> list[Variant]:
    """The settings, all of which begin in the venue as it is today."""
    return [replace(variant, today=loaded.scenario) for variant in _settings(loaded, over)]


def _settings(loaded: Loaded, over: Sequence[float] | Over) -> list[Variant]:
    if not isinstance(over, Sequence):
        if set(over) != {STRENGTH}:
            return variants_over(loaded, over)
        over = over[STRENGTH]
    check_strengths(over)
    return [Variant(loaded.change(strength=float(strength))) for strength in over]
