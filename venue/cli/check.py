"""`venue check`: whether a scenario is sound and where its numbers come from."""

from __future__ import annotations

from typing import Any

import click

from venue.cli import options, speech


@click.command(short_help="Say whether a scenario is sound and where its numbers come from.")
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

    loaded = speech.load(scenario, given)
    speech.show(lambda: summary.as_dict(loaded), lambda: summary.as_text(loaded, speech.width()), None, given)
    speech.say_next(["sweep", scenario, *speech.sets(given)], given)
