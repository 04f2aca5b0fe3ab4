"""The fenced blocks of a document: commands (`sh`) and Python (`python`), in the order they stand."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).parents[2]
DOCUMENTS = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").glob("*.md"))]
_FENCE = re.compile(r"^```(\w+)\n(.*?)^```", re.MULTILINE | re.DOTALL)


def blocks(document: Path, language: str) -> list[str]:
    """Texts of the blocks in one language."""
    return [text for found, text in _FENCE.findall(document.read_text(encoding="utf-8")) if found == language]


def commands(document: Path) -> list[str]:
    """Command lines of a document, comments left out."""
    lines = [line.strip() for text in blocks(document, "sh") for line in text.replace("\\\n", " ").splitlines()]
    return [line for line in lines if line and not line.startswith("#")]


def is_setup(command: str) -> bool:
    """Whether a command makes an environment, needs the developer's tools, or takes long; CI runs those themselves."""
    return not command.startswith("venue ")
