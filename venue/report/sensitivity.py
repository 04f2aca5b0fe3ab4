"""What an answer hangs on, as a ranked table, each number with its origin beside it."""

from __future__ import annotations

import math
from typing import Any

import pandas as pd

from venue.report.columns import in_columns, left, paragraph, room, short
from venue.report.figures import decimals, number
from venue.report.heading import heading
from venue.report.tables import caution
from venue.scenario.numbers import DEFAULT, NOT_STATED
from venue.study.registry import MEASURES
from venue.study.results import unit_of
from venue.study.sensitivity import SensitivityResult
from venue.units import DAY, HOUR, MINUTE

_MOST_ROWS = 24
_LONGEST_NAME = 44
_SIZES = (("days", DAY), ("h", HOUR), ("min", MINUTE), ("s", 1.0))
_ORIGINS = ("measured", "fitted", "common practice", "assumed", NOT_STATED, DEFAULT)


def _unit(result: SensitivityResult) -> str:
    return unit_of(result.plan.measure, MEASURES[result.plan.measure], result.loaded.scenario.venue.money)


def sensitivity_text(result: SensitivityResult, width: int = 100) -> str:
    """The ranking as text."""
    study = result.loaded.scenario.study
    ranking = result.ranking
    shown = ranking.iloc[:_MOST_ROWS]
    places = decimals(float(shown["half_width"].max()), float(shown["effect"].max()))
    names = [short(str(key), _LONGEST_NAME) for key in shown.index]
    rows = [
        [
            name, left(str(row["from"]), max(room(item) for item in _ORIGINS)), _range(row),
            _cell(row["effect"], row["half_width"], places), number(row["mean_effect"], places, "+"),
            _share(row["share_first"], row["share_first_half_width"]),
            _share(row["share_total"], row["share_total_half_width"]),
        ]
        for name, (_, row) in zip(names, shown.iterrows(), strict=True)
    ]  # fmt: skip
    head = ["number", left("from", 1), "moved between", f"effect on\n{result.plan.measure}", "with sign",
            "share of\nvariance", "with\ninterplay"]  # fmt: skip
    if result.shares is None:
        head, rows = head[:-2], [row[:-2] for row in rows]
    first = ranking.iloc[0]
    parts = [
        heading(
            result.loaded,
            f"what {result.plan.measure} ({_unit(result)}) hangs on, at strength {study.strength:g}; {result.runs} "
            f"runs of {study.days} days, the first {study.warm_up} left out; seed {study.seed}",
            width,
        ),
        in_columns(head, rows, width=width, flush_left=2, caption="Numbers by what they change, the foremost first"),
    ]
    if len(ranking) > len(shown):
        parts.append(paragraph(f"{len(ranking) - len(shown)} more have less effect; --out and --json have all.", width))
    if result.left_out:
        parts.append(paragraph(f"Not moved, being nought or without room: {', '.join(result.left_out)}.", width))
    parts.append(
        paragraph(
            "Effect: by how much the measure changes, on average, as the number goes from one end of its range to the "
            "other, wherever the others stand (mean absolute elementary effect, with half its 95 % interval). Ranges "
            "follow origins: measured ± 5 %, fitted ± 10 %, common practice ± 20 %, anything else ± 30 %, unless "
            "--spread says otherwise. Shares: of the variance that the foremost numbers make together."
            if result.plan.spread is None
            else "Effect: by how much the measure changes, on average, as the number goes from one end of its range to "
            "the other, wherever the others stand (mean absolute elementary effect, with half its 95 % interval). "
            "Shares: of the variance that the foremost numbers make together.",
            width,
        )
    )
    parts.append(paragraph(_advice(result, str(ranking.index[0]), str(first["from"])), width))
    parts.append(caution(width))
    return "\n\n".join(parts)


def _range(row: pd.Series[Any]) -> str:
    if row["unit"] == "s":
        return f"{_duration(row['low'])} to {_duration(row['high'])}"
    return f"{row['low']:.4g} to {row['high']:.4g}"


def _duration(seconds: float) -> str:
    unit, size = next((name, size) for name, size in _SIZES if seconds >= 2 * size or size == 1.0)
    return f"{seconds / size:.3g} {unit}"


def _advice(result: SensitivityResult, key: str, source: str) -> str:
    known = {"measured", "fitted"}
    if source not in known:
        return f"To measure next: {key}, which is {source.removesuffix(' (assumed)')} and moves the answer most."
    unknown = next((factor for factor in result.factors if factor.source not in known), None)
    rest = f" Of those that are not: {unknown.key}." if unknown else ""
    return f"What moves the answer most, {key}, is {source}.{rest}"


def _cell(value: float, half: float, places: int) -> str:
    return number(value, places) if math.isnan(half) else f"{number(value, places)} ± {half:.{places}f}"


def _share(value: float, half: float) -> str:
    return "-" if math.isnan(value) else f"{value:.2f} ± {half:.2f}"


def sensitivity_tables(result: SensitivityResult) -> dict[str, pd.DataFrame]:
    """Tables by file name: the ranking, and the effects on every measure."""
    frames = {name: result.effects_on(name) for name in MEASURES}
    every = pd.concat(frames, names=["measure"]).reset_index()
    return {"ranking": result.ranking.reset_index(), "effects": every}
