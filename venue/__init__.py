"""venue: what catch-up strength does to credits per hour, retention and fairness in coin-op venues.

`load`, `run`, `sweep`, `compare`, `sensitivity`, `solve`, `inspect`, `watch`, `tune`, `redesign` and `design_front` are
the Python interface; they are imported when first used, so that `import venue` and `venue --help` stay quick.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from venue.api import compare, design_front, inspect, load, redesign, run, sensitivity, solve, sweep, tune, watch

__version__ = "0.1.0"
__all__ = ["__version__", "compare", "design_front", "inspect", "load", "redesign", "run", "sensitivity", "solve",
           "sweep", "tune", "watch"]  # fmt: skip


def __getattr__(name: str) -> Any:
    if name in __all__:
        from venue import api

        return getattr(api, name)
    raise AttributeError(f"module 'venue' has no attribute {name!r}")
