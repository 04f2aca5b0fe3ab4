"""`venue tune`: the strength, or numbers of a title, that reach stated results."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from venue.cli import options, speech
from venue.cli.commands import SHORT
from venue.cli.progress import ProgressBar

if TYPE_CHECKING:
    from venue.scenario.load import Loaded


@click.command(short_help=SHORT["tune"])
@options.scenario
@options.title
@click.option(
    "--reach", multiple=True, metavar="RESULT=VALUE", help="What to reach, e.g. close_finishes=0.6. May be repeated."
)
@click.option(
    "--by", multiple=True, metavar="KEY",
    help="A number to solve for: strength, or one of the title, e.g. rules.undertow.per_point. May be repeated. If "
    "left out, strength.",
)  # fmt: skip
@click.option(
    "--between", multiple=True, metavar="KEY=LOW:HIGH",
    help="With several: what a number may be, e.g. rules.undertow.per_point=0:0.05. If left out, within about four "
    "times its size.",
)  # fmt: skip
@click.option(
    "--keep", multiple=True, metavar="RESULT>=VALUE",
    help='A bound that the solution must keep, e.g. "better_side_wins>=0.65". May be repeated.',
)  # fmt: skip
@click.option("--more", multiple=True, metavar="RESULT", help="Instead of --reach, two results to set against each "
              "other, e.g. --more close_finishes --more skill_edge.")  # fmt: skip
@click.option("--less", multiple=True, metavar="RESULT", help="The same, where less is better.")
@click.option(
    "--within", type=float, metavar="LOG-ODDS",
    help="Instead of --reach: bring every team of the roster so near the mean strength, e.g. 0.2.",
)  # fmt: skip
@options.gap
@options.opponent
@options.difficulty
@options.strength
@options.changes
@options.as_json
@options.quiet
def tune(
    scenario: str, title: str | None, reach: tuple[str, ...], by: tuple[str, ...], between: tuple[str, ...],
    keep: tuple[str, ...], more: tuple[str, ...], less: tuple[str, ...], within: float | None,
    **given: Any,
) -> None:  # fmt: skip
    """Solve, on the exact contest, for the strength or for numbers of a title that reach results: one number exactly,
    several with the least change from the present design.

    Results: better_side_wins, skill_edge, close_finishes, level, lead_changes, comebacks, side_a_wins,
    margin_mean, margin_sd, assisted; how often an attempt goes in, effective.ATTEMPT (of one side: .A or .B); and
    holding_back, the gain from missing on purpose.

    \b
    Examples:
      venue tune scenarios/pier.toml --title tug --reach close_finishes=0.6
      venue tune scenarios/pier.toml --title tug --reach lead_changes=1.5 --by rules.undertow.per_point
      venue tune scenarios/bar.toml --title moth --reach comebacks=0.3 --keep "better_side_wins>=0.6"
      venue tune scenarios/pier.toml --title tug --reach level=0.2 --by strength --by attempts.haul.chance
      venue tune scenarios/pier.toml --title tug --more close_finishes --more skill_edge --by strength --gap 0.3
      venue tune my-venue.toml --within 0.2
    """
    if within is not None:
        if reach or by or between or keep or more or less:
            raise click.UsageError("--within levels a roster, and goes with none of the other goals; leave them out")
        _level_out(speech.load(scenario, given), title, within, given)
        return
    if bool(reach) == bool(more or less):
        raise click.UsageError("must have either --reach RESULT=VALUE, or two of --more and --less")
    loaded = speech.load(scenario, given)
    asked = {"title": title, "by": by or ("strength",), "keep": keep, "between": between}
    asked |= {key: given[key] for key in ("gap", "opponent", "difficulty")}
    if more or less:
        _front(loaded, given, more=more, less=less, **asked)
    else:
        _solve(scenario, loaded, given, reach=reach, **asked)


def _level_out(loaded: Loaded, title: str | None, within: float, given: dict[str, Any]) -> None:
    from venue.report.roster_text import levelled_parts
    from venue.study.roster import level_out, roster_result

    found = level_out(roster_result(loaded, title, gap=given["gap"], within=within))
    speech.show(found.to_dict, lambda _full: levelled_parts(found), None, given)


def _solve(scenario: str, loaded: Loaded, given: dict[str, Any], **asked: Any) -> None:
    from venue import api
    from venue.study.redesign import is_for_one

    if is_for_one(**{key: asked[key] for key in ("reach", "by", "keep", "between")}):
        from venue.report.title_text import tuned_parts

        del asked["between"]
        tuned = api.tune(loaded, **asked | {"reach": asked["reach"][0], "by": asked["by"][0]})
        key, changes = tuned.title, [tuned.change]
        speech.show(tuned.to_dict, lambda _full: tuned_parts(tuned), None, given)
    else:
        from venue.report.redesign_text import redesign_parts

        bar = _bar(given)
        found = speech.with_bar(bar, lambda: api.redesign(loaded, **asked, progress=bar))
        key, changes = found.title, list(found.changes)
        speech.show(found.to_dict, lambda _full: redesign_parts(found), None, given)
    words = [word for change in changes for word in ("--set", change)]
    speech.say_next(["contest", scenario, "--title", key, *words, *speech.sets(given)], given)


def _front(loaded: Loaded, given: dict[str, Any], **asked: Any) -> None:
    from venue import api
    from venue.report.redesign_text import front_parts

    bar = _bar(given)
    front = speech.with_bar(bar, lambda: api.design_front(loaded, **asked, progress=bar))
    speech.show(front.to_dict, lambda _full: front_parts(front), None, given)


def _bar(given: dict[str, Any]) -> ProgressBar:
    return ProgressBar("designs solved, of about", quiet=given["quiet"] or given["as_json"])
