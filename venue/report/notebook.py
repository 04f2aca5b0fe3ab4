"""Results in a notebook: the tables and sentences that the commands print, as HTML."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from venue.report.text_as_html import marked_up
from venue.study.compare import CompareResult
from venue.study.display import html_of
from venue.study.results import RunResult, SweepResult
from venue.study.sensitivity import SensitivityResult

# No line of a notebook is too short for a table.
_WIDE = 10_000

Result = TypeVar("Result")


def _shown(text_of: Callable[[Result, int], str], result: Result) -> str:
    with marked_up():
        return f"<div>{text_of(result, _WIDE)}</div>"


@html_of.register
def _(result: RunResult) -> str:
    from venue.report.tables import run_tables

    return _shown(run_tables, result)


@html_of.register
def _(result: SweepResult) -> str:
    from venue.report.tables import sweep_tables

    return _shown(sweep_tables, result)


@html_of.register
def _(result: CompareResult) -> str:
    from venue.report.compare import compare_text

    return _shown(compare_text, result)


@html_of.register
def _(result: SensitivityResult) -> str:
    from venue.report.sensitivity import sensitivity_text

    return _shown(sensitivity_text, result)
