"""`venue studies`: what is kept of earlier studies, and how to be rid of it."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING, Any

import click

from venue.cli import options, speech
from venue.cli.commands import SHORT
from venue.errors import InputError, one_line
from venue.units import DAY

if TYPE_CHECKING:
    from venue.study.store import KeptStudy, Store


@click.command(short_help=SHORT["studies"])
@click.argument("number", metavar="[NUMBER]", required=False, type=options.Number("venue studies 3", whole=True))
@click.option("--prune", is_flag=True, help="Forget the study of this number, or those the next three options say.")
@click.option(
    "--older-than", type=options.Number("--older-than 30", low=0), metavar="DAYS",
    help="With --prune: studies not used for so many days.",
)  # fmt: skip
@click.option("--other-versions", is_flag=True, help="With --prune: studies made by other versions of the program.")
@click.option("--all", "everything", is_flag=True, help="With --prune: all of them.")
@options.store
@options.full
@options.as_json
@options.quiet
def studies(
    number: int | None, prune: bool, older_than: float | None, other_versions: bool, everything: bool, **given: Any
) -> None:
    """List the studies whose runs are kept, show one, or forget some. What is kept is never run again.

    \b
    Examples:
      venue studies
      venue studies 3
      venue studies 3 --prune
      venue studies --prune --older-than 30 --other-versions
    """
    from venue.report import study_text as report
    from venue.report.layout import Lines
    from venue.study.store import Store

    rules = older_than is not None or other_versions or everything
    if rules and not prune:
        raise click.UsageError("--older-than, --other-versions and --all choose what to forget; add --prune")
    if prune and number is None and not rules:
        raise click.UsageError("--prune: forget which? Name a number, --older-than DAYS, --other-versions or --all")
    path = speech.store(given)
    if path is None:
        raise InputError("--store: names nothing; name the file of a store")
    if not path.exists():
        if given["store"] is not None:
            raise InputError(f"--store {path}: no such file; leave it out for your own, or run a study with it")
        none = {"store": str(path), "studies": []}
        speech.show(lambda: none, lambda _full: [Lines(f"{path}: nothing is kept yet")], None, given)
        return
    store = Store(path, lambda text: click.echo(f"venue: {one_line(text)}", err=True), to_read=not prune)
    try:
        found = store.studies()
        if number is not None and number not in [item.number for item in found]:
            known = ", ".join(str(item.number) for item in found) or "none"
            raise InputError(f"venue studies {number}: is not kept in {path}; known: {known}")
        if prune:
            _prune(
                store,
                [item for item in found if _chosen(item, number, older_than, other_versions) or everything],
                given,
            )
        elif number is not None:
            item = next(item for item in found if item.number == number)
            settings = store.settings(number)
            speech.show(
                lambda: report.study_dict(item, settings),
                lambda _full: report.study_parts(item, settings), None, given,
            )  # fmt: skip
        else:
            speech.show(
                lambda: report.studies_dict(str(path), found),
                lambda full: report.studies_parts(str(path), found, full=full), None, given,
            )  # fmt: skip
    finally:
        store.close()


def _chosen(item: KeptStudy, number: int | None, older_than: float | None, other_versions: bool) -> bool:
    old = older_than is not None and item.last < time.time() - older_than * DAY
    return item.number == number or old or (other_versions and not item.current)


def _prune(store: Store, chosen: list[KeptStudy], given: dict[str, Any]) -> None:
    gone = store.prune([item.number for item in chosen])
    plain = {"store": str(store.path), "forgotten": [item.number for item in chosen], "replications": gone}
    many = f"{len(chosen)} {'study' if len(chosen) == 1 else 'studies'}"
    text = f"forgot {many} and {gone} replications that no other study holds"
    speech.show(lambda: plain, lambda _full: [text], None, given)
