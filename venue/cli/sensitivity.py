"""`venue sensitivity`: which numbers of a scenario the answer depends on."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from venue.cli import completing, options, speech
from venue.cli.commands import SHORT
from venue.cli.progress import ProgressBar

if TYPE_CHECKING:
    from venue.study.sensitivity import SensitivityResult


@click.command(short_help=SHORT["sensitivity"])
@options.scenario
@click.option(
    "--measure",
    default="credits_per_hour",
    show_default=True,
    metavar="MEASURE",
    shell_complete=completing.measures,
    help="What to rank them by.",
)
@click.option(
    "--key", "keys", multiple=True, metavar="KEY",
    help="Move only numbers whose path begins like this, e.g. people.buy_in. May be repeated.",
)  # fmt: skip
@click.option(
    "--spread", type=options.Number("--spread 0.2"), metavar="SHARE",
    help="How far each number is moved, as a share of itself. If left out, its origin decides.",
)  # fmt: skip
@click.option(
    "--trajectories", type=options.Number("--trajectories 4", whole=True), default=4, show_default=True, metavar="N",
    help="How often each number is moved.",
)  # fmt: skip
@click.option(
    "--shares", type=options.Number("--shares 4", whole=True), default=4, show_default=True, metavar="N",
    help="For so many of the foremost, also compute their share of the variance (how much results spread); 0 for none.",
)  # fmt: skip
@click.option(
    "--samples", type=options.Number("--samples 32", whole=True), default=32, show_default=True, metavar="N",
    help="Points sampled for the shares, a power of 2. Each point takes SHARES + 2 runs.",
)  # fmt: skip
@options.strength
@options.seed
@click.option(
    "--replications", type=options.Number("--replications 2", whole=True), default=1, show_default=True, metavar="N",
    help="How often the venue is run at each point.",
)  # fmt: skip
@options.days
@options.changes
@options.means
def sensitivity(
    scenario: str, measure: str, keys: tuple[str, ...], spread: float | None, trajectories: int, shares: int,
    samples: int, **given: Any,
) -> None:  # fmt: skip
    """Move every number that may be wrong, on the same visitors, and rank them by what they change.

    \b
    Examples:
      venue sensitivity scenarios/pier.toml --key people --trajectories 6
      venue sensitivity scenarios/bar.toml --measure return_28d --shares 0 --out what-matters
    """
    from venue import api
    from venue.report import study_tables, study_text

    folder = speech.folder(given)
    loaded = speech.load(scenario, given)
    bar = ProgressBar("runs", quiet=given["quiet"] or given["as_json"])
    result: SensitivityResult = speech.with_bar(
        bar,
        lambda: api.sensitivity(
            loaded, measure, keys=keys, spread=spread, trajectories=trajectories, shares=shares, samples=samples,
            replications=given["replications"], progress=bar, **speech.means(given),
        ),
    )  # fmt: skip
    if folder is not None:
        tables = study_tables.sensitivity_files(result)
        speech.write_folder(folder, result.to_dict(), loaded, tables)
    speech.show(result.to_dict, lambda full: study_text.sensitivity_parts(result, full=full), folder, given)
