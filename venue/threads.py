"""One thread a process: the matrices here are small, and one thread gives the same last bit on every machine layout."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache

from threadpoolctl import ThreadpoolController


@cache
def _controller() -> ThreadpoolController:
    return ThreadpoolController()


@contextmanager
def one_thread() -> Iterator[None]:
    """Hold NumPy's linear algebra to one thread within the block."""
    with _controller().limit(limits=1):
        yield
