"""An axis of a sweep: one key of the scenario and the values it takes in turn."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import product
from typing import Any

from venue.errors import InputError
from venue.scenario.load import Loaded
from venue.scenario.overlay import key_path
from venue.study.point import Value
from venue.study.series import Variant
from venue.study.strengths import STRENGTH
from venue.units import plain

MOST_SETTINGS = 1000
MOST_AXES = 2

Over = Mapping[str, Sequence[Any]]


def variants_over(loaded: Loaded, over: Over) -> list[Variant]:
    """One variant for each combination of values, the last key changing quickest.

    Parameters
    ----------
    over
        Values by key path; `strength` stands for `study.strength`.

    Raises
    ------
    InputError
        If there are no values, one twice, more than two keys or 1,000 combinations, or a value that the key does not
        take.
    """
    over = {STRENGTH if key == "study.strength" else key: tuple(values) for key, values in over.items()}
    _check(over)
    # Each value is checked alone first, so that a mistake is reported once, by its own key.
    for key, values in over.items():
        for value in values:
            _with(loaded, [(key, value)])
    return [
        Variant(_with(loaded, list(zip(over, values, strict=True))),
                tuple((key, _shown(value)) for key, value in zip(over, values, strict=True)))
        for values in product(*over.values())
    ]  # fmt: skip


def _check(over: Over) -> None:
    if not over:
        raise InputError("--over: names no key; write it like --over strength=0:2:0.5")
    if len(over) > MOST_AXES:
        raise InputError(f"--over: names {len(over)} keys, at most {MOST_AXES} fit into a chart; leave some out")
    count = 1
    for key, values in over.items():
        if not values:
            raise InputError(f"--over {key}: names no value; write it like --over {key}=1,2,3")
        if len(set(map(_shown, values))) < len(values):
            raise InputError(f"--over {key}: names a value twice; name each once")
        if key != STRENGTH and (not key_path(key) or key_path(key)[0] == "study"):
            raise InputError(
                f"--over {key}: is no key to sweep; name one of the venue, its people, titles or machines, or strength"
            )
        count *= len(values)
    if count > MOST_SETTINGS:
        raise InputError(f"--over: makes {count} settings, must be at most {MOST_SETTINGS}; widen a step")


def _with(loaded: Loaded, values: Iterable[tuple[str, Any]]) -> Loaded:
    changes = []
    for key, value in values:
        if key == STRENGTH:
            loaded = loaded.change(strength=value)
        else:
            changes.append(f"{key}={_text(value)}")
    return loaded.vary(changes, "--over") if changes else loaded


def _text(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int | float):
        return plain(float(value))
    return str(value)


def _shown(value: Any) -> Value:
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else _text(value)
