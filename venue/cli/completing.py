"""What the shell is offered when it completes a word: files, titles in them, measures. Never a traceback."""

from __future__ import annotations

from pathlib import Path

import click
from click.shell_completion import CompletionItem


def files(_context: click.Context, _parameter: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Files, which the shell knows best."""
    return [CompletionItem(incomplete, type="file")]


def folders(_context: click.Context, _parameter: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Folders, likewise."""
    return [CompletionItem(incomplete, type="dir")]


def titles(context: click.Context, _parameter: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Keys of the titles in the scenario that was named before."""
    import tomllib

    # An option that still waits for its value leaves the words before it unsorted.
    named = context.params.get("scenario") or next(iter(context.args), "")
    try:
        with Path(named).open("rb") as file:
            found = tomllib.load(file).get("titles", {})
    except (OSError, ValueError, RecursionError):
        return []
    known = [str(key) for key in found] if isinstance(found, dict) else []
    return [CompletionItem(key) for key in known if key.startswith(incomplete)]


def measures(_context: click.Context, _parameter: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Measures of a venue, with what each is."""
    from venue.study.registry import MEASURES

    return [CompletionItem(name, help=item.meaning) for name, item in MEASURES.items() if name.startswith(incomplete)]
