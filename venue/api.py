"""The Python interface: load a scenario, run it, sweep it, look at one title.

    import venue

    scenario = venue.load("scenarios/pier.toml")
    result = venue.run(scenario, seed=1, replications=20)
    result.measures          # a DataFrame: mean, low, high, unit

Everything here is a thin layer over the packages below it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from venue.contest.watch import Event
from venue.errors import InputError
from venue.report import notebook as _notebook  # noqa: F401 - with it loaded, results show themselves in a notebook
from venue.scenario.load import Loaded
from venue.scenario.load import load as _load
from venue.study import compare as study_compare
from venue.study import sensitivity as study_sensitivity
from venue.study import study
from venue.study.axis import Over
from venue.study.compare import CompareResult, names_of
from venue.study.line_ups import Against
from venue.study.observer import Observer, Progress, Told
from venue.study.precision import CEILING, Goal, precisions_of
from venue.study.ranking_selection import Assurance, check_worth
from venue.study.requirements import requirements_of
from venue.study.results import RunResult, SweepResult
from venue.study.sensitivity import Plan, SensitivityResult
from venue.study.series import Execution
from venue.study.title import TitleResult, title_result
from venue.study.title import watch as _watch

if TYPE_CHECKING:
    from venue.study.design_front import DesignFront
    from venue.study.redesign import Redesign
    from venue.study.situation import SituationResult
    from venue.study.tune import Tuned

__all__ = ["compare", "design_front", "inspect", "load", "redesign", "run", "sensitivity", "solve", "sweep", "tune",
           "watch"]  # fmt: skip


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
    precision: Mapping[str, str | float] | None = None,
    at_most: int = CEILING,
    workers: int = 1,
    cluster: str | None = None,
    rows: bool = False,
    store: str | Path | None = None,
    progress: Progress | Observer | bool | None = None,
    only: int | None = None,
) -> RunResult:
    """Run a venue at one catch-up strength.

    Parameters
    ----------
    strength, seed, replications, days
        Override the scenario's `study` part.
    precision
        Half-widths by measure, a number in its unit or a text like "1%" of its mean: replications are added until every
        interval is that narrow, beginning with ten or `replications` if that is more.
    at_most
        Replications at which to stop although a precision is not reached.
    workers
        Processes; the numbers do not depend on it. With more than one, a script must guard its top level with
        `if __name__ == "__main__":`, as `multiprocessing` asks.
    cluster
        Address of a Dask scheduler, like "10.0.0.5:8786", whose workers run the replications instead; see
        `docs/scale.md`. The numbers are the same.
    rows
        Keep a row for each play, visit and offer: `result.plays`, `result.visits`, `result.offers`.
    store
        A file that keeps every finished replication; what it has of this study is not run again. Rows are not kept.
    progress
        True for a bar, which works in a notebook too; or a function that is called with (replications done, in all).
    only
        Number of one replication to run alone, the first being 0; what it does never depends on the others.
    """
    changed = scenario.change(strength=strength, seed=seed, replications=replications, days=days)
    means = _means(workers, cluster, rows, store, progress)
    return study.run(changed, means, only=only, goal=_goal(precision, at_most))


def sweep(
    scenario: Loaded,
    *,
    strengths: Sequence[float] = (0.0, 0.5, 1.0, 1.5, 2.0),
    over: Over | None = None,
    keep: Sequence[str] = (),
    sure: float | None = None,
    worth: float | None = None,
    seed: int | None = None,
    replications: int | None = None,
    days: int | None = None,
    precision: Mapping[str, str | float] | None = None,
    at_most: int = CEILING,
    workers: int = 1,
    cluster: str | None = None,
    rows: bool = False,
    store: str | Path | None = None,
    progress: Progress | Observer | bool | None = None,
) -> SweepResult:
    """Run a venue in several settings on the same visitors, and recommend one.

    Parameters are those of `run`, and:

    Parameters
    ----------
    strengths
        Catch-up strengths: 0 (no scalable rule) and up, 1 being the title as designed.
    over
        Instead of strengths: values by key path, of one key or two, like `{"machines.front.price": [1, 2],
        "strength": [0, 1]}`.
    keep
        What a recommended setting must keep, like "better_side_wins>=0.65" or "empty_wallets<=0.4"; those that the
        scenario names as well are overridden.
    sure, worth
        Run on until the best setting is known with this chance, differences below `worth` (1 if left out) counting as
        none. Without `sure`, what a choice gives up is held against `worth` (if left out, a hundredth).
    """
    changed = scenario.change(seed=seed, replications=replications, days=days)
    means = _means(workers, cluster, rows, store, progress)
    assurance = None if sure is None else Assurance(sure, 1.0 if worth is None else worth, at_most)
    if worth is not None:
        check_worth(worth)
    swept = strengths if over is None else over
    goal = _goal(precision, at_most)
    return study.sweep(changed, swept, means, keep=requirements_of(keep), assurance=assurance, goal=goal, worth=worth)


def compare(
    base: Loaded,
    *others: Loaded | str | Sequence[str],
    names: Sequence[str] | None = None,
    seed: int | None = None,
    replications: int | None = None,
    days: int | None = None,
    precision: Mapping[str, str | float] | None = None,
    at_most: int = CEILING,
    workers: int = 1,
    cluster: str | None = None,
    store: str | Path | None = None,
    progress: Progress | Observer | bool | None = None,
) -> CompareResult:
    """Run scenarios on the same visitors; differences from the first, for every measure, with paired intervals.

    Parameters are those of `run`, and:

    Parameters
    ----------
    others
        Scenarios, or changes of the first one, as `load` takes them.
    names
        What the scenarios are called, the first one among them; their files or changes if left out.
    """
    changed = base.change(seed=seed, replications=replications, days=days)
    variants = [changed]
    for other in others:
        changes = [other] if isinstance(other, str) else other
        variants.append(changes if isinstance(changes, Loaded) else changed.vary(changes))
    if names is not None and len(names) != len(variants):
        raise InputError(f"names: there are {len(names)} for {len(variants)} scenarios; give one each")
    goal = _goal(precision, at_most)
    return study_compare.compare(
        variants, names or names_of(variants), _means(workers, cluster, False, store, progress), goal=goal
    )


def sensitivity(
    scenario: Loaded,
    measure: str = "credits_per_hour",
    *,
    keys: Sequence[str] = (),
    spread: float | None = None,
    trajectories: int = 4,
    shares: int = 4,
    samples: int = 32,
    strength: float | None = None,
    seed: int | None = None,
    replications: int = 1,
    days: int | None = None,
    workers: int = 1,
    cluster: str | None = None,
    store: str | Path | None = None,
    progress: Progress | Observer | bool | None = None,
) -> SensitivityResult:
    """Which numbers of a scenario a measure depends on: elementary effects of all, variance shares of the foremost.

    Parameters are those of `run`, and:

    Parameters
    ----------
    measure
        What the numbers are ranked by; the effects on every other measure come along.
    keys
        Only numbers whose key path begins like one of these.
    spread
        How far each number is moved, as a share of itself; by its origin if left out.
    trajectories
        Times that every number is moved once.
    shares
        How many of the foremost numbers to share the variance out over; 0 for none.
    samples
        Points for the shares; each takes `shares` + 2 runs. A power of 2.
    """
    changed = scenario.change(strength=strength, seed=seed, replications=replications, days=days)
    plan = Plan(measure, tuple(keys), spread, trajectories, shares, samples)
    return study_sensitivity.sensitivity(changed, plan, _means(workers, cluster, False, store, progress))


def solve(
    scenario: Loaded, title: str | None = None, *, strengths: Sequence[float] = (0.0, 0.5, 1.0, 1.5, 2.0),
    gap: float | None = None, opponent: str | None = None, difficulty: str | None = None,
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
    opponent
        "computer", "visitor" or "two a side"; if left out, who sits opposite when the seats of the first machines that
        play it are full.
    difficulty
        One of the title's difficulties; the machines' own if left out.
    """
    return title_result(scenario, title, strengths, Against(gap, opponent, difficulty))


