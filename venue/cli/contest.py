"""`venue contest`: exact results of one title, without a floor."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from venue.cli import options, speech

if TYPE_CHECKING:
    from venue.study.title import TitleResult


@click.command(short_help="Exact results of one title: who wins, and by how much.")
@options.scenario
@click.option("--title", metavar="KEY", help="Which title; may be left out when there is only one.")
@options.title_strengths
@options.gap
@options.changes
@options.out
@options.force
@options.as_json
@options.quiet
def contest(scenario: str, title: str | None, strengths: list[float], gap: float | None, **given: Any) -> None:
    """Exact results of one title, without a floor: who wins, by how much, what is owed to each rule.

    \b
    Examples:
      venue contest scenarios/bar.toml --title moth
      venue contest scenarios/pier.toml --title tug --strengths 0,1,2 --gap 0.3
    """
    from venue import api
    from venue.report import charts, tables

    folder = speech.folder(given)
    loaded = speech.load(scenario, given)
    result: TitleResult = api.solve(loaded, title, strengths=strengths, gap=gap)
    if folder is not None:
        folder.write(result.to_dict(), loaded, folder.title_tables(result), charts.title_charts(result))
    speech.show(result.to_dict, lambda: tables.title_tables(result, speech.width()), folder, given)
    speech.say_next(["sweep", scenario, *speech.sets(given)], given)
