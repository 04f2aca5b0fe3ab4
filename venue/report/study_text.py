"""What a run, a sweep, a comparison or a sensitivity study says, in parts: the answer and one table, or all of it."""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any

from venue.report import study_tables
from venue.report.columns import short_path
from venue.report.heading import CAUTION, CAUTION_SHORT, counted, heading, how
from venue.report.layout import Lines, Part
from venue.report.sentences import changes, horizons, method, numbers, runs, settling, sweeps
from venue.report.sentences.intervals import MEAN
from venue.report.sentences.parts import Command, sentence_text
from venue.report.study_tables import differences_table, settings_table, with_differences
from venue.report.tables import Cell, Column, Table
from venue.scenario.load import Loaded
from venue.study.compare import CompareResult, Comparison
from venue.study.findings import Changed, Settling
from venue.study.point import Point, difference
from venue.study.precision import Reached
from venue.study.registry import MEASURES
from venue.study.results import RunResult, SweepResult, measures_of
from venue.study.sensitivity import SensitivityResult
from venue.study.store import KeptStudy

_MOST_ROWS, _FEW_ROWS = 24, 8
# Measures that stand in the one table of a sweep or a comparison: as many as fit next to the name of a setting.
_BESIDE = ("credits_per_hour", "better_side_wins", "return_28d", "empty_wallets", "close_finishes")
_MOST_COLUMNS = 6
# Room for names in the list of studies, in short within 80 columns, and how much of a time is its day.
_VENUE, _SCENARIO, _SHORT, _DAY = 24, 28, 17, 10
_KEPT = ("credits_per_hour", "return_28d", "better_side_wins")

Settings = Sequence[tuple[str, Point]]


def run_parts(result: RunResult, *, full: bool = True) -> list[Part]:
    """A run: its measures; with `full` its machines and what people did."""
    loaded, point = result.loaded, result.point
    scenario, found = loaded.scenario, point.measures()
    head = heading(loaded, f"catch-up strength {point.strength:g}; {how(loaded, len(point.replications))}")
    if not full:
        table = study_tables.first_measures(found, scenario.venue.money)
        missing = _not_known([name for name in MEASURES if name not in found])
        answer = " ".join([_earns(result), *_unsettled(loaded, result.findings.settled)])
        return [answer, *_precision(result.reached), table, *missing, _under(head), CAUTION_SHORT]
    parts: list[Part] = [
        head,
        study_tables.measures_table(found, scenario.venue.money, "The venue: means over replications"),
        *_not_known([name for name in MEASURES if name not in found]),
        *_precision(result.reached),
        *_settling(loaded, result.findings.settled),
        study_tables.machines_table(scenario.machines, (point,)),
    ]
    tables = (
        study_tables.reasons_table(point), study_tables.offers_in_bands(loaded, point), study_tables.some_weeks(point),
    )  # fmt: skip
    return [*parts, *(table for table in tables if table.rows), CAUTION]


def _under(head: str) -> str:
    """What stands under the one table: what was run, and how to read its cells."""
    return f"{head}. ±: half of the {MEAN}."


def _earns(result: RunResult) -> str:
    """What the venue takes."""
    site = result.loaded.scenario.venue
    return sentence_text(runs.earns(site.name, result.point.strength, result.point.measures(), site.money))


def _unsettled(loaded: Loaded, found: Settling) -> list[str]:
    """A warning in a sentence where the take has not settled within the run; nothing where it has."""
    return (
        [text]
        if (text := sentence_text(settling.not_settled(found), settling.run_longer(found, _longer(loaded))))
        else []
    )


def _longer(loaded: Loaded) -> list[str]:
    study = loaded.scenario.study
    if study.days_before:  # nothing is left out of a venue that has run before
        return ["--days", str(2 * study.days)]
    return settling.longer(study.days, study.warm_up, study.days)


def _recommended(result: SweepResult) -> str:
    """The recommendation, its ties and whether the take has settled, in a few lines."""
    view, best = sweeps.Settings.of_result(result), result.best.place
    said = [sweeps.recommended(view)]
    if best is None:
        said += sweeps.requirements(view)
        return f"Recommended: {sentence_text(*said)}"
    said += [sweeps.given_up(view), sweeps.against_today(view), sweeps.fairer(view)]
    return " ".join(
        [
            *([depends] if (depends := sentence_text(horizons.disagree(view))) else []),
            f"Recommended: {sentence_text(*said, horizons.agree(view))}",
            *_not_sure(result),
            *_drifting(result, view),
            *_unsettled(result.loaded, view.findings.settled[best]),
        ]
    )


