"""`venue report`: results as one page to read, print and pass on."""

from __future__ import annotations

import click

from venue.cli import completing, options, speech
from venue.cli.commands import SHORT
from venue.errors import one_line


@click.command(short_help=SHORT["report"])
@click.argument("results", metavar="RESULTS", shell_complete=completing.folders)
@click.option(
    "--out", metavar="FILE.html", help="Where to write it; report.html in the folder of the results if left out."
)
@click.option(
    "--sensitivity",
    metavar="RESULTS",
    help="Results of venue sensitivity on the same scenario, to show which numbers the answer depends on.",
)
@click.option(
    "--format", "kinds", multiple=True, type=click.Choice(["svg", "png", "pdf"]),
    help="Also write each chart as a file of this kind, to a folder next to the page. May be repeated.",
)  # fmt: skip
@options.force
@options.quiet
def report(
    results: str, out: str | None, sensitivity: str | None, kinds: tuple[str, ...], force: bool, quiet: bool
) -> None:
    """Make one page of results, a folder that --out wrote: the answer, its charts, its tables, in a file that needs no
    network.

    \b
    Examples:
      venue report results
      venue report results --sensitivity what-matters --out pier.html --format pdf
    """
    from venue.report.page.file import ReportFile
    from venue.report.page.record import beside, read

    record = read(results)
    for name, why in record.left_out.items():
        told = why or f"{name} was not written with these results"
        click.echo(f"venue: {one_line(results)}: {one_line(told)}; it is left out", err=True)
    if sensitivity is not None:
        record = record.with_sensitivity(read(sensitivity))
    file = ReportFile(out if out is not None else beside(results), force=force)
    file.write(record, list(dict.fromkeys(kinds)))
    click.echo(one_line(str(file.path)))
    if kinds and not quiet:
        speech.say(f"charts are in {file.charts_folder}", {"quiet": quiet})
