"""How a figure goes over the settings, in a title: at the ends and at the recommended one between them."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from venue.report.page.figures import places_of, shown
from venue.report.page.reading import SettingView, Study
from venue.study.intervals import Estimate


def stations(study: Study, known: Sequence[SettingView]) -> list[SettingView]:
    """The settings that a title names: the first, the recommended one, the last, each once."""
    ends = [*known[:1], *(item for item in known if item.place == study.best), *known[-1:]]
    return list({item.place: item for item in ends}.values())


def along(told: Sequence[tuple[SettingView, Estimate]], unit: str = "") -> str:
    """Figures at some settings, with the digits that the least sure deserves: `3015 at strength 0, 3090 at 0.75`."""
    places = min(places_of(found, unit) for _, found in told)
    return ", ".join(
        f"{shown(found, unit, places=places)} at {item.label if turn else item.name}"
        for turn, (item, found) in enumerate(told)
    )


def course(study: Study, measure: str, what: str, *, plural: bool = False) -> str:
    """How a measure goes from each setting that is named to the next, and whether that is sure; `what` is it in words,
    of one thing or of several."""
    told = stations(study, [item for item in study.settings if measure in item.measures])
    if len(told) < 2:
        return what
    figures = along([(item, item.measures[measure]) for item in told], study.unit(measure))
    legs = [_leg(study, measure, one, other)[plural] for one, other in pairwise(told)]
    way = legs[0] if len(set(legs)) == 1 else f"{legs[0]} up to {told[1].label}, then {legs[1]}"
    return f"{what} {way}: {figures}"


def _leg(study: Study, measure: str, one: SettingView, other: SettingView) -> tuple[str, str]:
    """What it does, of one thing and of several."""
    if not study.surely(measure, one, other):
        return "does not surely change", "do not surely change"
    up = other.measures[measure].mean > one.measures[measure].mean
    return ("rises", "rise") if up else ("falls", "fall")
