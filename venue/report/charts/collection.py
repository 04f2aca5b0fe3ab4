"""Which charts a result has, and those of them that go into a folder."""

from __future__ import annotations

from collections.abc import Callable

from matplotlib.figure import Figure

from venue.report.charts.frame import FOLDER, Chart, Theme
from venue.report.charts.maps import map_charts
from venue.report.charts.over_settings import (
    fairness_chart,
    leaving_chart,
    machines_chart,
    money_chart,
    protection_chart,
    retention_chart,
    take_chart,
)
from venue.report.charts.scenarios import difference_charts, ranking_chart
from venue.report.charts.title import title_charts
from venue.report.charts.trade_off import hurt_chart, trade_off_chart
from venue.report.charts.within_setting import cohort_chart, hours_chart, margin_charts, return_chart, weeks_chart
from venue.report.drawing import for_page
from venue.report.heading import note
from venue.report.page.reading import Study, study_of
from venue.report.page.record import Record
from venue.study.title_records import ContestRecord

Maker = Callable[[Study, Theme], Chart | list[Chart] | None]

_WITHIN: tuple[Maker, ...] = (hours_chart, weeks_chart, return_chart, cohort_chart, margin_charts)
_EVERY: dict[str, tuple[Maker, ...]] = {
    "sweep": (
        take_chart, map_charts, trade_off_chart, money_chart, machines_chart, retention_chart, fairness_chart,
        leaving_chart, hurt_chart, protection_chart, *_WITHIN, ranking_chart,
    ),
    "run": (*_WITHIN, ranking_chart),
    "compare": (difference_charts,),
    "contest": (title_charts,),
    "sensitivity": (ranking_chart,),
}  # fmt: skip
# What a folder holds; the page has them all.
_IN_FOLDER: dict[str, tuple[Maker, ...]] = _EVERY | {
    "sweep": (take_chart, retention_chart, map_charts, trade_off_chart, hours_chart),
}


def charts_of(study: Study, theme: Theme) -> dict[str, Chart]:
    """Every chart of a result by name."""
    return _made(study, theme, _EVERY[study.record.kind])


def folder_charts(record: Record) -> dict[str, Figure]:
    """The charts of a result as files of their own, by file name."""
    study = study_of(record)
    chosen = study.first_shown.place if study.settings else 0
    with for_page():
        charts = _made(study, FOLDER, _IN_FOLDER[record.kind])
        foot = _foot(record)
        return {name: chart.alone(chosen, foot) for name, chart in charts.items()}


def _made(study: Study, theme: Theme, makers: tuple[Maker, ...]) -> dict[str, Chart]:
    found: list[Chart] = []
    for maker in makers:
        made = maker(study, theme)
        found += made if isinstance(made, list) else [made] if made is not None else []
    return {chart.name: chart for chart in found}


def _foot(record: Record) -> str:
    """What stands under a chart in a folder: the place, and what was run."""
    data = record.data
    if isinstance(data, ContestRecord):
        title = record.loaded.scenario.titles[data.title]
        return f"{title.label or data.title}: exact results, without a floor."
    return note(record.loaded, data.replications, "")
