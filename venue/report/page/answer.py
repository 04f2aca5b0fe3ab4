"""The answer: what to do in two sentences, how sure that is, what it costs, what comes next, and what nobody knows."""

from __future__ import annotations

from venue.report.page.answer_compare import compare_answer
from venue.report.page.answer_contest import contest_answer
from venue.report.page.answer_run import run_answer, sensitivity_answer
from venue.report.page.answer_sweep import sweep_answer
from venue.report.page.answer_words import Answer
from venue.report.page.reading import Study

_BY_KIND = {
    "sweep": sweep_answer,
    "run": run_answer,
    "compare": compare_answer,
    "contest": contest_answer,
    "sensitivity": sensitivity_answer,
}


def answer_of(study: Study) -> Answer:
    """The answer of a record."""
    return _BY_KIND[study.record.kind](study)
