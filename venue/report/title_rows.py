"""A title's exact results as rows, for the tables of a folder."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from venue.report.rows import Rows
from venue.study.title import TitleResult


def tables(result: TitleResult) -> dict[str, Rows]:
    """Tables of a title: headline, points owed, the final margin, rule by rule, effective chances, moments."""
    plain = result.to_dict()
    headline = [
        {key: value for key, value in point.items() if key not in ("owed", "margin")} for point in plain["points"]
    ]
    owed = [
        {"strength": point["strength"], "rule": rule, **sides}
        for point in plain["points"]
        for rule, sides in point["owed"].items()
    ]
    margin = [
        {"strength": point["strength"], "margin": item["points"], "chance": item["chance"]}
        for point in plain["points"]
        for item in point["margin"]
    ]
    apart = plain["apart"]
    cases: list[dict[str, Any]] = [
        {"rules": name, "rule": "", **apart[name]} for name in ("whole", "bare", "switched_off")
    ]
    cases += [{"rules": how, "rule": rule, **item} for how in ("without", "alone") for rule, item in apart[how].items()]
    faults = [{**fault, "blame": ", ".join(fault["blame"])} for fault in plain["trailing_pays"]["faults"]]
    return {
        "headline": Rows.of(headline),
        "owed": Rows.of(owed, ("strength", "rule", "side_a", "side_b")),
        "final_margin": Rows.of(margin),
        "rule_by_rule": Rows.of(cases),
        "coded_and_effective": Rows.of(plain["coded_and_effective"], ("attempt", "side")),
        "trailing_pays": Rows.of(faults, ("margin", "left", "gain", "blame")),
        "moments": _moments(result),
    }


def _moments(result: TitleResult) -> Rows:
    moments = result.unfolded
    left, margins = np.meshgrid(moments.left, moments.margins, indexing="ij")
    columns = (left, margins, moments.win, moments.lasts)
    rows = [
        tuple(None if isinstance(value, float) and math.isnan(value) else value for value in row)
        for row in zip(*(column.ravel().tolist() for column in columns), strict=True)
    ]
    return Rows(
        (f"left_in_{'points' if moments.in_points else 'seconds'}", "margin", "side_a_wins", "lead_lasts"), rows
    )
