"""What commands share: reading the scenario with the options laid over it, showing results, and words on the side.

Results go to stdout; narration goes to stderr, and only to a terminal.
"""

from __future__ import annotations

import os
import shlex
import shutil
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from venue.cli import colour
from venue.cli.options import BESIDE
from venue.cli.progress import ProgressBar
from venue.errors import one_line, readable

if TYPE_CHECKING:
    from venue.report.folder import Folder, Tables
    from venue.report.layout import Part
    from venue.report.page.file import ReportFile
    from venue.scenario.load import Loaded
    from venue.study.line_ups import Against

Result = TypeVar("Result")

_WIDEST = 160


def load(scenario: str, given: dict[str, Any]) -> Loaded:
    """The scenario with `--set` and the options of the study laid over it."""
    from venue.scenario.load import load as read

    study = {key: given.get(key) for key in ("strength", "seed", "replications", "days")}
    return read(scenario, given["changes"], study)


def folder(given: dict[str, Any]) -> Folder | None:
    """The folder that `--out` names, checked."""
    if given["out"] is None:
        return None
    from venue.report.folder import Folder  # and with it all that draws

    return Folder(given["out"], force=given["force"])


def page(scenario: str, command: str, given: dict[str, Any]) -> ReportFile | None:
    """The page that `--report` names, checked."""
    if given["report"] is None:
        return None
    from venue.report.page.file import ReportFile

    named = Path(given["report"])
    if given["report"] == BESIDE:
        own = f"{Path(scenario).stem}-{command}.html"
        named = Path(own) if given["out"] is None else Path(given["out"]) / "report.html"
    return ReportFile(named, option="--report", force=given["force"])


def write_folder(folder: Folder, result: dict[str, Any], loaded: Loaded, tables: Tables) -> None:
    """Write results, their tables and their charts to a folder."""
    from venue.report.charts.collection import folder_charts
    from venue.report.page.record import made

    folder.write(result, loaded, tables, folder_charts(made(result, loaded, ())))


def write_page(
    page: ReportFile | None, result: Callable[[], dict[str, Any]], loaded: Loaded, tables: Callable[[], Tables],
    given: dict[str, Any],
) -> None:  # fmt: skip
    """Write the page, if one was asked for."""
    if page is not None:
        from venue.report.page.record import made

        page.write(made(result(), loaded, tables()))
        say(f"the page is {one_line(str(page.path))}", given)


def against(given: dict[str, Any]) -> Against:
    """Whom a title is studied against."""
    from venue.study.line_ups import Against

    return Against(given["gap"], given["opponent"], given["difficulty"])


def goal(given: dict[str, Any]) -> dict[str, Any]:
    """What ends a study, as the Python interface takes it."""
    return {"precision": given["precision"], "at_most": given["at_most"]}


def means(given: dict[str, Any]) -> dict[str, Any]:
    """Who does the work and where it is kept, as the Python interface takes it; all cores if left open."""
    from venue.study.workers import all_cores

    if given["cluster"] is not None:
        if given["workers"] is not None:
            raise click.UsageError("--workers and --cluster exclude each other; a cluster has its own workers")
        return {"cluster": given["cluster"], "store": store(given)}
    return {"workers": given["workers"] or all_cores(), "store": store(given)}


def store(given: dict[str, Any]) -> Path | None:
    """The file that `--store` or VENUE_STORE names, or the user's own; None where nothing is to be kept.

    A place of one's own that cannot be written costs the keeping, not the study.
    """
    named = given["store"] if given["store"] is not None else os.environ.get("VENUE_STORE")
    if given.get("no_store") or named == "":
        return None
    if named is not None:
        return Path(named)
    path = Path(click.get_app_dir("venue")) / "replications.sqlite"
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        usable = os.access(path if path.exists() else path.parent, os.W_OK)
    except OSError:
        usable = False
    if not usable:
        click.echo(f"venue: {one_line(str(path))} cannot be written, so nothing is kept; name a --store", err=True)
    return path if usable else None


def with_bar(bar: ProgressBar, work: Callable[[], Result]) -> Result:
    """The result of some work, the bar taken away whatever happens."""
    try:
        return work()
    finally:
        bar.close()


def width() -> int:
    """Characters in a line."""
    return min(shutil.get_terminal_size((100, 24)).columns, _WIDEST)


def show(
    as_dict: Callable[[], dict[str, Any]], parts: Callable[[bool], Sequence[Part]], folder: Folder | None,
    given: dict[str, Any],
) -> None:  # fmt: skip
    """Print a result as text, or as one JSON object with `--json`.

    Parameters
    ----------
    parts
        What the result says: all of it if called with True, or else the answer and one table.
    """
    if given["as_json"]:
        import json

        click.echo(json.dumps(as_dict(), allow_nan=False))
    else:
        from venue.report.layout import as_text

        # Names come from files and stores that anybody may have written; colours are venue's own.
        text = readable(as_text(parts(given.get("full", False)), width()))
        click.echo(colour.painted(text) if colour.wanted(sys.stdout) else text)
    if folder is not None:
        say(f"written to {one_line(str(folder.path))}", given)


def say(text: str, given: dict[str, Any]) -> None:
    """Narration, for a terminal only."""
    if sys.stderr.isatty() and not given["quiet"] and not given.get("as_json"):
        click.echo(text, err=True)


def say_next(words: list[str], given: dict[str, Any]) -> None:
    """The command that could come next."""
    say(f"next: {one_line(shlex.join(['venue', *words]))}", given)


def sets(given: dict[str, Any]) -> list[str]:
    """The `--set` options given, as words of a command."""
    return [word for change in given["changes"] for word in ("--set", change)]
