"""`venue run`: a venue at one catch-up strength."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from venue.cli import options, speech
from venue.cli.commands import SHORT
from venue.cli.progress import ProgressBar
from venue.errors import InputError

if TYPE_CHECKING:
    from venue.study.results import RunResult


@click.command(cls=options.Reporting, short_help=SHORT["run"])
@options.scenario
@options.strength
@options.only
@options.report
@options.rows
@options.simulation
def run(scenario: str, strength: float | None, only: int | None, rows: bool, **given: Any) -> None:
    """Run a venue at one catch-up strength: take, retention, fairness, machines, what people did and why they left.

    \b
    Examples:
      venue run scenarios/pier.toml
      venue run scenarios/pier.toml --strength 0.5 --set machines.tug.count=3 --json
      venue run scenarios/pier.toml --replications 1 --out results --rows
    """
    from venue import api
    from venue.report import study_tables, study_text

    if rows and given["out"] is None:
        raise InputError("--rows: writes files, so it needs a folder; add --out DIR")
    folder, page = speech.folder(given), speech.page(scenario, "run", given)
    loaded = speech.load(scenario, {**given, "strength": strength})
    bar = ProgressBar("replications", quiet=given["quiet"] or given["as_json"])
    result: RunResult = speech.with_bar(
        bar, lambda: api.run(loaded, only=only, rows=rows, progress=bar, **speech.goal(given), **speech.means(given))
    )
    if folder is not None:
        written: list[Any] = [*study_tables.run_files(result), *(study_tables.row_files(result) if rows else [])]
        speech.write_folder(folder, result.to_dict(), loaded, written)
    speech.write_page(page, result.to_dict, loaded, lambda: study_tables.run_files(result), given)
    speech.show(result.to_dict, lambda full: study_text.run_parts(result, full=full), folder, given)
    speech.say_next(["sweep", scenario, *speech.sets(given)], given)