def _drifting(result: SweepResult, view: sweeps.Settings) -> list[str]:
    """A warning where a venue that has run before still changes under some setting against the recommended one."""
    warning = horizons.drifting(view)
    if not warning:
        return []
    return [sentence_text(warning, ("To see it settled: ", Command(shlex.join(_longer(result.loaded))), "."))]


def _not_sure(result: SweepResult) -> list[str]:
    """What is left open of a selection that ran out of replications."""
    selection = result.selection
    if selection is None or selection.finished:
        return []
    return [
        f"Not yet sure: after {max(selection.replications)} replications more than one setting is left of those that "
        f"may be best with a chance of {selection.assurance.sure:g}; allow more with --at-most."
    ]


def sweep_parts(result: SweepResult, *, full: bool = True) -> list[Part]:
    """A sweep: the recommendation and a row a setting; with `full` every measure and the trade-off."""
    replications, settings = result.loaded.scenario.study.replications, len(result.points)
    what = " and ".join("catch-up strength" if key == "strength" else key for key in result.keys)
    title = f"{what} swept over {settings} setting{'s' if settings != 1 else ''}"
    head = heading(result.loaded, f"{title}; {how(result.loaded, replications)}")
    if not full:
        under = _under(f"{head}. <: {_marked(result)}")
        return [_recommended(result), *_precision(result.reached), _few_columns(result), under, CAUTION_SHORT]
    table = settings_table(result, study_tables.OF_SETTINGS)
    found = [point.measures() for point in result.points]
    missing = [name for name in study_tables.OF_SETTINGS if not any(name in measures for measures in found)]
    return [
        head, _against_best(result, table), _reading(replications, _word(result)), *_not_known(missing),
        *_precision(result.reached), *recommendation(result), *_trade_off(result), CAUTION,
    ]  # fmt: skip


def _marked(result: SweepResult) -> str:
    return "none recommended" if result.best.place is None else "the recommended"


def _few_columns(result: SweepResult) -> Table:
    """The settings side by side in what they are judged by, as many columns as are read at a glance."""
    required = [item.measure for item in result.requirements.all() if item.measure in MEASURES]
    names = list(dict.fromkeys([result.findings.aim, *required, *_BESIDE]))
    table = _against_best(result, settings_table(result, names))
    return replace(table, caption="").narrowing(_MOST_COLUMNS)


def _against_best(result: SweepResult, table: Table) -> Table:
    """With the paired differences from the recommended setting: on the same visitors, so surer than either figure."""
    best = result.best_point
    if best is None or len(result.points) == 1:
        return table
    apart = [None if point is best else difference(point, best, result.findings.aim) for point in result.points]
    return with_differences(table, "against_recommended", "against the\nrecommended", apart)


def _word(result: SweepResult) -> str:
    return "strength" if result.keys == ("strength",) else "setting"


def _reading(replications: int, word: str) -> str:
    """How to read the cells."""
    if replications == 1:
        return f"One replication: means without intervals; every {word} met the same visitors."
    few = sentence_text(method.few(replications))
    return (
        f"Mean ± half of the 95 % interval over replications; every {word} met the same visitors, and differences "
        f"from the recommended are taken in pairs.{few and f' {few}'}"
    )


def recommendation(result: SweepResult) -> list[Part]:
    """The recommendation, its ties, how sure it is, and whether the take has settled."""
    view, best = sweeps.Settings.of_result(result), result.best.place
    head = sentence_text(sweeps.recommended(view))
    if best is None:
        return [f"Recommended: {head}", *(sentence_text(item) for item in sweeps.requirements(view))]
    mean = sentence_text(sweeps.takes(view, best), sweeps.most_lost(view), sweeps.how_sure(view), sweeps.doubt(view))
    kept, ties = (
        sentence_text(*sweeps.requirements(view)),
        sentence_text(sweeps.told_apart(view), sweeps.chosen_by_the_same(view), sweeps.fairer(view)),
    )
    parts = [f"Recommended: {head}", mean, kept, ties, sentence_text(sweeps.against_today(view))]
    return [
        *(part for part in parts if part),
        *_not_sure(result),
        *_settling(result.loaded, view.findings.settled[best]),
    ]


