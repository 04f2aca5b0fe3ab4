"""`venue sweep`: several settings on the same visitors, and the one to run at."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import click

from venue.cli import options, speech
from venue.cli.commands import SHORT
from venue.cli.progress import ProgressBar

if TYPE_CHECKING:
    from venue.study.results import SweepResult


@click.command(cls=options.Reporting, short_help=SHORT["sweep"])
@options.scenario
@options.strengths
@options.over
@options.keep
@options.sure
@options.worth
@options.report
@options.simulation
def sweep(
    scenario: str,
    strengths: list[float] | None,
    over: dict[str, list[Any]],
    keep: tuple[str, ...],
    sure: float | None,
    worth: float | None,
    **given: Any,
) -> None:
    """Run a venue in several settings, on the same visitors, and recommend one: catch-up strengths, or any number.

    \b
    Examples:
      venue sweep scenarios/pier.toml --strengths 0:2:0.25
      venue sweep scenarios/bar.toml --replications 20 --set machines.locks.price=2 --out results
      venue sweep scenarios/pier.toml --over machines.tug.price=1:4:1 --over strength=0,0.5,1
      venue sweep scenarios/pier.toml --keep "better_side_wins>=0.7" --sure 95% --worth 1
    """
    from venue import api
    from venue.report import study_tables, study_text
    from venue.study.point import value_of

    if strengths is not None and over:
        raise click.UsageError("--strengths and --over exclude each other; write --over strength=0:2:0.5")
    folder, page = speech.folder(given), speech.page(scenario, "sweep", given)
    loaded = speech.load(scenario, given)
    bar = ProgressBar("replications", quiet=given["quiet"] or given["as_json"])
    result: SweepResult = speech.with_bar(
        bar,
        lambda: api.sweep(
            loaded,
            strengths=strengths or options.parse_strengths(options.STRENGTHS),
            over=over or None,
            keep=keep,
            sure=sure,
            worth=worth,
            progress=bar,
            **speech.goal(given),
            **speech.means(given),
        ),
    )
    if folder is not None:
        speech.write_folder(folder, result.to_dict(), loaded, study_tables.sweep_files(result))
    speech.write_page(page, result.to_dict, loaded, lambda: study_tables.sweep_files(result), given)
    speech.show(result.to_dict, lambda full: study_text.sweep_parts(result, full=full), folder, given)
    if result.best.chance_right is not None and result.findings.run_on and sure is None:
        words = [*_settings(strengths, over), *_repeated("--keep", keep), *speech.sets(given)]
        for key in ("seed", "days"):
            words += [] if given[key] is None else [f"--{key}", str(given[key])]
        speech.say_next(["sweep", scenario, *words, "--sure", "95%"], given)
    elif result.best_point is not None:
        at = dict(result.best_point.where)
        strength = at.pop("strength", None)
        changes = [word for key, value in at.items() for word in ("--set", f"{key}={value_of(value)}")]
        words = [] if strength is None else ["--strength", value_of(strength)]
        speech.say_next(["run", scenario, *speech.sets(given), *changes, *words], given)


def _settings(strengths: list[float] | None, over: dict[str, list[Any]]) -> list[str]:
    """What was swept, as words of a command."""
    from venue.study.point import value_of

    listed = {key: ",".join(map(value_of, values)) for key, values in over.items()}
    if strengths is not None:
        return ["--strengths", ",".join(map(value_of, strengths))]
    return _repeated("--over", [f"{key}={values}" for key, values in listed.items()])


def _repeated(option: str, values: Sequence[str]) -> list[str]:
    return [word for value in values for word in (option, value)]
