"""What a stored number depends on beside its scenario: the program that computed it."""

from __future__ import annotations

import hashlib
from functools import cache
from pathlib import Path

import numpy as np
import scipy

from venue import __version__

_PARTS = ("scenario", "contest", "players", "floor", "study")


@cache
def fingerprint() -> str:
    """Version of venue with a digest of the code that makes the numbers, and of the libraries under it.

    Code that was changed without a new version, as developers do all day, must not be served numbers of its past.
    """
    folder = Path(__file__).parents[1]
    files = sorted([*folder.glob("*.py"), *(file for part in _PARTS for file in (folder / part).glob("*.py"))])
    digest = hashlib.blake2b(digest_size=6)
    for file in files:
        digest.update(file.relative_to(folder).as_posix().encode() + b"\0" + file.read_bytes())
    return f"{__version__} {digest.hexdigest()} numpy {np.__version__} scipy {scipy.__version__}"
