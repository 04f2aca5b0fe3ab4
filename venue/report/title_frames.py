"""A title's exact results as data frames, for the tables of a folder."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from venue.study.title import TitleResult

if TYPE_CHECKING:
    import pandas as pd


def frames(result: TitleResult) -> dict[str, pd.DataFrame]:
    """Tables of a title: headline, points owed, the final margin, rule by rule, effective chances, moments."""
    import pandas as pd  # slow to import, so only where a folder is written

    plain = result.to_dict()
    margin = [
        {"strength": item.strength, "margin": points, "chance": chance}
        for item in result.headlines
        for points, chance in item.margin.items()
    ]
    apart = plain["apart"]
    cases = [{"rules": name, "rule": "", **apart[name]} for name in ("whole", "bare", "switched_off")]
    cases += [{"rules": how, "rule": rule, **item} for how in ("without", "alone") for rule, item in apart[how].items()]
    moments = result.unfolded
    left, margins = np.meshgrid(moments.left, moments.margins, indexing="ij")
    in_what = "points" if moments.in_points else "seconds"
    columns = (left, margins, moments.win, moments.lasts)
    names = (f"left_in_{in_what}", "margin", "side_a_wins", "lead_lasts")
    return {
        "headline": result.measures.reset_index(),
        "owed": result.owed,
        "final_margin": pd.DataFrame(margin),
        "rule_by_rule": pd.DataFrame(cases),
        "coded_and_effective": pd.DataFrame(plain["coded_and_effective"]),
        "trailing_pays": pd.DataFrame(
            [{**fault, "blame": ", ".join(fault["blame"])} for fault in plain["trailing_pays"]["faults"]],
            columns=["margin", "left", "gain", "blame"],
        ),
        "moments": pd.DataFrame({name: array.ravel() for name, array in zip(names, columns, strict=True)}),
    }
