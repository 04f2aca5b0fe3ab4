"""Flat rows for plays, visits and offers, kept in columns: record first, compute afterwards."""

from __future__ import annotations

from struct import Struct
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
    "party left",
    "no room",
    "closing time",
    "machine failed",
    "limit reached",
)

# Why an offer was not taken: what makes people leave, and what they did instead of playing there.
OFFER_REASONS = (*REASONS, "chose another machine", "rested")

PLAY_COLUMNS = (
    ("person", "i4", "order of first arrival"),
    ("visit", "i2", "0 for the first visit"),
    ("machines", "i2", "place of the machines in the scenario"),
    ("contest", "i4", "number of the contest in the run, -1 no contest"),
    ("began", "f8", "s from the start of the run"),
    ("ended", "f8", "s from the start of the run"),
    ("credits", "i4", "credits, less those refunded"),
    ("refunded", "i4", "credits paid and given back"),
    ("periods", "i2", "periods bought"),
    ("against", "i1", "visitors on the other side at the start, 0 the computer alone, -1 no contest"),
    ("beside", "i1", "other visitors on the same side at the start"),
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
    ("party", "i1", "people who came together"),
    ("arrived", "f8", "s from the start of the run"),
    ("left", "f8", "s from the start of the run"),
    ("credits", "i4", "credits, less those refunded"),
    ("refunded", "i4", "credits paid and given back"),
    ("paid", "i4", "money paid at the till, in single credits"),
    ("plays", "i4", "plays begun"),
    ("finished", "i4", "contests played to the end"),
    ("wins", "f4", "contests won, a level one half"),
    ("offers", "i4", "buy-ins offered"),
    ("taken", "i4", "buy-ins taken"),
    ("lines", "i2", "lines joined"),
    ("gave_up", "i2", "lines left without a play"),
    ("moved", "i2", "changes to other machines"),
    ("waited", "f8", "s in lines"),
    ("chance_met", "f4", "mean perceived chance at offers"),
    ("closeness_met", "f4", "mean closeness at offers"),
    ("suspicion", "f4", "level of suspicion at the end"),
    ("empty", "i1", "1 if nothing was left to spend"),
    ("limited", "i1", "1 if a limit kept the visitor from a purchase"),
    ("because", "i1", "place of the reason in the list of reasons"),
    ("next_visit", "f8", "s from the start of the run; infinite if there is none"),
)

# Kinds of offer: for a contest or play from its start, at a period break, for another contest, for an open seat.
KINDS = ("start", "break", "again", "join")

OFFER_COLUMNS = (
    ("person", "i4", "order of first arrival"),
    ("visit", "i2", "0 for the first visit"),
    ("machines", "i2", "place of the machines in the scenario"),
    ("at", "f8", "s from the start of the run"),
    ("kind", "i1", "place of the kind in the list of kinds"),
    ("price", "i4", "credits asked for"),
    ("margin", "i2", "points ahead when it was made; 0 at a start, the last one's for another contest"),
    ("perceived", "f4", "perceived chance to win; NaN where there is no contest"),
    (
        "true_chance",
        "f4",
        "chance by the chain; NaN without a contest, and for another one among several seats",
    ),
    ("taken", "i1", "1 if it was taken"),
    ("because", "i1", "place in the list of reasons for a no; -1 if it was taken"),
)

# What the numbers of a column are in, for headers of files; columns that need no unit are left out.
UNITS = {
    "began": "s",
    "ended": "s",
    "arrived": "s",
    "left": "s",
    "waited": "s",
    "next_visit": "s",
    "at": "s",
    "gap": "log_odds",
    "grid_gap": "log_odds",
    "margin": "points",
    "price": "credits",
    "refunded": "credits",
    "paid": "single_credits",
}


# How the types of the columns are written as bytes.
_CODES = {"i1": "b", "i2": "h", "i4": "i", "f4": "f", "f8": "d"}


class Records:
    """Rows of one kind. A row is laid down in bytes as it comes, so that no Python object outlives it.

    Parameters
    ----------
    columns
        (name, NumPy type, unit or meaning) of each column, in order.
    """

    def __init__(self, columns: tuple[tuple[str, str, str], ...]) -> None:
        self.columns = columns
        self._type = np.dtype([(name, kind) for name, kind, _ in columns])
        self._pack = Struct("=" + "".join(_CODES[kind] for _, kind, _ in columns)).pack
        self._bytes = bytearray()

    def append(self, row: tuple[Any, ...]) -> None:
        """Keep one row: a value for each column, in order."""
        self._bytes += self._pack(*row)

    def table(self) -> NDArray[np.void]:
        """All rows as one structured array, in the order they ended; while it is in use no row can be added."""
        return np.frombuffer(self._bytes, dtype=self._type)
