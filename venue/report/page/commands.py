"""Commands for a terminal: the one that reproduces a result, and those that could come next."""

from __future__ import annotations

import shlex
from collections.abc import Sequence

from venue.report.folder import SCENARIO
from venue.report.page.reading import Study
from venue.report.page.record import Record
from venue.report.sentences.settling import longer as more_days
from venue.study.floor_records import CompareRecord, RunRecord, SensitivityRecord, SweepRecord
from venue.study.point import Place, Value, value_of
from venue.study.title_records import ContestRecord
from venue.units import plain

Floored = RunRecord | SweepRecord | CompareRecord | SensitivityRecord
"""Results that a floor was run for."""


def reproduce(study: Study) -> str:
    """The command that gives the same figures from the resolved scenario."""
    return _line([study.record.kind, SCENARIO, *_options(study)])


def _line(words: Sequence[str]) -> str:
    return shlex.join(["venue", *words])


def _options(study: Study) -> list[str]:
    data = study.record.data
    if isinstance(data, SweepRecord):
        return _sweep(study, data)
    if isinstance(data, CompareRecord):
        return _compare(data)
    if isinstance(data, ContestRecord):
        return _contest(data)
    measure = ["--measure", data.measure] if isinstance(data, SensitivityRecord) else []
    return [*measure, *_strength(data.strength), *_size(data)]


def _sweep(study: Study, data: SweepRecord) -> list[str]:
    words = swept(study, [item.at for item in study.settings])
    scenario = study.record.loaded.scenario.study
    own = {"better_side_wins": scenario.keep_better_side_wins, "return_28d": scenario.keep_return_28d}
    for name, bound in data.requirements.items():
        if isinstance(bound, dict):
            words += [word for key, most in bound.items() for word in ("--keep", f"{key}<={plain(most)}")]
        elif own.get(name) != bound:
            words += ["--keep", f"{name}>={plain(bound)}"]
    if data.selection is None:
        return words + _size(data)
    start = ["--replications", str(scenario.replications)]
    sure = ["--sure", plain(data.selection.sure), "--worth", plain(data.selection.worth)]
    return [*words, *start, *sure, *_seed(data)]


def swept(study: Study, settings: Sequence[Place]) -> list[str]:
    """Options that name settings: `--strengths 0,0.5`, or `--over KEY=VALUES` for each key."""
    if study.keys == ("strength",):
        return ["--strengths", ",".join(in_full(item[0][1]) for item in settings)]
    words = []
    for place, key in enumerate(study.keys):
        values = dict.fromkeys(item[place][1] for item in settings)
        words += ["--over", f"{key}={','.join(in_full(value) for value in values)}"]
    return words


def in_full(value: Value) -> str:
    """A value as options take it."""
    return value_of(value) if isinstance(value, str) else plain(value)


def at(place: Place) -> list[str]:
    """Options that set one setting."""
    words = []
    for key, value in place:
        words += ["--strength", in_full(value)] if key == "strength" else ["--set", f"{key}={in_full(value)}"]
    return words


def _compare(data: CompareRecord) -> list[str]:
    words: list[str] = []
    base = data.scenarios[0]
    for item in data.scenarios[1:]:
        changes = item.changes[len(base.changes) :] if item.scenario == base.scenario else None
        words += ["--set", "; ".join(changes)] if changes else [item.scenario]
    return words + _size(data)


def _contest(data: ContestRecord) -> list[str]:
    words = ["--title", data.title, "--strengths", ",".join(plain(item.strength) for item in data.points)]
    return words + (["--gap", plain(data.match_ups.mean)] if data.match_ups.sd == 0.0 else [])


def _strength(strength: float) -> list[str]:
    return ["--strength", plain(strength)]


def _size(data: Floored) -> list[str]:
    return [*_seed(data), "--replications", str(data.replications), "--days", str(data.days)]


def _seed(data: Floored) -> list[str]:
    return ["--seed", str(data.seed)]


def surer(study: Study, settings: Sequence[Place]) -> str:
    """The sweep of a few settings that runs on until it is sure."""
    return _line(["sweep", source(study.record), *swept(study, settings), "--sure", "95%"])


def longer(study: Study) -> str:
    """The same study over twice the days, with twice as many of them left out where the scenario's own days allow.

    Raises
    ------
    TypeError
        If no days were run.
    """
    data = study.record.data
    if not isinstance(data, RunRecord | SweepRecord):
        raise TypeError(f"a result of venue {study.record.kind} cannot be run longer")
    size = more_days(data.days, data.warm_up, study.record.loaded.scenario.study.days)
    if data.before:  # nothing is left out of a venue that has run before
        size = ["--days", str(2 * data.days)]
    swept_or_run = (
        swept(study, [item.at for item in study.settings])
        if isinstance(data, SweepRecord)
        else _strength(data.strength)
    )
    return _line([data.kind, source(study.record), *swept_or_run, *size])


def depends_on(study: Study) -> str:
    """The study of what the answer depends on, at the setting that is shown."""
    return _line(["sensitivity", source(study.record), *at(study.first_shown.at), "--out", "sensitivity"])


def sweep(study: Study) -> str:
    """The sweep that finds the strength to run at."""
    return _line(["sweep", source(study.record)])


def wider(study: Study, texts: str) -> str:
    """The same sweep over other values of its one key."""
    key = study.keys[0]
    words = ["--strengths", texts] if key == "strength" else ["--over", f"{key}={texts}"]
    return _line(["sweep", source(study.record), *words])


def source(record: Record) -> str:
    """The scenario file as the user called it."""
    data = record.data
    return (data.scenarios[0].scenario if isinstance(data, CompareRecord) else data.scenario) or SCENARIO
