"""The `venue` command. Everything heavy is imported inside the commands, so that help answers at once."""

from __future__ import annotations

import shutil
import sys
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, TypeVar

import click

from venue import __version__
from venue.cli import options
from venue.cli.progress import ProgressBar
from venue.errors import VenueError

if TYPE_CHECKING:
    from venue.report.folder import Folder
    from venue.scenario.load import Loaded
    from venue.study.results import RunResult, SweepResult
    from venue.study.title import TitleResult

Result = TypeVar("Result")

_WIDEST = 140


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, message="%(version)s")
def cli() -> None:
    """What catch-up strength does to credits per hour, retention and fairness in a coin-op venue.

    \b
    A first look:
      venue new my-venue.toml        write a commented starter scenario
      venue check my-venue.toml      see what it says and where its numbers come from
      venue sweep my-venue.toml      find the strength to run at
    """


@cli.command()
@options.scenario
@options.strengths
@options.simulation
def sweep(scenario: str, strengths: list[float], **given: Any) -> None:
    """Run a venue at several catch-up strengths, on the same visitors, and recommend one.

    \b
    Examples:
      venue sweep scenarios/pier.toml --strengths 0:2:0.25
      venue sweep scenarios/bar.toml --replications 20 --set machines.front.price=2 --out results
    """
    from venue import api
    from venue.report import charts, tables

    folder = _folder(given)
    loaded = _load(scenario, given)
    bar = ProgressBar(f"{len(strengths)} strengths", quiet=given["quiet"] or given["as_json"])
    result: SweepResult = _with(
        bar, lambda: api.sweep(loaded, strengths=strengths, workers=_workers(given), progress=bar)
    )
    if folder is not None:
        folder.write(result.to_dict(), loaded, folder.sweep_tables(result), charts.sweep_charts(result))
    _show(result.to_dict, lambda: tables.sweep_tables(result, _width()), folder, given)


@cli.command()
@options.scenario
@options.strength
@options.simulation
def run(scenario: str, strength: float | None, **given: Any) -> None:
    """Run a venue at one catch-up strength: take, retention, fairness, machines, why people left.

    \b
    Examples:
      venue run scenarios/pier.toml
      venue run scenarios/pier.toml --strength 0.5 --set machines.harpoon.count=3 --json
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


@cli.command()
@options.scenario
@click.option("--title", metavar="KEY", help="Which title; may be left out when there is only one.")
@click.option("--strengths", default="0:2:0.5", show_default=True, callback=options._strengths,
              metavar="START:STOP:STEP", help="Catch-up strengths, as a range or a list like 0,0.5,1.")  # fmt: skip
@click.option("--gap", type=float, metavar="G", help="One pair of skills: side A's lead in log-odds.")
@options.changes
@options.out
@options.force
@options.as_json
@options.quiet
def contest(scenario: str, title: str | None, strengths: list[float], gap: float | None, **given: Any) -> None:
    """Exact results of one title, no floor: who wins, by how much, what each rule owes.

    \b
    Examples:
      venue contest scenarios/bar.toml
      venue contest scenarios/pier.toml --title harpoon --strengths 0,1,2 --gap 0.3
    """
    from venue import api
    from venue.report import charts, tables

    folder = _folder(given)
    loaded = _load(scenario, given)
    result: TitleResult = api.solve(loaded, title, strengths=strengths, gap=gap)
    if folder is not None:
        folder.write(result.to_dict(), loaded, folder.title_tables(result), charts.title_charts(result))
    _show(result.to_dict, lambda: tables.title_tables(result, _width()), folder, given)


@cli.command()
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


@cli.command()
@click.argument("file", metavar="FILE")
def new(file: str) -> None:
    """Write a commented starter scenario.

    \b
    Examples:
      venue new my-venue.toml
      venue new scenarios/harbour.toml && venue check scenarios/harbour.toml
    """
    from venue.scenario.starter import write_starter

    write_starter(file)
    click.echo(f"wrote {file}; next: venue check {file}", err=True)


def _load(scenario: str, given: dict[str, Any]) -> Loaded:
    from venue import api

    loaded = api.load(scenario, given.get("changes", ()))
    return loaded.change(**{key: given.get(key) for key in ("strength", "seed", "replications", "days")})


def _folder(given: dict[str, Any]) -> Folder | None:
    from venue.report.folder import Folder

    return Folder(given["out"], force=given["force"]) if given.get("out") else None


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
    if given.get("as_json"):
        import json

        click.echo(json.dumps(as_dict(), ensure_ascii=False, allow_nan=False))
    else:
        click.echo(as_text())
    if folder is not None and not given.get("quiet") and not given.get("as_json"):
        click.echo(f"written to {folder.path}", err=True)


def main() -> None:
    """Run the command; exit 2 for bad input, 1 for a failed run, 130 on Ctrl-C, never with a traceback for either."""
    try:
        code = cli.main(standalone_mode=False)
    except click.exceptions.Exit as stop:
        code = stop.exit_code
    except click.UsageError as error:
        error.show()
        code = 2
    except (KeyboardInterrupt, click.Abort):
        click.echo("stopped; nothing was kept", err=True)
        code = 130
    except VenueError as error:
        for line in str(error).splitlines():
            click.echo(f"venue: {line}", err=True)
        code = error.exit_code
    except BrokenPipeError:
        # The reader of a pipe went away; that is its right.
        sys.stderr.close()
        code = 0
    sys.exit(code if isinstance(code, int) else 0)
