"""What there is to command, each with what it does in one line; a command is imported when it is first asked for."""

from __future__ import annotations

from collections.abc import Iterator, MutableMapping
from importlib import import_module

import click

from venue.cli import narrow

SHORT = {
    "check": "Say whether a scenario is sound, what it implies and where its numbers come from.",
    "compare": "Compare scenarios, or changes of one, on the same visitors.",
    "contest": "Exact results of one title: who wins, and by how much.",
    "new": "Write a commented starter scenario.",
    "report": "Make one page of results: to read, print and pass on.",
    "run": "Run a venue at one catch-up strength.",
    "sensitivity": "Rank the numbers that the answer depends on, with their origin.",
    "studies": "List, show or prune what is kept of earlier studies.",
    "sweep": "Compare settings on the same visitors and recommend one.",
    "tune": "Solve for the numbers of a title that reach stated results.",
}


class _Commands(MutableMapping[str, click.Command]):
    """Commands by name, each from the file of its name."""

    def __init__(self) -> None:
        self._more: dict[str, click.Command] = {}

    def __getitem__(self, name: str) -> click.Command:
        if name not in self._more:
            if name not in SHORT:
                raise KeyError(name)
            command: click.Command = getattr(import_module(f"venue.cli.{name}"), name)
            command.context_class = narrow.Context
            self._more[name] = command
        return self._more[name]

    def __setitem__(self, name: str, command: click.Command) -> None:
        self._more[name] = command

    def __delitem__(self, name: str) -> None:
        del self._more[name]

    def __iter__(self) -> Iterator[str]:
        return iter({**SHORT, **self._more})

    def __len__(self) -> int:
        return len({**SHORT, **self._more})


class Commands(click.Group):
    """The group of all commands. Its help lists them and imports none, so that it answers at once."""

    def __init__(self, *arguments: object, **more: object) -> None:
        super().__init__(*arguments, **more)  # type: ignore[arg-type]
        self.commands = _Commands()

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """The list of commands in the help."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, SHORT[name]) for name in self.list_commands(ctx)])
