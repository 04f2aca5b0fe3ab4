"""Flat rows, one for each play and each visit, kept in columns: record first, compute afterwards."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

REASONS = (
    "had enough",
    "found nothing",
    "chance gone",
    "tired",
    "suspicious",
    "wallet empty",
    "time up",
    "waited too long",
    "no room",
    "closing time",
)

PLAY_COLUMNS = (
    ("person", "i4", "order of first arrival"),
    ("visit", "i2", "0 for the first visit"),
    ("machines", "i2", "place of the machines in the scenario"),
    ("began", "f8", "s from the start of the run"),
    ("ended", "f8", "s from the start of the run"),
    ("credits", "i4", "credits"),
    ("periods", "i2", "periods bought"),
    ("against", "i1", "0 the computer, 1 a visitor, -1 no contest"),
    ("gap", "f4", "own skill less the opponent's at the start, log-odds"),
    ("grid_gap", "f4", "skill gap of the chain that was played, side A's less side B's, log-odds"),
    ("believed", "f4", "chance believed at the start"),
    ("true_chance", "f4", "chance by the chain at the start"),
    ("margin", "i2", "points ahead when it ended for this visitor"),
    ("result", "f4", "1 won, 0 lost, 0.5 level, NaN not finished"),
    ("better_won", "f4", "whether the better side won; the chain's chance if the line-up changed or it ended early"),
    ("close", "f4", "whether the finish was close; the chain's chance likewise"),
)

VISIT_COLUMNS = (
    ("person", "i4", "order of first arrival"),
    ("visit", "i2", "0 for the first visit"),
    ("arrived", "f8", "s from the start of the run"),
    ("left", "f8", "s from the start of the run"),
    ("credits", "i4", "credits"),
    ("plays", "i4", "plays begun"),
    ("finished", "i4", "contests played to the end"),
    ("wins", "f4", "contests won, a level one half"),
    ("offers", "i4", "buy-ins offered"),
    ("taken", "i4", "buy-ins taken"),
    ("lines", "i2", "lines joined"),
    ("gave_up", "i2", "lines left without a play"),
    ("waited", "f8", "s in lines"),
    ("chance_met", "f4", "mean perceived chance at offers"),
    ("closeness_met", "f4", "mean closeness at offers"),
    ("suspicion", "f4", "level of suspicion at the end"),
    ("empty", "i1", "1 if nothing was left to spend"),
    ("because", "i1", "place of the reason in the list of reasons"),
    ("next_visit", "f8", "s from the start of the run; infinite if there is none"),
)


class Rows:
    """Rows of one kind. Appending is a list's; `pack` moves what has gathered into typed columns.

    Parameters
    ----------
    columns
        (name, NumPy type, unit or meaning) of each column, in order.
    """

    def __init__(self, columns: tuple[tuple[str, str, str], ...]) -> None:
        self.columns = columns
        self._type = np.dtype([(name, kind) for name, kind, _ in columns])
        self._chunks: list[NDArray[np.void]] = []
        self._fresh: list[tuple[Any, ...]] = []
        self.append = self._fresh.append

    def pack(self) -> None:
        """Move gathered rows into columns."""
        if self._fresh:
            chunk = np.empty(len(self._fresh), dtype=self._type)
            for (name, _, _), values in zip(self.columns, zip(*self._fresh, strict=True), strict=True):
                chunk[name] = values
            self._chunks.append(chunk)
            self._fresh.clear()

    def table(self) -> NDArray[np.void]:
        """All rows as one structured array, in the order they ended."""
        self.pack()
        if len(self._chunks) != 1:
            self._chunks = [np.concatenate(self._chunks) if self._chunks else np.empty(0, dtype=self._type)]
        return self._chunks[0]
