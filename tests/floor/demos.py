"""The demo venues as the tests run them: few days, a row kept for each play and visit."""

from __future__ import annotations

import tomllib
from functools import lru_cache
from pathlib import Path
from typing import Any

import venue

from .textbook import Run, run

FOLDER = Path(__file__).parents[2] / "scenarios"
NAMES = sorted(path.stem for path in FOLDER.glob("*.toml"))
DAYS = 8  # a Monday to the next


def demo(name: str, strength: float = 1.0) -> tuple[Run, ...]:
    """Replications of a demo venue: two of the pier, one of those that take long."""
    return _demo(name, strength)


@lru_cache(maxsize=16)
def _demo(name: str, strength: float) -> tuple[Run, ...]:
    loaded = venue.load(FOLDER / f"{name}.toml", [f"study.days={DAYS}", "study.warm_up=0"])
    return tuple(run(loaded, replications=2 if name == "pier" else 1, seed=5, strength=strength))


def written(name: str) -> dict[str, Any]:
    """What a demo's file says, read without the package: numbers and texts as they stand there."""

    def bare(item: Any) -> Any:
        if isinstance(item, dict):
            return bare(item["value"]) if "value" in item else {key: bare(part) for key, part in item.items()}
        return item

    plain: dict[str, Any] = bare(tomllib.loads((FOLDER / f"{name}.toml").read_text()))
    return plain


def amount(text: str) -> float:
    """The number of seconds in "45 s" or "20 min"."""
    number, unit = text.split()
    return float(number) * {"s": 1, "min": 60, "h": 3600}[unit]