def _trade_off(result: SweepResult) -> list[Part]:
    """The settings that no other beats in both take and fairness, and what fairness costs along them."""
    table = study_tables.likely(study_tables.trade_off_table(result))
    if len(result.points) < 2 or not table.rows:
        return []
    text = (
        "The trade-off: settings that no other beats in both fairness and take, the fairest first. A point of "
        "fairness is one more contest in a hundred won by the better side; its price, with its 95 % interval, leads "
        "to the next fairer setting."
    )
    return [text, replace(table, caption="")]


def _precision(reached: Sequence[Reached]) -> list[Part]:
    """What came of the precisions asked for, a sentence each; nothing if none was."""
    return [
        f"Precision: {item.wanted.text} was asked for and {'' if item.met else 'NOT '}reached with "
        f"{item.replications} replications: ± {item.wanted.show(item.half_width)} at the slowest, {item.where}."
        + ("" if item.met else " Allow more with --at-most.")
        for item in reached
    ]


def _settling(loaded: Loaded, found: Settling) -> list[Part]:
    """A warning where the take has not settled within the run, or may not have; nothing where it has."""
    said = sentence_text(
        settling.not_settled(found),
        settling.how_unsettled(found),
        settling.run_longer(found, _longer(loaded)),
    )
    return [said] if said else []


def _not_known(missing: Sequence[str]) -> list[Part]:
    if not missing:
        return []
    return [f"Not known: {', '.join(missing)} (the run is too short, or there was nothing of the kind)."]


def compare_parts(result: CompareResult, *, full: bool = True) -> list[Part]:
    """A comparison: a sentence a change and one table; with `full` every measure of each."""
    replications = result.loaded.scenario.study.replications
    head = heading(result.loaded, f"compared with {result.names[0]}; {how(result.loaded, replications)}")
    findings: list[Part] = [
        finding(item, found, result.names[0])
        for item, found in zip(result.comparisons, result.findings.changes, strict=True)
    ]
    unsettled = changes.not_settled(result.record)
    warning: list[Part] = []
    if unsettled:
        warning = [sentence_text(unsettled, settling.see_it_settled(_longer(result.loaded)))]
    table = study_tables.changes_table(result, _BESIDE).narrowing(_MOST_COLUMNS)
    if not full:
        return [*findings, *warning, table, _under(f"{head}. ~: the interval holds zero"), CAUTION_SHORT]
    parts: list[Part] = [head]
    for item, text in zip(result.comparisons, findings, strict=True):
        parts += [text, differences_table((item,), f"{item.name}: differences, the largest first")]
    return [*parts, *warning, _of_differences(replications), *_precision(result.reached), CAUTION]


def finding(item: Comparison, found: Changed, base: str) -> str:
    """What a change does, in one sentence."""
    rows = {row.measure: (row.estimate, row.change) for row in item.differences}
    return sentence_text(changes.change(found, base, rows), horizons.of_change(found))


def _of_differences(replications: int) -> str:
    if replications == 1:
        return "One replication: differences without intervals, and none of them sure (~)."
    return (
        "Differences replication by replication, on the same visitors; ~ marks those whose interval holds zero. Each "
        "interval is right 19 times in 20, so of 20 measures that do not differ one may be called different. Runs "
        "saved: how many times more replications scenarios with visitors of their own would have taken for the same "
        "precision, measured here."
    )


def sensitivity_parts(result: SensitivityResult, *, full: bool = True) -> list[Part]:
    """The ranking: what to measure next, and the foremost numbers; with `full` how sure each effect is."""
    study, measure = result.loaded.scenario.study, MEASURES[result.plan.measure]
    unit = measure.unit_in(result.loaded.scenario.venue.money)
    head = heading(
        result.loaded,
        f"what {result.plan.measure} ({unit}) depends on, at strength {study.strength:g}; {result.runs} runs of "
        f"{counted(study)}; seed {study.seed}",
    )
    table = study_tables.ranking_table(result)
    if not full:
        few = table.first(_FEW_ROWS).only("number", "from", "range", "effect", "mean_effect")
        return [_advice(result), replace(few, caption=""), _under(head), CAUTION_SHORT]
    parts: list[Part] = [head, table.first(_MOST_ROWS)]
    if len(table.rows) > _MOST_ROWS:
        parts.append(f"{len(table.rows) - _MOST_ROWS} more have less effect; --out and --json have all.")
    if result.left_out:
        parts.append(f"Not moved, being zero or without room: {', '.join(result.left_out)}.")
    ranges = (
        " Ranges follow origins: measured ± 5 %, fitted ± 10 %, common practice ± 20 %, anything else ± 30 %, unless "
        "--spread says otherwise."
        if result.plan.spread is None
        else ""
    )
    effect = (
        "Effect: by how much the measure changes, on average, as the number goes from one end of its range to the "
        "other, wherever the others stand (mean absolute elementary effect, with half its 95 % interval)."
    )
    shares = " Shares: of the variance that the foremost numbers make together."
    return [*parts, effect + ranges + shares, _advice(result), CAUTION]


