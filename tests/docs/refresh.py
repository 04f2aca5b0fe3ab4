"""Writes anew all that documents show of the program: `python -m tests.docs.refresh [DOCUMENT ...]`.

The reference pages, then every output and picture of every document (or of those named), by running what stands there.
"""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

from . import reference
from .blocks import DOCUMENTS
from .played import Fresh, played


def refresh(document: Path) -> bool:
    """Write the outputs and pictures of a document; says whether anything is new."""
    fresh = []
    drawn = False
    for item in played(document, long=True):
        if item.picture is not None:
            drawn |= _take(item, document)
        else:
            fresh.append(item)
    before = text = document.read_text(encoding="utf-8")
    for item in reversed(fresh):  # from the end, so that places before it stay what they are
        text = text[: item.block.start] + item.text + text[item.block.end :]
    if text != before:
        document.write_text(text, encoding="utf-8")
    return drawn or text != before


def _take(item: Fresh, document: Path) -> bool:
    target = (document.parent / item.block.text).resolve()
    assert item.picture is not None
    same = target.exists() and target.read_bytes() == item.picture.read_bytes()
    target.parent.mkdir(exist_ok=True)
    shutil.copyfile(item.picture, target)
    return not same


def main(names: list[str]) -> int:
    """Refresh the documents named, or all; 1 if one could not be."""
    failed = 0
    reference.write()
    chosen = [path for path in DOCUMENTS if not names or path.name in names or str(path) in names]
    for document in chosen:
        try:
            print(f"{document.name}: {'written anew' if refresh(document) else 'as it was'}", flush=True)
        except (RuntimeError, ValueError, OSError) as error:
            print(f"{document.name}: FAILED: {error}", flush=True)
            failed = 1
    return failed


if __name__ == "__main__":
    sys.exit(main([str(Path(name).resolve()) if "/" in name else name for name in sys.argv[1:]]))
