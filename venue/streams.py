"""Random streams with names, like labelled taps: opening one never changes what flows from another.

Every draw comes from a stream keyed by (seed, replication, purpose, number), where the number is a visitor's visit,
a person, a machine or a day. Nothing depends on the order of events, so the same visitors with the same traits arrive
at every catch-up strength (common random numbers), and nothing depends on how many processes share the work.

The generator is Philox, a counter-based one (Salmon, Moraes, Dror & Shaw 2011, "Parallel random numbers: as easy as
1, 2, 3", SC'11), as NumPy implements it: its 128-bit key is a hash of (seed, replication, purpose) and the number.
"""

from __future__ import annotations

import zlib
from array import array
from collections.abc import Iterator
from itertools import chain

import numpy as np

_FIRST_BLOCK = 16
_LATER_BLOCK = 64
_SHARED_BITS = 6
_MOST_SHARED = 8


class Streams:
    """All streams of one replication.

    Parameters
    ----------
    seed, replication
        Non-negative integers. The same pair gives the same streams everywhere.
    """

    def __init__(self, seed: int, replication: int) -> None:
        self.seed = seed
        self.replication = replication
        self._keys: dict[str, np.uint64] = {}
        self._shared: dict[tuple[str, int], array[float]] = {}
        self._bits = np.random.Philox(key=np.zeros(2, dtype=np.uint64))
        self._generator = np.random.Generator(self._bits)
        # One bit generator serves the short streams: setting its state costs a fifth of making a new one.
        self._state = self._bits.state
        self._words, self._counter = self._state["state"]["key"], self._state["state"]["counter"]

    def _key(self, purpose: str) -> np.uint64:
        if purpose not in self._keys:
            words = np.random.SeedSequence([self.seed, self.replication, zlib.crc32(purpose.encode())])
            self._keys[purpose] = words.generate_state(1, np.uint64)[0]
        return self._keys[purpose]

    def generator(self, purpose: str, number: int = 0) -> np.random.Generator:
        """A NumPy generator of its own for one purpose and number, for draws of whole arrays."""
        key = np.array([self._key(purpose), number], dtype=np.uint64)
        return np.random.Generator(np.random.Philox(key=key))

    def uniforms(self, purpose: str, number: int) -> Iterator[float]:
        """An endless iterator of uniforms on [0, 1) for one purpose and number; costs nothing until first used."""
        return chain.from_iterable(self.blocks(purpose, number))

    def blocks(self, purpose: str, number: int) -> Iterator[list[float]]:
        """The same uniforms in lists of some length."""
        key = self._key(purpose)
        drawn = 0
        size = _FIRST_BLOCK
        while True:
            self._seek(key, number, drawn)
            yield self._generator.random(size).tolist()
            drawn += size
            size = _LATER_BLOCK

    def first(self, purpose: str, number: int) -> float:
        """The first uniform of one purpose and number."""
        self._seek(self._key(purpose), number, 0)
        return self._generator.random()

    def row(self, purpose: str, number: int, size: int, *, shared: bool = False) -> array[float]:
        """The first `size` uniforms of one purpose and number, as an array: a slice of it costs next to nothing.

        Short streams that are nearly always needed together share a row: each owns fixed places in it, so that
        drawing more for one moves no other.

        Parameters
        ----------
        shared
            Draw the rows of 64 neighbouring numbers at once, from a stream of their own: quicker for numbers that are
            asked for in about their order.
        """
        if not shared:
            self._seek(self._key(purpose), number, 0)
            return array("d", self._generator.random(size).tobytes())
        key = (purpose, number >> _SHARED_BITS)
        table = self._shared.get(key)
        if table is None:
            while len(self._shared) >= _MOST_SHARED:
                del self._shared[next(iter(self._shared))]
            self._seek(self._key(f"{purpose}, shared"), key[1], 0)
            table = self._shared[key] = array("d", self._generator.random(size << _SHARED_BITS).tobytes())
        begin = size * (number & ((1 << _SHARED_BITS) - 1))
        return table[begin : begin + size]

    def _seek(self, key: np.uint64, number: int, drawn: int) -> None:
        words, counter = self._words, self._counter
        words[0] = key
        words[1] = number
        # Philox makes four words at a step, so a block of doubles moves its counter by a quarter of its size.
        counter[0] = drawn // 4
        self._bits.state = self._state
