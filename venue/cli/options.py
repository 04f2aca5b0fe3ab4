"""Options that commands share, and how their texts become values."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import click

Command = TypeVar("Command", bound=Callable[..., Any])


def parse_strengths(text: str) -> list[float]:
    """Strengths from START:STOP:STEP, both ends included, or from a list like 0,0.5,1.

    Raises
    ------
    click.BadParameter
        If the text is neither, is empty, or runs backwards.
    """
    if ":" in text:
        parts = text.split(":")
        if len(parts) != 3:
            raise click.BadParameter(f'"{text}" is not START:STOP:STEP; write it like 0:2:0.25')
        start, stop, step = (_number(part, text) for part in parts)
        if step <= 0:
            raise click.BadParameter(f'step {step:g} in "{text}" must be more than 0; write it like 0:2:0.25')
        if stop < start:
            raise click.BadParameter(f'"{text}" runs backwards; did you mean {parts[1]}:{parts[0]}:{parts[2]}?')
        count = int((stop - start) / step + 1e-9) + 1
        if count > 1000:
            raise click.BadParameter(f'"{text}" names {count} strengths, at most 1000 are studied; widen the step')
        # Rounded, so that 0.1 + 0.2 prints and compares as 0.3.
        return [round(start + index * step, 10) for index in range(count)]
    values = [_number(part, text) for part in text.split(",") if part.strip()]
    if not values:
        raise click.BadParameter("is empty; write it like 0:2:0.25 or 0,0.5,1")
    if values != sorted(values):
        raise click.BadParameter(
            f'"{text}" is not in rising order; did you mean {",".join(f"{value:g}" for value in sorted(values))}?'
        )
    return values


def _number(part: str, text: str) -> float:
    try:
        value = float(part)
    except ValueError:
        raise click.BadParameter(f'"{part}" in "{text}" is not a number; write it like 0:2:0.25') from None
    if not 0 <= value <= 100:
        raise click.BadParameter(f"{value:g} is out of bounds, must lie between 0 and 100; 1 is as designed")
    return value


def _strengths(_context: click.Context, _parameter: click.Parameter, text: str) -> list[float]:
    return parse_strengths(text)


strengths = click.option(
    "--strengths", default="0:2:0.25", show_default=True, callback=_strengths, metavar="START:STOP:STEP",
    help="Catch-up strengths, as a range or a list like 0,0.5,1.",
)  # fmt: skip
strength = click.option("--strength", type=float, metavar="S", help="Catch-up strength: 0 off, 1 as designed.")
seed = click.option("--seed", type=int, metavar="N", help="Root of every random stream.")
replications = click.option("--replications", type=int, metavar="N", help="Independent runs of the venue.")
days = click.option("--days", type=int, metavar="N", help="Days simulated in each replication.")
changes = click.option(
    "--set", "changes", multiple=True, metavar="KEY=VALUE",
    help="Change the scenario, e.g. machines.front.price=2. May be repeated.",
)  # fmt: skip
workers = click.option(
    "--workers",
    type=click.IntRange(min=1),
    metavar="N",
    help="Processes; all cores if left out. Numbers do not change.",
)
out = click.option("--out", metavar="DIR", help="Also write tables, charts and the resolved scenario to a folder.")
force = click.option("--force", is_flag=True, help="Let --out write into a folder that already holds results.")
as_json = click.option("--json", "as_json", is_flag=True, help="Print one JSON object and nothing else.")
quiet = click.option("--quiet", is_flag=True, help="No narration and no progress bar.")
scenario = click.argument("scenario", metavar="SCENARIO")


def simulation(command: Command) -> Command:
    """The options of every command that simulates."""
    for option in (quiet, as_json, force, out, workers, changes, days, replications, seed):
        command = option(command)
    return command
