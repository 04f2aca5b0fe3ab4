"""Timing two pieces of work side by side: in turn, in one process, the median of the ratios pair by pair."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable


def ratio(work: Callable[[], float], yardstick: Callable[[], float], *, pairs: int = 7) -> float:
    """Median over pairs of (cost of the work) / (cost of the yardstick).

    Both return how many units they did; a cost is processor time a unit. One pair goes first and is not counted.
    """
    ratios = []
    for _ in range(pairs + 1):
        costs = []
        for piece in (work, yardstick):
            began = time.process_time()
            units = piece()
            costs.append((time.process_time() - began) / units)
        ratios.append(costs[0] / costs[1])
    return statistics.median(ratios[1:])


def report(what: str, value: float, bound: str) -> None:
    """Print a measured ratio beside its bound (shown with `pytest -s`)."""
    print(f"\n{what}: {value:.2f} ({bound})")
