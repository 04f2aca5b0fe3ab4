"""`venue check`: whether a scenario is sound, what it implies, and where its numbers come from."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from venue.cli import completing, options, speech
from venue.cli.commands import SHORT

if TYPE_CHECKING:
    from venue.scenario.load import Loaded
    from venue.study.implied import Implied


@click.command(short_help=SHORT["check"])
@click.argument("scenario", metavar="[SCENARIO]", required=False, shell_complete=completing.files)
@click.option(
    "--schema", is_flag=True,
    help="Print the JSON Schema of scenario files, by which an editor completes and checks them; takes no SCENARIO.",
)  # fmt: skip
@click.option(
    "--no-run", "run", is_flag=True, flag_value=False, default=True,
    help="Leave out what takes a short run, a second or a few.",
)  # fmt: skip
@options.changes
@options.full
@options.as_json
@options.quiet
def check(scenario: str | None, schema: bool, run: bool, **given: Any) -> None:
    """Say what a scenario implies and what will be run; with --full, the source of each number too.

    \b
    Examples:
      venue check scenarios/pier.toml
      venue check scenarios/pier.toml --set people.wallet.median=20 --full
      venue check --schema > venue-schema.json
    """
    if schema:
        _print_schema(scenario, given)
        return
    if scenario is None:
        raise click.UsageError("SCENARIO is missing")
    from venue.report import scenario_text

    loaded = speech.load(scenario, given)
    speech.show(
        lambda: scenario_text.as_dict(loaded),
        lambda full: scenario_text.check_parts(loaded, _implied(loaded, run, given), full=full),
        None,
        given,
    )
    speech.say_next(["sweep", scenario, *speech.sets(given)], given)


def _implied(loaded: Loaded, run: bool, given: dict[str, Any]) -> Implied | None:
    """What the file implies, from one short run unless that is left out."""
    if not run:
        return None
    from venue.study.implied import implied

    speech.say("one short run, to see what the file implies; --no-run leaves it out", given)
    return implied(loaded)


def _print_schema(scenario: str | None, given: dict[str, Any]) -> None:
    import json

    from venue.scenario.schema import scenario_schema

    if scenario is not None or given["changes"]:
        raise click.UsageError("--schema: is the same for every scenario; leave out SCENARIO and --set")
    click.echo(json.dumps(scenario_schema(), indent=None if given["as_json"] else 2, allow_nan=False))
