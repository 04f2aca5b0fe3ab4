"""Titles of charts over settings, each in one line."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from venue.report.columns import short
from venue.report.page.reading import Study
from venue.report.quantities import percent
from venue.report.sentences import sweeps
from venue.report.sentences.parts import sentence_text

_NAME = 20


def course(study: Study, measure: str, what: str) -> str:
    """How a measure goes from the first setting to the last, and whether that is sure."""
    return what if study.view is None else sentence_text(sweeps.course(study.view, measure, what))


def take_title(study: Study) -> str:
    """What the settings differ in, in take."""
    return "Take" if study.view is None else sentence_text(sweeps.take_course(study.view))


def leaving_title(study: Study, reasons: Sequence[str]) -> str:
    """The reason to leave that changes most over the settings."""
    moved = max(reasons, key=lambda reason: float(np.ptp([item.left.get(reason, 0.0) for item in study.settings])))
    ends = (study.settings[0], study.settings[-1])
    figures = ", ".join(f"{percent(item.left.get(moved, 0.0))} at {short(item.label, _NAME)}" for item in ends)
    return f'"{moved}" changes most: {figures}'
