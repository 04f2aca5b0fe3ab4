"""What each rule of the titles on the floor does, for the settings of a study that a report shows.

Computed once, when results are stored: a report that is made of them solves nothing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from venue.scenario.load import Loaded
from venue.study.point import value_of
from venue.study.title import title_result
from venue.units import plain


def with_titles(result: Mapping[str, Any], loaded: Loaded) -> dict[str, Any]:
    """A result of a sweep or a run as plain data, with `titles`: each title rule by rule at the settings shown.

    They are today's setting and the recommended one; a run has one. Any other result stays as it is.
    """
    if "points" in result and "best" in result:
        today = {"strength": loaded.scenario.study.strength}
        shown = [result["best"]["at"] or result["points"][0]["at"], *(
            item["at"] for item in result["points"] if item["at"] == today
        )]  # fmt: skip
    elif "left_because" in result and "measures" in result:
        shown = [{"strength": result["strength"]}]
    else:
        return dict(result)
    return {**result, "titles": titles_taken_apart(loaded, shown)}


def titles_taken_apart(loaded: Loaded, settings: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Each title that has rules and stands on the floor, rule by rule, at each of the settings (exact).

    Returns
    -------
    list
        `title`, `at` (the setting), and `apart` as `venue contest --json` has it.
    """
    played = {machine.title for machine in loaded.scenario.machines.values()}
    keys = [key for key, title in loaded.scenario.titles.items() if title.rules and key in played]
    found = []
    for at in {tuple(item.items()): item for item in settings}.values():
        there = _at(loaded, at)
        for key in keys:
            exact = title_result(there, key, [there.scenario.study.strength])
            found.append({"title": key, "at": dict(at), "apart": exact.taken_apart()})
    return found


def _at(loaded: Loaded, at: Mapping[str, Any]) -> Loaded:
    """The scenario as it is at a setting."""
    changes = [f"{key}={value_of(value) if isinstance(value, str) else plain(value)}" for key, value in at.items()
               if key != "strength"]  # fmt: skip
    changed = loaded.vary(changes) if changes else loaded
    return changed.change(strength=float(at["strength"])) if "strength" in at else changed
