"""Options that commands share: how their texts become values, and the message when they cannot."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from typing import Any, TypeVar, cast

import click

from venue.cli import completing
from venue.units import plain

Command = TypeVar("Command", bound=Callable[..., Any])

STRENGTHS = "0:2:0.25"
BESIDE = "(beside the results)"
_MOST_STRENGTHS = 1000
# A number with or without its unit; a comma that stands outside brackets and quotes.
_QUANTITY = re.compile(r"\s*([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)\s*([a-zA-Z%]*)\s*")
_COMMA = re.compile(r""",(?=(?:[^"]*"[^"]*")*[^"]*$)(?![^\[]*\])""")
_WIDEST_GAP = 20.0


class Number(click.ParamType):  # type: ignore[type-arg]
    """A number, whole or not, within bounds."""

    def __init__(self, example: str, *, whole: bool = False, low: float = -math.inf, high: float = math.inf) -> None:
        self.name = "whole number" if whole else "number"
        self._example, self._whole, self._low, self._high = example, whole, low, high

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """The text as a number."""
        try:
            number = int(value) if self._whole or str(value).lstrip("+-").isdecimal() else float(value)
        except ValueError:
            self.fail(f'"{value}" must be a {self.name}; write it like {self._example}', param, ctx)
        if not self._low <= number <= self._high and (self._low, self._high) != (-math.inf, math.inf):
            bound = f"at least {self._low:g}" if self._high == math.inf else f"within {self._low:g} and {self._high:g}"
            self.fail(f"{value} must be {bound}; write it like {self._example}", param, ctx)
        return number


def refusal(error: click.ClickException) -> str:
    """One line on what is wrong with the options given."""
    text = error.format_message().rstrip(".")
    if isinstance(error, click.MissingParameter) and error.param is not None:
        text = f"{error.param.make_metavar(error.ctx)} is missing" if error.ctx else text
    elif isinstance(error, click.NoSuchOption):
        near = " or ".join(error.possibilities or ())
        text = f"{error.option_name}: no such option" + (f"; did you mean {near}?" if near else "")
    elif isinstance(error, click.BadParameter) and error.param is not None:
        return f"{error.param.opts[0]}: {error.message}"
    context = error.ctx if isinstance(error, click.UsageError) else None
    return f"{text}; see {context.command_path} --help" if context and not text.endswith("?") else text


def parse_strengths(text: str) -> list[float]:
    """Strengths from START:STOP:STEP, both ends included, or from a list like 0,0.5,1.

    Raises
    ------
    click.BadParameter
        If the text is neither, is empty, or runs backwards.
    """
    values = _stepped(text, _strength) if ":" in text else _listed(text)
    if values != sorted(values):
        raise click.BadParameter(f'"{text}" is not in rising order; did you mean {_joined(sorted(set(values)))}?')
    if len(set(values)) < len(values):
        raise click.BadParameter(f'"{text}" names one twice; did you mean {_joined(sorted(set(values)))}?')
    if len(values) > _MOST_STRENGTHS:
        raise click.BadParameter(f"names more than {_MOST_STRENGTHS} strengths; leave some out")
    return values


def parse_values(text: str) -> list[float | str]:
    """Values of any key from START:STOP:STEP, both ends included, or from a list like 1,2,3 or "20 s","40 s"."""
    parts = text.split(":")
    if len(parts) == 3 and all(_QUANTITY.fullmatch(part) for part in parts):
        units = [cast(re.Match[str], _QUANTITY.fullmatch(part))[2] for part in parts]
        unit = next((unit for unit in units if unit), "")
        if any(other not in ("", unit) for other in units):
            raise click.BadParameter(f'"{text}" mixes units; write them alike, like 20 s:60 s:20 s')
        numbers = _stepped(":".join(cast(re.Match[str], _QUANTITY.fullmatch(part))[1] for part in parts), _number)
        return [f"{plain(number)} {unit}" for number in numbers] if unit else list(numbers)
    values: list[float | str] = []
    for word in _COMMA.split(text):
        word = word.strip()
        if word:
            try:
                values.append(float(word) if not word.strip("+-.0123456789eE") else word)
            except ValueError:
                values.append(word)
    if not values:
        raise click.BadParameter("names no value; write it like KEY=1:5:1 or KEY=1,2,3")
    return values


def _stepped(text: str, number: Callable[[str, str], float]) -> list[float]:
    parts = text.split(":")
    if len(parts) != 3:
        raise click.BadParameter(f'"{text}" is not START:STOP:STEP; write it like 0:2:0.25')
    start, stop, step = (number(part, text) for part in parts)
    if step <= 0:
        raise click.BadParameter(f'step {step:g} in "{text}" must be more than 0; write it like 0:2:0.25')
    if stop < start:
        raise click.BadParameter(f'"{text}" runs backwards; did you mean {parts[1]}:{parts[0]}:{parts[2]}?')
    steps = (stop - start) / step + 1e-9
    if steps >= _MOST_STRENGTHS:
        raise click.BadParameter(f'"{text}" names more than {_MOST_STRENGTHS} strengths; widen the step')
    # Rounded, so that 0.1 + 0.2 prints and compares as 0.3.
    values = [round(start + index * step, 10) for index in range(int(steps) + 1)]
    if len(set(values)) < len(values):
        raise click.BadParameter(f'"{text}" names one twice; widen the step')
    return values


def _listed(text: str) -> list[float]:
    values = [_strength(part, text) for part in text.split(",") if part.strip()]
    if not values:
        raise click.BadParameter("is empty; write it like 0:2:0.25 or 0,0.5,1")
    return values


def _joined(values: list[float]) -> str:
    return ",".join(plain(value) for value in values)


def _number(part: str, text: str) -> float:
    try:
        return float(part)
    except ValueError:
        raise click.BadParameter(f'"{part}" in "{text}" is not a number; write it like 0:2:0.25') from None


def _strength(part: str, text: str) -> float:
    value = _number(part, text)
    if not 0 <= value <= 100:
        raise click.BadParameter(f"{part.strip()} must lie between 0 and 100; 0 is off, 1 as designed")
    return value


def _strengths(_context: click.Context, _parameter: click.Parameter, text: str | None) -> list[float] | None:
    return None if text is None else parse_strengths(text)


def _over(
    _context: click.Context, _parameter: click.Parameter, texts: Sequence[str]
) -> dict[str, list[float] | list[float | str]]:  # fmt: skip
    found: dict[str, list[float] | list[float | str]] = {}
    for text in texts:
        key, equals, values = (part.strip() for part in text.partition("="))
        if not equals or not key or not values:
            raise click.BadParameter(f'"{text}" is not KEY=VALUES; write it like machines.front.price=1:4:1')
        if key in found:
            raise click.BadParameter(f"names {key} twice; give all its values at once")
        found[key] = parse_strengths(values) if key == "strength" else parse_values(values)
    return found


def _precision(_context: click.Context, _parameter: click.Parameter, texts: Sequence[str]) -> dict[str, str]:
    found: dict[str, str] = {}
    for text in texts:
        measure, equals, width = (part.strip() for part in text.partition("="))
        if not equals or not measure or not width:
            raise click.BadParameter(f'"{text}" is not MEASURE=WIDTH; write it like credits_per_hour=1%')
        if measure in found:
            raise click.BadParameter(f"names {measure} twice; give one width")
        found[measure] = width
    return found


def _share(_context: click.Context, _parameter: click.Parameter, text: str | None) -> float | None:
    if text is None:
        return None
    try:
        return float(text.strip().removesuffix("%")) / (100.0 if text.strip().endswith("%") else 1.0)
    except ValueError:
        raise click.BadParameter(f'"{text}" must be a chance; write it like --sure 95%') from None


strengths = click.option(
    "--strengths", show_default=STRENGTHS, callback=_strengths, metavar="START:STOP:STEP",
    help="Catch-up strengths, as a range or a list like 0,0.5,1.",
)  # fmt: skip
over = click.option(
    "--over", multiple=True, callback=_over, metavar="KEY=VALUES",
    help="Sweep any number instead of strength, as a range or a list, e.g. machines.front.price=1:4:1. "
    "Twice, for every pair of values of two.",
)  # fmt: skip
title_strengths = click.option(
    "--strengths", default="0:2:0.5", show_default=True, callback=_strengths, metavar="START:STOP:STEP",
    help="Catch-up strengths, as a range or a list like 0,0.5,1.",
)  # fmt: skip
gap = click.option(
    "--gap",
    type=Number("--gap 0.3", low=-_WIDEST_GAP, high=_WIDEST_GAP),
    metavar="G",
    help="One pair of skills: by how much side A is ahead, in log-odds (a scale on which 0.4 takes 50 % to 60 %).",
)
opponent = click.option(
    "--opponent", type=click.Choice(["computer", "visitor", "two a side"]),
    help="Who sits opposite. If left out, as when the seats of the first machines that play it are full.",
)  # fmt: skip
difficulty = click.option(
    "--difficulty", metavar="KEY", help="One of the title's difficulties. If left out, the machines' own."
)
strength = click.option(
    "--strength",
    type=Number("--strength 0.5"),
    metavar="S",
    help="Catch-up strength: 0 is off, 1 as designed. If left out, the scenario's.",
)
seed = click.option(
    "--seed",
    type=Number("--seed 7", whole=True),
    metavar="N",
    help="The seed of the random numbers: another seed, other chance events. If left out, the scenario's.",
)
replications = click.option(
    "--replications",
    type=Number("--replications 20", whole=True),
    metavar="N",
    help="How often the venue is run; more runs give narrower intervals. If left out, the scenario's.",
)
keep = click.option(
    "--keep", multiple=True, metavar="MEASURE>=X",
    help="What a recommended setting must keep, e.g. 'better_side_wins>=0.65' or 'empty_wallets<=0.4'. "
    "May be repeated.",
)  # fmt: skip
sure = click.option(
    "--sure", callback=_share, metavar="CHANCE",
    help="Add runs until the best setting is known with this chance, e.g. 95%. Settings that fall behind are dropped.",
)  # fmt: skip
worth = click.option(
    "--worth",
    type=Number("--worth 0.5"),
    metavar="CREDITS",
    help="The smallest difference that matters, in credits per open hour unless study.maximise says otherwise.",
)
only = click.option(
    "--only",
    type=Number("--only 7", whole=True, low=0),
    metavar="N",
    help="Run a single replication (one simulated stretch of days), by its number; the first is 0.",
)
precision = click.option(
    "--precision", multiple=True, callback=_precision, metavar="MEASURE=WIDTH",
    help="Add runs until a measure is known to within this, e.g. credits_per_hour=1% or "
    "better_side_wins=0.002. May be repeated.",
)  # fmt: skip
at_most = click.option(
    "--at-most",
    type=Number("--at-most 500", whole=True, low=1),
    default=200,
    show_default=True,
    metavar="N",
    help="With --precision or --sure: stop at this many runs in any case.",
)
days = click.option(
    "--days",
    type=Number("--days 56", whole=True),
    metavar="N",
    help="Days simulated in each run. If left out, the scenario's.",
)
changes = click.option(
    "--set", "changes", multiple=True, metavar="KEY=VALUE",
    help="Change the scenario, e.g. machines.front.price=2. May be repeated.",
)  # fmt: skip
workers = click.option(
    "--workers",
    type=Number("--workers 2", whole=True, low=1),
    metavar="N",
    help="Processor cores to use. If left out, all. The results are the same.",
)
cluster = click.option(
    "--cluster", metavar="ADDRESS",
    help="Send the runs to the workers of a Dask scheduler, e.g. 10.0.0.5:8786. The results are the same.",
)  # fmt: skip
store = click.option(
    "--store", metavar="FILE", shell_complete=completing.files,
    help="Where finished runs are kept, so that nothing is run twice. If left out, a file in your own folder.",
)  # fmt: skip
no_store = click.option("--no-store", is_flag=True, help="Store nothing and run everything again.")
out = click.option(
    "--out", metavar="DIR", shell_complete=completing.folders,
    help="Also write tables, charts and the resolved scenario to a folder.",
)  # fmt: skip
report = click.option(
    "--report",
    is_flag=False,
    flag_value=BESIDE,
    metavar="[FILE.html]",
    help="Also write a page of the results. Without a name: report.html in the folder of --out, or a file named after "
    "the scenario.",
)
rows = click.option(
    "--rows", is_flag=True, help="With --out: also write every play, visit and offer, one row each, as CSV."
)
force = click.option("--force", is_flag=True, help="Let --out write into a folder that already holds results.")
as_json = click.option("--json", "as_json", is_flag=True, help="Print one JSON object and nothing else.")
full = click.option("--full", is_flag=True, help="Print every table and explanation, not the answer alone.")
quiet = click.option("--quiet", is_flag=True, help="No narration and no progress bar.")
scenario = click.argument("scenario", metavar="SCENARIO", shell_complete=completing.files)
title = click.option(
    "--title", metavar="KEY", shell_complete=completing.titles,
    help="Which title; may be left out when there is only one.",
)  # fmt: skip


def means(command: Command) -> Command:
    """Workers, store, and where results go."""
    for option in (quiet, as_json, full, force, out, no_store, store, cluster, workers):
        command = option(command)
    return command


def study(command: Command) -> Command:
    """The options of every command that simulates."""
    command = means(command)
    for option in (days, at_most, precision, replications, seed):
        command = option(command)
    return command


class Reporting(click.Command):
    """A command with `--report`, which takes the word after it only if that names a page: a scenario may follow it."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """The words of the command, `--report` on its own made whole."""
        whole = []
        for place, word in enumerate(args):
            after = args[place + 1] if place + 1 < len(args) else ""
            named = after.lower().endswith((".html", ".htm"))
            whole.append(f"--report={BESIDE}" if word == "--report" and not named else word)
        return super().parse_args(ctx, whole)


def simulation(command: Command) -> Command:
    """The same for a command that runs one scenario."""
    return changes(study(command))
