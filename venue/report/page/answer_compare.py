"""The answer of a comparison: what differs most, and how sure that is."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from venue.report.page.answer_words import (
    LAW,
    TRY,
    Answer,
    bullets,
    plural,
    unsure,
)
from venue.report.page.figures import difference, half, scale_of, written
from venue.report.page.markup import Content, element, name
from venue.report.page.reading import FAIR, TAKE, Study
from venue.report.page.setting_charts import RETURN
from venue.study.intervals import Estimate
from venue.study.measures import MEASURES


def compare_answer(study: Study) -> Answer:
    """What differs between scenarios."""
    result = study.record.result
    names = [str(item["name"]) for item in result["scenarios"]]
    question = [
        "What changes against ",
        name(names[0]),
        " at ",
        name(study.record.venue_name),
        "? Compared on the same visitors, "
        f"{result['replications']} {plural('replication', int(result['replications']))} of {result['days']} days.",
    ]
    sentences: list[Content] = []
    for item in result["comparisons"][:2]:
        found = next((row for row in item["differences"] if row["measure"] == TAKE), None)
        if found is not None:
            take = _changed(found)
            sure = "" if found["told_apart"] else ", which may be chance"
            sentences.append(
                [
                    element("strong", name(str(item["name"]))),
                    " changes the take by ",
                    element("strong", half(take, "", "+")),
                    f" credits per open hour{sure}; ",
                    comparison_finding(item),
                    ".",
                ]
            )
    fairness = [
        [name(str(item["name"])), ": ", _difference(row)]
        for item in result["comparisons"]
        for row in item["differences"]
        if row["measure"] in (FAIR, "skill_edge")
    ]
    people = [
        [name(str(item["name"])), ": ", _difference(row)]
        for item in result["comparisons"] for row in item["differences"]
        if row["measure"] in (RETURN, "empty_wallets", "spend_top_tenth")
    ]  # fmt: skip
    return Answer(question, sentences, {
        "What it costs in fairness": bullets(fairness),
        "What it does to people": bullets(people),
        "What to do next": bullets([LAW, TRY]),
        "What this cannot tell": unsure(study),
    })  # fmt: skip


def _changed(row: Mapping[str, Any]) -> Estimate:
    """A difference with its interval."""
    low, high = (math.nan if row[key] is None else float(row[key]) for key in ("low", "high"))
    return Estimate(float(row["difference"]), low, high, 2)


def _difference(row: Mapping[str, Any]) -> str:
    item = _changed(row)
    scale, _ = scale_of(str(row["unit"]))
    unit = "" if scale != 1 else f" {row['unit']}"
    meaning = MEASURES[row["measure"]].meaning if row["measure"] in MEASURES else str(row["measure"])
    return f"{meaning} {difference(item, str(row['unit']))}{unit}" + ("" if row["told_apart"] else " (no sure change)")


def comparison_finding(item: Mapping[str, Any]) -> str:
    """How many measures surely differ, and which most."""
    apart = [row for row in item["differences"] if row["told_apart"]]
    if not apart:
        return "no measure surely differs"
    first = apart[0]
    change = "" if first.get("change") is None else f" ({written(100 * first['change'], 1, '+')} %)"
    return (
        f"{len(apart)} of {len(item['differences'])} measures surely differ, most of all "
        f"{first['measure'].replace('_', ' ')}{change}"
    )
