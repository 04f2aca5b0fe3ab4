"""The `venue` command, one file a command, imported when it is asked for, so that help answers at once."""

from __future__ import annotations

import io
import logging
import os
import signal
import sys
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress

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
    """Run the command; exit 2 for bad input, 1 for a failed run, 130 on Ctrl-C, 143 when ended from outside; never with
    a traceback for any of them."""
    _open_streams()
    # What a library has to say of its own folders is no concern of a user.
    logging.getLogger("matplotlib").setLevel(logging.ERROR)
    with _ended_from_outside() as signals:
        code = _run(arguments)
        if signals and code == 130:
            code = 143
    sys.exit(_flushed(code))


def _run(arguments: Sequence[str] | None) -> int:
    """The exit code of a command; the error takes a line or more."""
    try:
        code = cli.main(arguments, prog_name="venue", standalone_mode=False)
    except click.exceptions.Exit as stop:
        code = stop.exit_code
    except click.ClickException as error:
        from venue.cli import options

        return _refuse([options.refusal(error)], 2)
    except (KeyboardInterrupt, click.Abort) as stop:
        return _refuse([_stopped(stop)], 130)
    except ScenarioError as error:
        return _refuse([problem.line(error.source) for problem in error.problems], error.exit_code)
    except VenueError as error:
        return _refuse(error.lines if isinstance(error, FailedReplications) else [str(error)], error.exit_code)
    except MemoryError:
        return _refuse(["there is not enough memory; ask for fewer days, settings or workers"], 1)
    except OSError as error:
        if error.filename is None:
            return _refuse([f"cannot be written ({error.strerror or error}); make room, or write elsewhere"], 1)
        return _refuse([f"{error.filename}: cannot be used ({error.strerror}); name another"], 2)
    return code if isinstance(code, int) else 0


def _open_streams() -> None:
    """See to it that there are streams to write to, or the next file that is opened would take the place of one."""
    for number, name in enumerate(("stdin", "stdout", "stderr")):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)  # takes the lowest number that is free
        if getattr(sys, name) is None:
            setattr(sys, name, os.fdopen(number, "r" if number == 0 else "w", closefd=False))
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            # A terminal that cannot show a letter gets its number, not an error.
            stream.reconfigure(errors="backslashreplace")


def _flushed(code: int) -> int:
    """The exit code, when all that was printed has gone out; 1 where it could not."""
    try:
        sys.stdout.flush()
    except OSError as error:
        if not isinstance(error, BrokenPipeError):
            _refuse([f"stdout: cannot be written ({error.strerror}); make room, or write elsewhere"], 1)
        # What is left would be tried again as the program ends.
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
        code = code or 1
    return code


@contextmanager
def _ended_from_outside() -> Iterator[list[int]]:
    """The end that another program or a closed terminal asks for is as orderly as Ctrl-C: signals that came."""
    came: list[int] = []

    def end(number: int, _frame: object) -> None:
        if not came:
            came.append(number)
            raise KeyboardInterrupt

    before = {}
    if threading.current_thread() is threading.main_thread():
        for number in (signal.SIGTERM, signal.SIGHUP):
            if signal.getsignal(number) is signal.SIG_DFL:  # `nohup` has it ignored
                before[number] = signal.signal(number, end)
    try:
        yield came
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


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
    with suppress(OSError):  # a full disk takes no message either
        for line in lines:
            click.echo(f"venue: {one_line(line)}", err=True)
    return code
