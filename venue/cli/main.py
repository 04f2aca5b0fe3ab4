"""The `venue` command, one file a command, imported when it is asked for, so that help answers at once."""

from __future__ import annotations

import io
import sys
from collections.abc import Sequence

import click

from venue import __version__
from venue.cli import narrow
from venue.cli.commands import Commands
from venue.errors import FailedReplications, ScenarioError, Stopped, VenueError, one_line


@click.group(
    cls=Commands,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    invoke_without_command=True,
)
@click.version_option(__version__, message="%(version)s")
@click.pass_context
def cli(context: click.Context) -> None:
    """What catch-up strength does to credits per hour, retention and fairness in a coin-op venue.

    \b
    A first look:
      venue new my-venue.toml      write a starter scenario
      venue check my-venue.toml    see what it says
      venue sweep my-venue.toml    find the strength to run at
    """
    if context.invoked_subcommand is None:
        click.echo(context.get_help())


cli.context_class = narrow.Context


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
        from venue.cli import options

        code = _refuse([options.refusal(error)], 2)
    except (KeyboardInterrupt, click.Abort) as stop:
        click.echo(f"venue: {_stopped(stop)}", err=True)
        code = 130
    except ScenarioError as error:
        code = _refuse([problem.line(error.source) for problem in error.problems], error.exit_code)
    except VenueError as error:
        code = _refuse(error.lines if isinstance(error, FailedReplications) else [str(error)], error.exit_code)
    sys.exit(code if isinstance(code, int) else 0)


def _stopped(stop: BaseException) -> str:
    """What is left of a study stopped by Ctrl-C, which click wraps in an error of its own."""
    cause = stop if isinstance(stop, Stopped) else stop.__cause__
    if not isinstance(cause, Stopped):
        return "stopped; nothing was kept"
    if not cause.kept:
        return f"stopped before the first of {cause.total} replications was done; the same command begins again"
    if not cause.store:
        return f"stopped; nothing is kept of {cause.kept} replications; with --store FILE the same command would go on"
    kept = f"{cause.kept} of {cause.total} replications are kept in {one_line(cause.store)}"
    return f"stopped; {kept}; the same command goes on from there"


def _refuse(lines: Sequence[str], code: int) -> int:
    for line in lines:
        click.echo(f"venue: {one_line(line)}", err=True)
    return code
