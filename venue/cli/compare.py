"""`venue compare`: scenarios, or changes of one, in pairs on the same visitors."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from venue.cli import completing, options, speech
from venue.cli.commands import SHORT
from venue.cli.progress import ProgressBar

if TYPE_CHECKING:
    from venue.study.compare import CompareResult


@click.command(cls=options.Reporting, short_help=SHORT["compare"])
@click.argument("scenarios", metavar="SCENARIO...", nargs=-1, required=True, shell_complete=completing.files)
@click.option(
    "--set", "changes", multiple=True, metavar="KEY=VALUE",
    help="Compare the first scenario with itself so changed. Repeated, each is a change of its own; "
    "join several into one with semicolons.",
)  # fmt: skip
@options.strength
@options.report
@options.study
def compare(scenarios: tuple[str, ...], **given: Any) -> None:
    """Run scenarios on the same visitors and say what each changes against the first; with --full, in every measure.

    \b
    Examples:
      venue compare scenarios/pier.toml --set machines.tug.price=3
      venue compare scenarios/pier.toml --set "machines.tug.price=3; machines.tug.count=5" --set people.skill.sd=0.5
      venue compare scenarios/pier.toml my-pier.toml --replications 20 --out differences
    """
    from venue import api
    from venue.report import study_tables, study_text

    folder, page = speech.folder(given), speech.page(scenarios[0], "compare", given)
    loaded = [speech.load(scenario, {**given, "changes": ()}) for scenario in scenarios]
    changed = [tuple(part.strip() for part in text.split(";") if part.strip()) for text in given["changes"]]
    bar = ProgressBar("replications", quiet=given["quiet"] or given["as_json"])
    result: CompareResult = speech.with_bar(
        bar,
        lambda: api.compare(
            loaded[0], *loaded[1:], *changed, **speech.goal(given), **speech.means(given), progress=bar
        ),
    )
    if folder is not None:
        speech.write_folder(folder, result.to_dict(), result.loaded, study_tables.compare_files(result))
    speech.write_page(page, result.to_dict, result.loaded, lambda: study_tables.compare_files(result), given)
    speech.show(result.to_dict, lambda full: study_text.compare_parts(result, full=full), folder, given)
    if len(changed) == 1 and len(scenarios) == 1:  # the strength that was right may not be right any more
        speech.say_next(["sweep", scenarios[0], *(word for part in changed[0] for word in ("--set", part))], given)
