"""Results in a notebook: what the commands print in full, as HTML."""

from __future__ import annotations

from venue.report.layout import as_html
from venue.study.compare import CompareResult
from venue.study.display import html_of
from venue.study.results import RunResult, SweepResult
from venue.study.sensitivity import SensitivityResult


@html_of.register
def _(result: RunResult) -> str:
    from venue.report.study_text import run_parts

    return as_html(run_parts(result))


@html_of.register
def _(result: SweepResult) -> str:
    from venue.report.study_text import sweep_parts

    return as_html(sweep_parts(result))


@html_of.register
def _(result: CompareResult) -> str:
    from venue.report.study_text import compare_parts

    return as_html(compare_parts(result))


@html_of.register
def _(result: SensitivityResult) -> str:
    from venue.report.study_text import sensitivity_parts

    return as_html(sensitivity_parts(result))