def watch(
    scenario: Loaded,
    title: str | None = None,
    *,
    gap: float | None = None,
    opponent: str | None = None,
    difficulty: str | None = None,
) -> list[Event]:
    """One contest of a title played out by chance, from the scenario's seed and at its strength.

    Parameters are those of `solve`; skills are the mean ones unless `gap` is given.
    """
    return _watch(scenario, title, Against(gap, opponent, difficulty))


def inspect(
    scenario: Loaded,
    title: str | None = None,
    *,
    at: str,
    gap: float | None = None,
    opponent: str | None = None,
    difficulty: str | None = None,
) -> SituationResult:
    """Every chance in one situation of a title, each rule's part in it, and why.

    Parameters
    ----------
    at
        Like "period=4, left=5 s, margin=-2, run=0, missed=3", as the side on the attack sees it (A, or `side=B`).
    gap, opponent, difficulty
        As in `solve`; the mean one if left out.

    Raises
    ------
    InputError
        If the text names no situation of this title.
    """
    from venue.study.situation import situation_result

    return situation_result(scenario, title, at, Against(gap, opponent, difficulty))


def tune(
    scenario: Loaded, title: str | None = None, *, reach: str, by: str = "strength", keep: Sequence[str] = (),
    gap: float | None = None, opponent: str | None = None, difficulty: str | None = None,
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
    gap, opponent, difficulty
        As in `solve`.

    Raises
    ------
    InputError
        If nothing reaches it, with the nearest that can be had.
    """
    from venue.study.tune import read_bounds, read_target
    from venue.study.tune import tune as solve_for

    return solve_for(
        scenario, title, read_target(reach), by, keep=read_bounds(keep), against=Against(gap, opponent, difficulty)
    )


def redesign(
    scenario: Loaded, title: str | None = None, *, reach: Sequence[str], by: Sequence[str] = ("strength",),
    keep: Sequence[str] = (), between: Sequence[str] = (), gap: float | None = None,
    opponent: str | None = None, difficulty: str | None = None,
    progress: Progress | Observer | bool | None = None,
) -> Redesign:  # fmt: skip
    """The least change of several numbers of a title that reaches several results; or the best compromise.

    Parameters
    ----------
    reach
        Like `["close_finishes=0.6", "effective.heave=25 %"]`: headline results, how often an attempt goes in
        (`effective.ATTEMPT`, or of one side `effective.ATTEMPT.A`), or `holding_back`, what missing on purpose gains.
    by
        "strength" and key paths of numbers in the title.
    keep
        Bounds on the same, like "better_side_wins>=0.65" or "holding_back<=0.5 %".
    between
        What numbers may be, like "rules.undertow.per_point=0:0.05"; within about four times their size if unsaid.
    gap, opponent, difficulty, progress
        As in `solve` and `run`.
    """
    from venue.study import redesign as study_redesign
    from venue.study.registry import TITLE_MEASURES
    from venue.study.title import the_title
    from venue.study.title_figures import aims_of

    design = scenario.scenario.titles[the_title(scenario, title)]
    return study_redesign.redesign(
        scenario, title, aims_of(design, reach, "--reach"), by, keep=aims_of(design, keep, "--keep"), between=between,
        against=Against(gap, opponent, difficulty), observer=_onlooker(progress), shown=tuple(TITLE_MEASURES),
    )  # fmt: skip


def design_front(
    scenario: Loaded, title: str | None = None, *, more: Sequence[str] = (), less: Sequence[str] = (),
    by: Sequence[str] = ("strength",), keep: Sequence[str] = (), between: Sequence[str] = (), gap: float | None = None,
    opponent: str | None = None, difficulty: str | None = None,
    progress: Progress | Observer | bool | None = None,
) -> DesignFront:  # fmt: skip
    """Designs of which none is better in both of two results.

    Parameters
    ----------
    more, less
        Two results in all, of which more or less is better; named as in `redesign`.
    by, keep, between, gap, opponent, difficulty, progress
        As in `redesign`.
    """
    from venue.study import design_front as study_front
    from venue.study.title import the_title
    from venue.study.title_figures import aims_of, figure_name

    design = scenario.scenario.titles[the_title(scenario, title)]
    wishes = [study_front.Wish(figure_name(design, name, f"--{'more' if up else 'less'}"), up)
              for up, names in ((True, more), (False, less)) for name in names]  # fmt: skip
    return study_front.design_front(
        scenario, title, wishes, by, keep=aims_of(design, keep, "--keep"), between=between,
        against=Against(gap, opponent, difficulty),
        observer=_onlooker(progress),
    )  # fmt: skip


def _goal(precision: Mapping[str, str | float] | None, at_most: int) -> Goal:
    return Goal(precisions_of(precision or {}), at_most)


def _means(
    workers: int, cluster: str | None, rows: bool, store: str | Path | None, progress: Progress | Observer | bool | None
) -> Execution:
    if workers < 1:
        raise InputError(f"workers = {workers}: must be at least 1; leave it out for one process")
    if cluster is not None and workers != 1:
        raise InputError(f"workers = {workers}: a cluster has its own; leave out workers or cluster")
    return Execution(workers, rows, None if store is None else Path(store), _onlooker(progress), cluster)


def _onlooker(progress: Progress | Observer | bool | None) -> Observer:
    if isinstance(progress, Observer):
        return progress
    if not isinstance(progress, bool):
        return Observer() if progress is None else Told(progress)
    from venue.cli.progress import bar

    return bar("replications") if progress else Observer()
