"""How a process runs while it computes: on one thread, and with the collector of cyclic garbage out of the way."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache

from threadpoolctl import ThreadpoolController


@cache
def _controller() -> ThreadpoolController:
    return ThreadpoolController()


@contextmanager
def one_thread() -> Iterator[None]:
    """Hold NumPy's linear algebra to one thread within the block.

    The matrices here are small, and one thread gives the same last bit on every layout of machines.
    """
    with _controller().limit(limits=1):
        yield


@contextmanager
def no_collection() -> Iterator[None]:
    """Leave cyclic garbage alone within the block: a run makes many objects and no cycles (`tests/floor` checks it)."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()
