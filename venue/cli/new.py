"""`venue new`: a commented starter scenario."""

from __future__ import annotations

from typing import Any

import click

from venue.cli import options, speech
from venue.errors import one_line


@click.command(short_help="Write a commented starter scenario.")
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
    speech.say(f"wrote {one_line(file)}", given)
    speech.say_next(["check", file], given)
