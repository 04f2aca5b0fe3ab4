"""The blocks of a document that can be run or drawn, in the order they stand, with the notes that belong to them.

A note is a comment of one line right before a block, unseen by readers:

    <!-- quick -->                    (commands) run in the usual suite too, not among the slow checks alone
    <!-- long -->                     (python) run among the slow checks alone, not in the usual suite
    <!-- refused -->                  (text) the words on stderr of a command that exits with 2
    <!-- printed by: COMMAND -->      (text) what printed it, where that is not the block right before
    <!-- parts: WORDS | WORDS -->     (text) only the parts, set apart by empty lines, that hold one of these
    <!-- rows: WORDS | WORDS -->      (text) of each table only the rows that hold one of these
    <!-- into: FILE -->               (toml) takes the place of the tables of the same names in a file, or its end
    <!-- drawn by: FILE -->           (picture) a file that the commands so far have left

A text block right after commands or Python is what they print.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
DOCUMENTS = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").rglob("*.md"))]
NOTES = ("quick", "long", "refused", "printed by", "parts", "rows", "into", "drawn by")
PICTURE = "picture"

_PIECE = re.compile(
    r"^<!-- (?P<note>.*?) -->$|^```(?P<language>\w+)\n(?P<text>.*?)^```$|^!\[[^\]]*\]\((?P<picture>[^)\s]+)\)$",
    re.MULTILINE | re.DOTALL,
)


@dataclass(frozen=True)
class Block:
    """One block: its language, its text (of a picture: where it lies) and where in the document that text stands."""

    language: str
    text: str
    notes: dict[str, str]
    start: int
    end: int
    follows: bool  # whether it stands right behind another block

    def words(self, note: str) -> list[str]:
        """What a note names, one by one; nothing if there is no such note."""
        return [word.strip() for word in self.notes.get(note, "").split("|") if word.strip()]

    @property
    def is_quick(self) -> bool:
        """Whether it is run in the usual suite too: commands marked as quick, and Python unless it is marked long."""
        return "quick" in self.notes or (self.language == "python" and "long" not in self.notes)

    def commands(self) -> list[str]:
        """Command lines, comments left out."""
        lines = [line.strip() for line in self.text.replace("\\\n", " ").splitlines()]
        return [line for line in lines if line and not line.startswith("#")]


def blocks_of(document: Path) -> Iterator[Block]:
    """The blocks of a document.

    Raises
    ------
    ValueError
        If a note is none of the known ones, or stands before no block.
    """
    text = document.read_text(encoding="utf-8")
    notes: dict[str, str] = {}
    last, follows = 0, False
    for piece in _PIECE.finditer(text):
        alone = text[last : piece.start()].strip() == ""
        if notes and not alone:
            raise ValueError(f"{document.name}: a note {list(notes)} stands before no block")
        follows, last = follows and alone, piece.end()
        if piece["note"] is not None:
            key, _, value = (part.strip() for part in piece["note"].partition(": "))
            if key not in NOTES:
                raise ValueError(f"{document.name}: no such note: {key}")
            notes[key] = value
            continue
        group = "text" if piece["picture"] is None else "picture"
        yield Block(piece["language"] or PICTURE, piece[group], notes, *piece.span(group), follows)
        notes, follows = {}, True


def blocks(document: Path, language: str) -> list[str]:
    """Texts of the blocks in one language."""
    return [block.text for block in blocks_of(document) if block.language == language]


def commands(document: Path) -> list[str]:
    """Command lines of a document, comments left out."""
    return [line for block in blocks_of(document) if block.language == "sh" for line in block.commands()]


def is_setup(command: str) -> bool:
    """Whether a command makes an environment or needs the developer's tools; CI runs those itself."""
    return not command.startswith("venue ")
