"""What the rules of a title do, exactly."""

from __future__ import annotations

from venue.report.sentences.parts import Sentence
from venue.study.findings import (
    ContestFindings,
)


def trailing(found: ContestFindings) -> Sentence:
    """Whether losing a point on purpose pays."""
    if not found.trailing_pays:
        return ("At no score does losing a point on purpose pay.",)
    scores = "1 score" if found.scores == 1 else f"{found.scores} scores"
    return (f"At {scores} losing a point on purpose pays.",)
