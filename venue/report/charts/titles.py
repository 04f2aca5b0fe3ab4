"""Titles of charts over settings, each in one line."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from venue.report.columns import short
from venue.report.page.reading import TAKE, SettingView, Study
from venue.report.quantities import percent, places_of, shown
from venue.study.intervals import Estimate

_NAME = 20


def along(told: Sequence[tuple[SettingView, Estimate]], unit: str = "") -> str:
    """Figures at some settings, with the digits that the least sure deserves: `34.1 % at 0, 31.0 % at 2`."""
    places = min(places_of(found, unit) for _, found in told)
    return ", ".join(f"{shown(found, unit, places=places)} at {short(item.label, _NAME)}" for item, found in told)


def course(study: Study, measure: str, what: str) -> str:
    """How a measure goes from the first setting to the last, and whether that is sure."""
    known = [item for item in study.settings if measure in item.measures]
    if not known:
        return what
    ends = [known[0], known[-1]] if len(known) > 1 else known
    figures = along([(item, item.measures[measure]) for item in ends], study.unit(measure))
    return f"{what}{_way(study, measure, ends)}: {figures}"


def _way(study: Study, measure: str, ends: Sequence[SettingView]) -> str:
    if len(ends) < 2:
        return ""
    if not study.surely(measure, ends[0], ends[1]):
        return ": no sure change"
    return ", rising" if ends[1].measures[measure].mean > ends[0].measures[measure].mean else ", falling"


def take_title(study: Study) -> str:
    """What the settings differ in, in take."""
    known = [item for item in study.settings if TAKE in item.measures]
    if not known:
        return "Take"
    best = max(known, key=lambda item: item.measures[TAKE].mean)
    least = min(known, key=lambda item: item.measures[TAKE].mean)
    if len(known) > 1 and best.measures[TAKE].mean == least.measures[TAKE].mean:
        return f"Every {study.word} takes the same: {shown(best.measures[TAKE])} an hour"
    figures = along([(best, best.measures[TAKE]), *([] if least is best else [(least, least.measures[TAKE])])])
    if least is not best and not study.surely(TAKE, best, least):
        return f"No {study.word} surely takes more: {figures}"
    return f"Take an hour: {figures}"


def leaving_title(study: Study, reasons: Sequence[str]) -> str:
    """The reason to leave that changes most over the settings."""
    moved = max(reasons, key=lambda reason: float(np.ptp([item.left.get(reason, 0.0) for item in study.settings])))
    ends = (study.settings[0], study.settings[-1])
    figures = ", ".join(f"{percent(item.left.get(moved, 0.0))} at {short(item.label, _NAME)}" for item in ends)
    return f'"{moved}" changes most: {figures}'
