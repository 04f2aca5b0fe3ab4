"""`venue tune`: the strength, or one number of a title, that reaches a stated result."""

from __future__ import annotations

from typing import Any

import click

from venue.cli import options, speech
from venue.cli.commands import SHORT


@click.command(short_help=SHORT["tune"])
@options.scenario
@options.title
@click.option("--reach", required=True, metavar="RESULT=VALUE", help="What to reach, e.g. close_finishes=0.6.")
@click.option(
    "--by", default="strength", show_default=True, metavar="KEY",
    help="The number to solve for: strength, or a number of the title, e.g. rules.undertow.per_point.",
)  # fmt: skip
@click.option(
    "--keep", multiple=True, metavar="RESULT>=VALUE",
    help='A bound that the solution must keep, e.g. "better_side_wins>=0.65". May be repeated.',
)  # fmt: skip
@options.gap
@options.strength
@options.changes
@options.as_json
@options.quiet
def tune(
    scenario: str, title: str | None, reach: str, by: str, keep: tuple[str, ...], gap: float | None, **given: Any
) -> None:
    """Solve, on the exact contest, for the strength or for one number of a title that reaches a result.

    Results: better_side_wins, skill_edge, close_finishes, level, lead_changes, comebacks, side_a_wins,
    margin_mean, margin_sd, assisted.

    \b
    Examples:
      venue tune scenarios/pier.toml --title tug --reach close_finishes=0.6
      venue tune scenarios/pier.toml --title tug --reach lead_changes=1.5 --by rules.undertow.per_point
      venue tune scenarios/bar.toml --title moth --reach comebacks=0.3 --keep "better_side_wins>=0.6"
    """
    from venue import api
    from venue.report import title_text

    loaded = speech.load(scenario, given)
    tuned = api.tune(loaded, title, reach=reach, by=by, keep=keep, gap=gap)
    speech.show(tuned.to_dict, lambda _full: title_text.tuned_parts(tuned), None, given)
    speech.say_next(["contest", scenario, "--title", tuned.title, "--set", tuned.change, *speech.sets(given)], given)
