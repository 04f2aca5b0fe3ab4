"""The rows of a study as data frames: every play, visit and offer, with names instead of numbers."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import numpy as np
import pandas as pd

from venue.floor.records import KINDS, OFFER_COLUMNS, OFFER_REASONS, PLAY_COLUMNS, REASONS, VISIT_COLUMNS
from venue.scenario.load import Loaded
from venue.study.point import Point
from venue.units import DAY

What = Literal["plays", "visits", "offers"]

COLUMNS = {"plays": PLAY_COLUMNS, "visits": VISIT_COLUMNS, "offers": OFFER_COLUMNS}
# When a row's time is read, to tell whether it belongs to the warm-up.
_TIMES = {"began", "ended", "arrived", "left", "next_visit", "at"}
_BEGINS = {"plays": "began", "visits": "arrived", "offers": "at"}


def rows_of(loaded: Loaded, points: Sequence[Point], what: What) -> pd.DataFrame:
    """Rows of all points and replications, in the order in which they ended.

    Before the columns of the floor stand the swept values and the replication; behind them names in clear text
    (`machine`, `title`, the reason `because`, the `kind` of offer), `warm_up`, and of plays `finished`. Times count
    from the day of the change where the venue has run before.

    Raises
    ------
    ValueError
        If the study did not keep rows.
    """
    begins = (loaded.scenario.study.days_before or 0) * DAY
    frames = []
    for point in points:
        for replication in point.replications:
            table = getattr(replication, what)
            if table is None:
                raise ValueError(f"{what} were not kept; ask for them with rows=True")
            frame = pd.DataFrame({name: table[name] for name, _, _ in COLUMNS[what]})
            for name in _TIMES & {*frame.columns}:
                frame[name] -= begins
            frame.insert(0, "replication", replication.task.replication)
            for place, (key, value) in enumerate(point.where):
                frame.insert(place, key, value)
            frames.append(frame)
    return _in_words(pd.concat(frames, ignore_index=True), loaded, what)


def _in_words(found: pd.DataFrame, loaded: Loaded, what: What) -> pd.DataFrame:
    if "because" in found:
        found["because"] = _named(found["because"], OFFER_REASONS if what == "offers" else REASONS)
    if "kind" in found:
        found["kind"] = _named(found["kind"], KINDS)
    if "machines" in found:
        machines = loaded.scenario.machines
        found["machine"] = _named(found["machines"], tuple(machines))
        found["title"] = _named(found["machines"], tuple(machine.title or "" for machine in machines.values()))
    found["warm_up"] = found[_BEGINS[what]] < loaded.scenario.study.warm_up * DAY
    if what == "plays":
        # A play without a contest cannot be left.
        found["finished"] = found["result"].notna() | (found["against"] < 0)
    return found


def _named(numbers: pd.Series[int], names: Sequence[str]) -> pd.Series[str]:
    """Names by their numbers; -1 is none, an empty text."""
    texts = np.array([*names, ""], dtype=object)
    return pd.Series(texts[numbers.to_numpy()], index=numbers.index)
