"""Where a document shows something else than its commands print and draw."""

from __future__ import annotations

import contextlib
import difflib
from pathlib import Path

import numpy as np
from matplotlib import image

from .played import Fresh, played

# Letters fall a little differently with another release of the drawing library.
_FAR = 0.03


def differences(document: Path, *, long: bool, workers: int | None = None) -> list[str]:
    """One text for each output or picture that is not what comes out; nothing if all are. Arguments as `played`."""
    with contextlib.closing(played(document, long=long, workers=workers)) as found:
        return [text for item in found if (text := _difference(document, item))]


def _difference(document: Path, item: Fresh) -> str:
    if item.picture is not None:
        there = document.parent / item.block.text
        return "" if there.exists() and _alike(there, item.picture) else f"{there.name} is another picture"
    return "\n".join(
        difflib.unified_diff(item.block.text.splitlines(), item.text.splitlines(), "shown", "printed", lineterm="")
    )


def _alike(first: Path, second: Path) -> bool:
    """Whether two pictures are of one size and, on the whole, of the same ink."""
    one, other = image.imread(first), image.imread(second)
    return one.shape == other.shape and float(np.mean(np.abs(one - other))) < _FAR
