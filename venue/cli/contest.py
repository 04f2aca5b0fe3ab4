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
@options.opponent
@options.difficulty
@options.strength
@click.option("--watch", is_flag=True, help="Play one contest out, line by line, with the rules that acted.")
@click.option(
    "--at", metavar="KEY=VALUE,...",
    help='Look at one situation, e.g. "period=4, left=5 s, margin=-2, missed=3": every chance there, and why.',
)  # fmt: skip
@click.option("--roster", is_flag=True, help="Each team of the roster against each, and who is out of line.")
@click.option(
    "--within", type=float, metavar="LOG-ODDS",
    help="How far from the mean strength a team may lie, with --roster; 0.2 if left out.",
)  # fmt: skip
@options.seed
@options.changes
@options.report
@options.out
@options.force
@options.full
@options.as_json
@options.quiet
def contest(
    scenario: str,
    title: str | None,
    strengths: list[float],
    watch: bool,
    at: str | None,
    roster: bool,
    within: float | None,
    **given: Any,
) -> None:
    """Exact results of one title; nothing is simulated: who wins, by how much, what each rule does, where it can be
    exploited.

    \b
    Examples:
      venue contest scenarios/bar.toml --title moth
      venue contest scenarios/pier.toml --title tug --strengths 0,1,2 --gap 0.3
      venue contest scenarios/pier.toml --title tug --watch --seed 7
      venue contest scenarios/pier.toml --title tug --at "period=4, left=5 s, margin=-2"
      venue contest my-venue.toml --roster --within 0.1
    """
    from venue.threads import no_collection

    # Over in a second or two: looking for garbage would take longer than what it frees.
    with no_collection():
        if watch + roster + (at is not None) > 1:
            raise click.UsageError("--watch, --at and --roster exclude each other; leave all but one out")
        if within is not None and not roster:
            raise click.UsageError("--within says what is in line in a roster; write --roster too")
        if roster:
            _rank(scenario, title, given["gap"], within, given)
        elif at is not None:
            _look(scenario, title, at, given)
        elif watch:
            _play_out(scenario, title, given)
        else:
            _solve(scenario, title, strengths, given)


def _play_out(scenario: str, title: str | None, given: dict[str, Any]) -> None:
    from venue.report import title_text
    from venue.study import title as study

    _writes_nothing("--watch", given)
    loaded = speech.load(scenario, given)
    events = study.watch(loaded, title, speech.against(given))
    design = loaded.scenario.titles[study.the_title(loaded, title)]
    speech.show(
        lambda: {"events": [asdict(event) for event in events]},
        lambda _full: title_text.events_parts(design, events),
        None,
        given,
    )


def _look(scenario: str, title: str | None, at: str, given: dict[str, Any]) -> None:
    from venue.report.situation_text import situation_parts
    from venue.study.situation import situation_result

    _writes_nothing("--at", given)
    result = situation_result(speech.load(scenario, given), title, at, speech.against(given))
    speech.show(result.to_dict, lambda _full: situation_parts(result), None, given)


def _rank(scenario: str, title: str | None, gap: float | None, within: float | None, given: dict[str, Any]) -> None:
    from venue.report.roster_text import roster_parts
    from venue.study.roster import WITHIN, roster_result

    _writes_nothing("--roster", given)
    loaded = speech.load(scenario, given)
    result = roster_result(loaded, title, gap=gap, within=WITHIN if within is None else within)
    speech.show(result.to_dict, lambda _full: roster_parts(result), None, given)


def _writes_nothing(option: str, given: dict[str, Any]) -> None:
    for other, what in (("out", "folder"), ("report", "page")):
        if given[other] is not None:
            raise click.UsageError(f"{option} writes no {what}; leave out --{other}")


def _solve(scenario: str, title: str | None, strengths: list[float], given: dict[str, Any]) -> None:
    from venue.report import title_tables, title_text  # and no more than it takes: this command answers at once
    from venue.study import title as study

    folder, page = speech.folder(given), speech.page(scenario, "contest", given)
    loaded = speech.load(scenario, given)
    result: TitleResult = study.title_result(loaded, title, strengths, speech.against(given))
    if folder is not None:
        speech.write_folder(folder, result.to_dict(), loaded, title_tables.title_files(result))
    if page is not None:
        speech.write_page(page, result.to_dict, loaded, lambda: title_tables.title_files(result), given)
    speech.show(result.to_dict, lambda full: title_text.title_parts(result, full=full), folder, given)
    speech.say_next(["sweep", scenario, *speech.sets(given)], given)
