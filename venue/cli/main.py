"""The `venue` command. Everything heavy is imported inside the commands, so that help answers at once."""

from __future__ import annotations

import io
import shlex
import shutil
import sys
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, TypeVar

import click

from venue import __version__
from venue.cli import options
from venue.cli.progress import ProgressBar
from venue.errors import ScenarioError, VenueError, one_line

if TYPE_CHECKING:
    from venue.report.folder import Folder
    from venue.scenario.load import Loaded
    from venue.study.results import RunResult, SweepResult
    from venue.study.title import TitleResult

Result = TypeVar("Result")

_WIDEST = 160


@click.group(
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100}, invoke_without_command=True
)
@click.version_option(__version__, message="%(version)s")
@click.pass_context
def cli(context: click.Context) -> None:
    """What catch-up strength does to credits per hour, retention and fairness in a coin-op venue.

    \b
    A first look:
      venue new my-venue.toml        write a commented starter scenario
      venue check my-venue.toml      see what it says and where its numbers come from
      venue sweep my-venue.toml      find the strength to run at
    """
    if context.invoked_subcommand is None:
        click.echo(context.get_help())


@cli.command(short_help="Compare catch-up strengths on the same visitors and recommend one.")
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

    folder = _folder(given)
    loaded = _load(scenario, given)
    bar = ProgressBar("replications", quiet=given["quiet"] or given["as_json"])
    result: SweepResult = _with(
        bar, lambda: api.sweep(loaded, strengths=strengths, workers=_workers(given), progress=bar)
    )
    if folder is not None:
        folder.write(result.to_dict(), loaded, folder.sweep_tables(result), charts.sweep_charts(result))
    _show(result.to_dict, lambda: tables.sweep_tables(result, _width()), folder, given)
    if result.best.strength is not None:
        _say_next(["run", scenario, *_sets(given), "--strength", f"{result.best.strength:g}"], given)


@cli.command(short_help="Run a venue at one catch-up strength.")
@options.scenario
@options.strength
@options.simulation
def run(scenario: str, strength: float | None, **given: Any) -> None:
    """Run a venue at one catch-up strength: take, retention, fairness, machines, why people left.

    \b
    Examples:
      venue run scenarios/pier.toml
      venue run scenarios/pier.toml --strength 0.5 --set machines.tug.count=3 --json
    """
    from venue import api
    from venue.report import charts, tables

    folder = _folder(given)
    loaded = _load(scenario, {**given, "strength": strength})
    bar = ProgressBar("replications", quiet=given["quiet"] or given["as_json"])
    result: RunResult = _with(bar, lambda: api.run(loaded, workers=_workers(given), progress=bar))
    if folder is not None:
        folder.write(result.to_dict(), loaded, folder.run_tables(result), charts.run_charts(result))
    _show(result.to_dict, lambda: tables.run_tables(result, _width()), folder, given)
    _say_next(["sweep", scenario, *_sets(given)], given)


@cli.command(short_help="Exact results of one title: who wins, and by how much.")
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

    folder = _folder(given)
    loaded = _load(scenario, given)
    result: TitleResult = api.solve(loaded, title, strengths=strengths, gap=gap)
    if folder is not None:
        folder.write(result.to_dict(), loaded, folder.title_tables(result), charts.title_charts(result))
    _show(result.to_dict, lambda: tables.title_tables(result, _width()), folder, given)
    _say_next(["sweep", scenario, *_sets(given)], given)


@cli.command(short_help="Say whether a scenario is sound and where its numbers come from.")
@options.scenario
@options.changes
@options.as_json
@options.quiet
def check(scenario: str, **given: Any) -> None:
    """Validate a scenario and print what will be run, with the source of each number.

    \b
    Examples:
      venue check scenarios/pier.toml
      venue check scenarios/pier.toml --set people.wallet.median=20
    """
    from venue.report import summary

    loaded = _load(scenario, given)
    _show(lambda: summary.as_dict(loaded), lambda: summary.as_text(loaded, _width()), None, given)
    _say_next(["sweep", scenario, *_sets(given)], given)


@cli.command(short_help="Write a commented starter scenario.")
@click.argument("file", metavar="FILE")
@options.quiet
def new(file: str, **given: Any) -> None:
    """Write a commented starter scenario to a new file.

    \b
    Examples:
      venue new my-venue.toml
      venue new scenarios/harbour.toml && venue check scenarios/harbour.toml
    """
    from venue.scenario.starter import write_starter

    write_starter(file)
    _say(f"wrote {one_line(file)}", given)
    _say_next(["check", file], given)


def _load(scenario: str, given: dict[str, Any]) -> Loaded:
    from venue import api

    loaded = api.load(scenario, given["changes"])
    study = {key: given.get(key) for key in ("strength", "seed", "replications", "days")}
    try:
        return loaded.change(**study)
    except ScenarioError as error:
        raise error.named({f"study.{key}": f"--{key}" for key, value in study.items() if value is not None}) from None


def _folder(given: dict[str, Any]) -> Folder | None:
    from venue.report.folder import Folder

    return Folder(given["out"], force=given["force"]) if given["out"] is not None else None


def _workers(given: dict[str, Any]) -> int:
    from venue.study.workers import all_cores

    return given["workers"] or all_cores()


def _with(bar: ProgressBar, work: Callable[[], Result]) -> Result:
    try:
        return work()
    finally:
        bar.close()


def _width() -> int:
    return min(shutil.get_terminal_size((100, 24)).columns, _WIDEST)


def _show(
    as_dict: Callable[[], dict[str, Any]], as_text: Callable[[], str], folder: Folder | None, given: dict[str, Any]
) -> None:
    if given["as_json"]:
        import json

        click.echo(json.dumps(as_dict(), allow_nan=False))
    else:
        click.echo(as_text())
    if folder is not None:
        _say(f"written to {one_line(str(folder.path))}", given)


def _say(text: str, given: dict[str, Any]) -> None:
    """Narration: for whoever watches a terminal, and nobody else."""
    if sys.stderr.isatty() and not given["quiet"] and not given.get("as_json"):
        click.echo(text, err=True)


def _say_next(words: list[str], given: dict[str, Any]) -> None:
    _say(f"next: {one_line(shlex.join(['venue', *words]))}", given)


def _sets(given: dict[str, Any]) -> list[str]:
    return [word for change in given["changes"] for word in ("--set", change)]


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the command; exit 2 for bad input, 1 for a failed run, 130 on Ctrl-C, never with a traceback for either."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            # A terminal that cannot show a letter gets its number, not an error.
            stream.reconfigure(errors="backslashreplace")
    try:
        code = cli.main(arguments, prog_name="venue", standalone_mode=False)
    except click.exceptions.Exit as stop:
        code = stop.exit_code
    except click.ClickException as error:
        code = _refuse([options.refusal(error)], 2)
    except (KeyboardInterrupt, click.Abort):
        click.echo("venue: stopped; nothing was kept", err=True)
        code = 130
    except ScenarioError as error:
        code = _refuse([problem.line(error.source) for problem in error.problems], error.exit_code)
    except VenueError as error:
        code = _refuse([str(error)], error.exit_code)
    sys.exit(code if isinstance(code, int) else 0)


def _refuse(lines: Sequence[str], code: int) -> int:
    for line in lines:
        click.echo(f"venue: {one_line(line)}", err=True)
    return code
