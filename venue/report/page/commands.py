"""Commands for a terminal: the one that reproduces a result, and those that could come next."""

from __future__ import annotations

import shlex
from collections.abc import Mapping, Sequence
from typing import Any

from venue.report.folder import SCENARIO
from venue.report.page.reading import Study
from venue.report.page.record import Record
from venue.report.sentences.settling import longer as more_days
from venue.study.point import Place, Value, value_of
from venue.units import plain


def reproduce(study: Study) -> str:
    """The command that gives the same figures from the resolved scenario."""
    record = study.record
    made_by = {"sweep": _sweep, "compare": _compare, "contest": _contest, "sensitivity": _sensitivity, "run": _run}
    return _line([record.kind, *made_by[record.kind](study)])


def _line(words: Sequence[str]) -> str:
    return shlex.join(["venue", *words])


def _run(study: Study) -> list[str]:
    result = study.record.result
    return [SCENARIO, *_strength(result), *_size(result)]


def _sweep(study: Study) -> list[str]:
    result = study.record.result
    words = [SCENARIO, *swept(study, [item.at for item in study.settings])]
    scenario = study.record.loaded.scenario.study
    own = {"better_side_wins": scenario.keep_better_side_wins, "return_28d": scenario.keep_return_28d}
    for name, bound in (result.get("requirements") or {}).items():
        if name == "at_most":
            words += [word for key, most in bound.items() for word in ("--keep", f"{key}<={plain(most)}")]
        elif own.get(name) != bound:
            words += ["--keep", f"{name}>={plain(bound)}"]
    selection = result.get("selection")
    if selection:
        start = ["--replications", str(scenario.replications)]
        return [
            *words,
            *start,
            "--sure",
            plain(selection["sure"]),
            "--worth",
            plain(selection["worth"]),
            *_seed(result),
        ]
    return words + _size(result)


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


def _compare(study: Study) -> list[str]:
    result = study.record.result
    words = [SCENARIO]
    base = result["scenarios"][0]
    for item in result["scenarios"][1:]:
        changes = item["changes"][len(base["changes"]) :] if item["scenario"] == base["scenario"] else None
        words += ["--set", "; ".join(changes)] if changes else [str(item["scenario"])]
    return words + _size(result)


def _contest(study: Study) -> list[str]:
    result = study.record.result
    words = [SCENARIO, "--title", str(result["title"])]
    words += ["--strengths", ",".join(plain(item["strength"]) for item in result["points"])]
    if result["match_ups"]["sd"] == 0.0:
        words += ["--gap", plain(result["match_ups"]["mean"])]
    return words


def _sensitivity(study: Study) -> list[str]:
    result = study.record.result
    return [SCENARIO, "--measure", str(result["measure"]), *_strength(result), *_size(result)]


def _strength(result: Mapping[str, Any]) -> list[str]:
    return ["--strength", plain(result["strength"])]


def _size(result: Mapping[str, Any]) -> list[str]:
    return [*_seed(result), "--replications", str(result["replications"]), "--days", str(result["days"])]


def _seed(result: Mapping[str, Any]) -> list[str]:
    return ["--seed", str(result["seed"])]


def surer(study: Study, settings: Sequence[Place]) -> str:
    """The sweep of a few settings that runs on until it is sure."""
    return _line(["sweep", source(study.record), *swept(study, settings), "--sure", "95%"])


def longer(study: Study) -> str:
    """The same study over twice the days, with twice as many of them left out where the scenario's own days allow."""
    result = study.record.result
    size = more_days(int(result["days"]), int(result["warm_up"]), study.record.loaded.scenario.study.days)
    words = swept(study, [item.at for item in study.settings]) if study.record.kind == "sweep" else _strength(result)
    return _line([study.record.kind, source(study.record), *words, *size])


def hangs_on(study: Study) -> str:
    """The study of what the answer hangs on, at the setting that is shown."""
    return _line(["sensitivity", source(study.record), *at(study.first_shown.at), "--out", "sensitivity"])


def wider(study: Study, texts: str) -> str:
    """The same sweep over other values of its one key."""
    key = study.keys[0]
    words = ["--strengths", texts] if key == "strength" else ["--over", f"{key}={texts}"]
    return _line(["sweep", source(study.record), *words])


def source(record: Record) -> str:
    """The scenario file as the user called it."""
    return str(record.result.get("scenario") or SCENARIO)
