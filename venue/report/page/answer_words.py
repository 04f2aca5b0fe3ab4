"""Words that the answers of all commands share: figures in a sentence, what is done to people, what nobody knows."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from venue.report.page.figures import difference, figure, span
from venue.report.page.markup import Content, Markup, element, name
from venue.report.page.reading import SettingView, Study
from venue.report.page.setting_charts import RETURN
from venue.scenario.numbers import DEFAULT, NOT_STATED
from venue.study.intervals import Estimate

KNOWN = ("measured", "fitted")
_MODEL = (
    "Intervals speak of chance within the model, not of the model's truth. Tastes are utilities in a model of choice, "
    "not laws; evidence that close contests keep people playing is mixed."
)
# In the order of how much doubt they leave.
_UNKNOWN = {
    "common practice": "common practice",
    "assumed": "assumed",
    NOT_STATED: "not stated",
    DEFAULT: "left at a default",
}
TRY = (
    "Before changing every machine, set one machine to it for a few weeks and count credits and complaints beside the "
    "others: only the floor can say whether the model holds."
)
LAW = (
    "Look first to local law and to your licence: changing chances without telling players may be restricted, above "
    "all where prizes, stakes or minors are involved."
)


@dataclass(frozen=True)
class Answer:
    """What stands at the top of the page.

    Attributes
    ----------
    question, sentences
        What was asked, and the answer in two sentences.
    besides
        A sentence on what could be chosen as well.
    parts
        Headed paragraphs: how sure, what it costs, what it does to people, what next, what is unsure.
    """

    question: Content
    sentences: Sequence[Content]
    parts: Mapping[str, Sequence[Content]] = field(default_factory=dict)
    besides: Content = None


def with_span(item: Estimate, unit: str, words: str = "") -> list[Content]:
    """A mean, what it is of, and its interval behind it."""
    between = span(item, unit)
    return [figure(item, unit), words, f" (95 % interval {between})" if between else ""]


def setting_name(study: Study, item: SettingView, *, short: bool = False) -> Content:
    """A setting in a sentence: `catch-up strength 0.75`, or its keys and values."""
    if study.keys == ("strength",):
        return item.label if short else f"catch-up strength {item.label}"
    return name(item.label if short else item.name)


def listed(items: Sequence[Content], last: str = "and") -> list[Content]:
    """Things in a sentence: a, b and c."""
    parts: list[Content] = []
    for place, item in enumerate(items):
        if place:
            parts.append(f" {last} " if place == len(items) - 1 else ", ")
        parts.append(item)
    return parts


def plural(word: str, count: int) -> str:
    """A word for one or several."""
    return word if count == 1 else f"{word}s"


def bullets(items: Sequence[Content]) -> list[Content]:
    """A list, if there is anything in it."""
    return [element("ul", [element("li", item) for item in items])] if items else []


def command(text: str) -> Markup:
    """A command for a terminal."""
    return element("code", text, class_="command")


def people(study: Study, best: SettingView) -> list[Content]:
    """What a setting does to those who come, against the unaided one."""
    base = study.unaided
    parts: list[Content] = []
    for measure, text in (
        (RETURN, "visits followed by another within 28 days"),
        ("empty_wallets", "visits that end with an empty wallet"),
        ("spend_top_tenth", "the take that comes from the top tenth of spenders"),
    ):
        item = best.measures.get(measure)
        if item is None:
            continue
        line: list[Content] = [element("strong", figure(item, "share")), f" of {text}"]
        change = None if base is None else base.against.get(measure)
        if change is not None and base is not None:
            moved = change.turned
            sure = math.isnan(moved.low) or moved.low > 0 or moved.high < 0
            off = "catch-up off" if dict(base.at).get("strength") == 0 else setting_name(study, base, short=True)
            line += [" (", difference(moved, "share"), " against ", off, "" if sure else ": no sure change", ")"]
        parts.append(line)
    return bullets(parts)


def foremost(study: Study) -> Mapping[str, Any] | None:
    """The number that the answer hangs on most, where that was studied."""
    found = study.record.sensitivity
    return found["numbers"][0] if found and found.get("numbers") else None


def origins(study: Study) -> dict[str, int]:
    """How many numbers of the scenario come from where."""
    return dict(Counter(row["from"] for row in study.record.numbers))


def unsure(study: Study) -> list[Content]:
    """What the answer cannot tell."""
    found = origins(study)
    every = sum(found.values())
    known = sum(found.get(source, 0) for source in KNOWN)
    others = [f"{found[source]} {words}" for source, words in _UNKNOWN.items() if found.get(source)]
    assumed: list[Content] = [f"Of the {every} numbers in the scenario {known} were measured or fitted"]
    assumed += ["; of the others ", *listed(others), "."] if others else ["."]
    top = foremost(study)
    items: list[Content] = [assumed]
    if top is not None:
        items.append(["The answer hangs most on ", name(str(top["number"])), f", which is {top['from']}."])
    items.append(_MODEL)
    if study.record.kind == "sweep":
        items.append("Nothing between the settings tried is shown or known.")
    return bullets(items)
