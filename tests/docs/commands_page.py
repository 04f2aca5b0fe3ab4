"""docs/commands.md: every command, its arguments, options and examples, from what `venue COMMAND --help` says."""

from __future__ import annotations

import textwrap

import click

from venue.cli.main import cli

HEAD = """# Commands

`venue COMMAND --help` says the same on the terminal. Results go to stdout; progress, the next command and whatever
else is only for somebody who looks on go to stderr, and only when it is a terminal.

| command | what it does |
|---|---|
"""
TAIL = """
## Exit codes

| code | meaning |
|---|---|
| 0 | done |
| 1 | a run failed; what was finished is kept |
| 2 | the command or the scenario is wrong; each fault in a line with key, value, bound and fix |
| 130 | stopped by Ctrl-C; what was finished is kept, and the same command goes on |

## The surroundings

| variable | meaning |
|---|---|
| `COLUMNS` | how wide tables may be, where the terminal does not say or you want otherwise |
| `NO_COLOR` | set to anything: no colour |
| `VENUE_STORE` | the file in which finished runs are kept; set to nothing, none are |
"""


def render() -> str:
    """The page as text."""
    names = sorted(cli.commands)
    parts = [
        HEAD + "\n".join(f"| [`venue {name}`](#venue-{name}) | {cli.commands[name].short_help} |" for name in names)
    ]
    parts += [_command(name, cli.commands[name]) for name in names]
    return "\n\n".join([*parts, TAIL.strip()]) + "\n"


def _command(name: str, command: click.Command) -> str:
    above = cli.make_context("venue", [], resilient_parsing=True)
    context = click.Context(command, info_name=name, parent=above)
    text, _, examples = textwrap.dedent(command.help or "").partition("Examples:")
    told = "\n\n".join(" ".join(part.replace("\b", "").split()) for part in text.strip().split("\n\n")).strip()
    parts = [f"## venue {name}", told, f"`{_usage(command, context)}`"]
    options = [item for item in command.get_params(context) if isinstance(item, click.Option)]
    rows = [_row(option, context) for option in options]
    parts.append("\n".join(["| option | what it does | default |", "|---|---|---|", *rows]))
    parts.append("\n".join(f"    {line.strip()}" for line in examples.strip().splitlines()))
    return "\n\n".join(parts)


def _usage(command: click.Command, context: click.Context) -> str:
    return " ".join([context.command_path, *command.collect_usage_pieces(context)])


def _row(option: click.Option, context: click.Context) -> str:
    names = ", ".join(option.opts)
    value = "" if option.is_flag else f" {option.make_metavar(context)}"
    if isinstance(option.show_default, str):
        default = f"`{option.show_default}`"
    else:
        default = f"`{option.default}`" if option.show_default and option.default is not None else ""
    return f"| `{names}{value}` | {_cell(option.help or '')} | {default} |"


def _cell(text: str) -> str:
    return text.replace("|", "\\|")