def _advice(result: SensitivityResult) -> str:
    sources = {factor.key: factor.source for factor in result.factors}
    return sentence_text(numbers.to_measure(result.findings, sources))


def _when(seconds: float) -> str:
    return datetime.fromtimestamp(seconds).astimezone().isoformat(sep=" ", timespec="minutes")[:16]


def _kept(item: KeptStudy) -> dict[str, Any]:
    return {
        "number": item.number, "kind": item.kind, "venue": item.venue, "scenario": item.source, "began": item.began,
        "last": item.last, "version": item.version, "current": item.current, "settings": item.settings,
        "replications": item.kept, "wanted": item.wanted,
    }  # fmt: skip


def studies_dict(path: str, found: Sequence[KeptStudy]) -> dict[str, Any]:
    """Plain data, as `venue studies --json` prints it; times in seconds since 1970."""
    return {"store": path, "studies": [_kept(item) for item in found]}


def studies_parts(path: str, found: Sequence[KeptStudy], *, full: bool = True) -> list[Part]:
    """The list of what is kept; with `full` the settings of each and the version that made it."""
    if not found:
        return [Lines(f"{path}: nothing is kept")]
    columns = (
        Column("study", "study", "words"), Column("kind", "kind", "words"),
        Column("venue", "venue", "words", longest=_VENUE if full else _SHORT), Column("scenario", "scenario", "words"),
        Column("settings", "settings"), Column("kept", "kept of\nwanted"), Column("last", "last used"),
        Column("version", "", "words"),
    )  # fmt: skip
    rows: list[list[Cell]] = [
        [str(item.number), item.kind, item.venue, short_path(item.source, _SCENARIO if full else _SHORT), item.settings,
         f"{item.kept}/{item.wanted}", _when(item.last)[: None if full else _DAY],
         "" if item.current else "other version"]
        for item in found
    ]  # fmt: skip
    table = Table("studies", columns, rows, below="settings")
    if not full:
        return [Lines(f"{path}:"), replace(table, below="").without("settings", "version")]
    table = table if any(not item.current for item in found) else table.without("version")
    return [
        Lines(f"{path}:"),
        table,
        "Studies share replications, so that what is kept may be more than one of them wants.",
    ]


def study_dict(item: KeptStudy, settings: Settings) -> dict[str, Any]:
    """Plain data of one study: what is known of each setting by now."""
    return _kept(item) | {
        "points": [
            {
                "name": name,
                "strength": point.strength,
                "replications": len(point.replications),
                "measures": measures_of(point.measures(), MEASURES, "money"),
            }
            for name, point in settings
        ]
    }


def study_parts(item: KeptStudy, settings: Settings) -> list[Part]:
    """One study: its settings and what is known of them by now."""
    state = "" if item.current else "; made by another version, so that the same command runs it anew"
    head = (
        f"study {item.number}: {item.kind} of {item.source}, {item.venue}; begun {_when(item.began)}, last used "
        f"{_when(item.last)}; {item.kept} replications kept, {item.wanted} wanted{state}"
    )
    columns = (
        Column("setting", "setting", "words", longest=40), Column("kept", "kept"),
        *(Column.of(name, MEASURES[name]) for name in _KEPT),
    )  # fmt: skip
    rows: list[list[Cell]] = []
    for name, point in settings:
        known = point.measures() if point.replications else {}
        rows.append([name, len(point.replications), *(known.get(measure) for measure in _KEPT)])
    return [head, Table("study", columns, rows)]
