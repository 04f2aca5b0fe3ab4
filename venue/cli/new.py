"""`venue new`: a commented starter scenario."""

from __future__ import annotations

from typing import Any

import click

from venue import __version__
from venue.cli import completing, options, speech
from venue.cli.commands import SHORT
from venue.errors import one_line


@click.command(short_help=SHORT["new"])
@click.argument("file", metavar="FILE", shell_complete=completing.files)
@options.as_json
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
    if given["as_json"]:
        speech.show(lambda: {"written": file, "version": __version__}, str, None, given)
    speech.say(f"wrote {one_line(file)}", given)
    speech.say_next(["check", file], given)
