"""What a stored number depends on, apart from its scenario: the program, and how its machine rounds."""

from __future__ import annotations

import hashlib
import platform
from functools import cache
from pathlib import Path

import numpy as np
import scipy
import simpy

from venue import __version__
from venue.threads import one_thread

_PARTS = ("scenario", "contest", "visitors", "floor", "study")


@cache
def fingerprint() -> str:
    """Version of venue with a digest of the code that makes the numbers, and of what it runs on.

    Code that was changed without a new version, as developers do all day, must not be served numbers of its past.
    """
    folder = Path(__file__).parents[1]
    files = sorted([*folder.glob("*.py"), *(file for part in _PARTS for file in (folder / part).glob("*.py"))])
    digest = hashlib.blake2b(digest_size=6)
    for file in files:
        digest.update(file.relative_to(folder).as_posix().encode() + b"\0" + file.read_bytes())
    python = ".".join(platform.python_version_tuple()[:2])
    return (
        f"{__version__} {digest.hexdigest()} python {python} numpy {np.__version__} scipy {scipy.__version__} "
        f"simpy {simpy.__version__}"
    )


@cache
def rounding() -> str:
    """Digest of a fixed piece of arithmetic, to the last bit: processors and libraries that round otherwise differ.

    Linear algebra and elementary functions choose their code by processor, so that the same program need not give the
    same bits on two machines.
    """
    from scipy import special

    numbers = np.linspace(-6.0, 6.0, 1009)
    shares = np.linspace(0.001, 0.999, 1009)
    square = special.expit(np.outer(numbers[:97], numbers[-97:]))
    square /= square.sum(axis=1, keepdims=True)
    with one_thread():
        parts = [
            np.exp(numbers), np.log(shares), np.sqrt(shares), np.sin(numbers), special.expit(numbers),
            special.ndtr(numbers), special.ndtri(shares), special.stdtrit(9.0, shares),
            np.linalg.matrix_power(square, 7), np.linalg.solve(np.eye(97) - square / 2.0, square),
            square @ numbers[:97],
        ]  # fmt: skip
    return hashlib.blake2b(b"".join(part.tobytes() for part in parts), digest_size=6).hexdigest()
