"""The reference pages, written from the program's own declarations: `python -m tests.docs.reference`."""

from __future__ import annotations

from pathlib import Path

from . import commands_page, measures_page, scenario_page
from .blocks import ROOT


def pages() -> dict[Path, str]:
    """Every reference page as it should be, by file."""
    docs = ROOT / "docs"
    return {
        docs / "scenario.md": scenario_page.render(),
        docs / "commands.md": commands_page.render(),
        docs / "measures.md": measures_page.render(),
    }


def write() -> None:
    """Write the pages."""
    for target, text in pages().items():
        target.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    write()
