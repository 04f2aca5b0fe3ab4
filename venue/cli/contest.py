"""`venue contest`: exact results of one title; nothing is simulated."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

import click

from venue.cli import options, speech
from venue.cli.commands import SHORT

if TYPE_CHECKING:
    from venue.study.title import TitleResult


@click.command(cls=options.Reporting, short_help=SHORT["contest"])
@options.scenario
@options.title
@options.title_strengths
@options.gap
@options.strength
@click.option("--watch", is_flag=True, help="Play one contest out, line by line, with the rules that acted.")
@options.seed
@options.changes
@options.report
@options.out
@options.force
@options.full
@options.as_json
@options.quiet
def contest(
    scenario: str, title: str | None, strengths: list[float], gap: float | None, watch: bool, **given: Any
) -> None:
    """Exact results of one title; nothing is simulated: who wins, by how much, what each rule does, where it can be
    exploited.

    \b
    Examples:
      venue contest scenarios/bar.toml --title moth
      venue contest scenarios/pier.toml --title tug --strengths 0,1,2 --gap 0.3
      venue contest scenarios/pier.toml --title tug --watch --seed 7
    """
    from venue.threads import no_collection

    # Over in a second or two: looking for garbage would take longer than what it frees.
    with no_collection():
        if watch:
            _play_out(scenario, title, gap, given)
        else:
            _solve(scenario, title, strengths, gap, given)


def _play_out(scenario: str, title: str | None, gap: float | None, given: dict[str, Any]) -> None:
    from venue.report import title_text
    from venue.study import title as study

    for option, what in (("out", "folder"), ("report", "page")):
        if given[option] is not None:
            raise click.UsageError(f"--watch writes no {what}; leave out --{option}")
    loaded = speech.load(scenario, given)
    events = study.watch(loaded, title, gap)
    design = loaded.scenario.titles[study.the_title(loaded, title)]
    speech.show(
        lambda: {"events": [asdict(event) for event in events]},
        lambda _full: title_text.events_parts(design, events),
        None,
        given,
    )


def _solve(scenario: str, title: str | None, strengths: list[float], gap: float | None, given: dict[str, Any]) -> None:
    from venue.report import title_tables, title_text  # and no more than it takes: this command answers at once
    from venue.study import title as study

    folder, page = speech.folder(given), speech.page(scenario, "contest", given)
    loaded = speech.load(scenario, given)
    result: TitleResult = study.title_result(loaded, title, strengths, gap)
    if folder is not None:
        speech.write_folder(folder, result.to_dict(), loaded, title_tables.title_files(result))
    if page is not None:
        speech.write_page(page, result.to_dict, loaded, lambda: title_tables.title_files(result), given)
    speech.show(result.to_dict, lambda full: title_text.title_parts(result, full=full), folder, given)
    speech.say_next(["sweep", scenario, *speech.sets(given)], given)
