"""`venue sweep`: several settings on the same visitors, and the one to run at."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from venue.cli import options, speech
from venue.cli.progress import ProgressBar

if TYPE_CHECKING:
    from venue.study.results import SweepResult


@click.command(short_help="Compare catch-up strengths on the same visitors and recommend one.")
@options.scenario
@options.strengths
@options.simulation
def sweep(scenario: str, strengths: list[float], **given: Any) -> None:
    """Run a venue at several catch-up strengths, on the same visitors, and recommend one.

    \b
    Examples:
      venue sweep scenarios/pier.toml --strengths 0:2:0.25
      venue sweep scenarios/bar.toml --replications 20 --set machines.locks.price=2 --out results
    """
    from venue import api
    from venue.report import charts, tables

    folder = speech.folder(given)
    loaded = speech.load(scenario, given)
    bar = ProgressBar("replications", quiet=given["quiet"] or given["as_json"])
    result: SweepResult = speech.with_bar(
        bar, lambda: api.sweep(loaded, strengths=strengths, workers=speech.workers(given), progress=bar)
    )
    if folder is not None:
        folder.write(result.to_dict(), loaded, folder.sweep_tables(result), charts.sweep_charts(result))
    speech.show(result.to_dict, lambda: tables.sweep_tables(result, speech.width()), folder, given)
    if result.best.strength is not None:
        speech.say_next(["run", scenario, *speech.sets(given), "--strength", f"{result.best.strength:g}"], given)
