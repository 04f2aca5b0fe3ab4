"""The answer of a sweep: which setting, how sure that is, what it costs, what to do next."""

from __future__ import annotations

import math

from venue.report.page import commands
from venue.report.page.answer_sure import (
    SURE,
    chance_right,
    how_sure,
    most_lost,
    names_of,
    rivals_of,
    run_longer,
)
from venue.report.page.answer_words import (
    KNOWN,
    TRY,
    Answer,
    bullets,
    command,
    foremost,
    people,
    plural,
    setting_name,
    unsure,
    with_span,
)
from venue.report.page.figures import difference, figure, percent, shown, span
from venue.report.page.markup import Content, element, name
from venue.report.page.reading import Shown, Study
from venue.report.page.setting_charts import FAIR, TAKE
from venue.study.intervals import Estimate

_MARGIN = "margin_per_week"


def sweep_answer(study: Study) -> Answer:
    """Which setting to run at."""
    count = len(study.settings)
    what = "catch-up strength" if study.keys == ("strength",) else " and ".join(study.keys)
    record = study.record
    question = [
        "Which ",
        name(what),
        " should ",
        name(record.venue_name),
        f" run at? {count} {plural(study.word, count)} were tried on the same visitors, by simulation.",
        " Catch-up strength scales the rules that move chances toward whoever trails: 0 is off, 1 is as designed."
        if "strength" in study.keys
        else None,
    ]
    if study.best is None:
        why = str(record.result["best"]["why"])
        sentences: list[Content] = [
            f"None of the {count} {study.word}s tried can be recommended.", f"{why[:1].upper()}{why[1:]}."]  # fmt: skip
        return Answer(question, sentences, {
            "What to do next": bullets(["Ask for less (--keep), or try other settings; the trade-off below shows what "
                                         "there is to choose from."]),
            "What this cannot tell": unsure(study),
        })  # fmt: skip
    best = study.settings[study.best]
    return Answer(question, _recommended(study, best), {
        "How sure": bullets(how_sure(study, best)),
        "What it costs in fairness": _cost(study, best),
        "What it does to people": people(study, best),
        "What to do next": _next(study, best),
        "What this cannot tell": unsure(study),
    })  # fmt: skip


def _recommended(study: Study, best: Shown) -> list[Content]:
    count, take = len(study.settings), best.measures[TAKE]
    some = f"of the {count} tried" + (" that keep what was asked for" if _refused(study) else "")
    # Means of all replications may differ from those that the choice was made on, which could tell every floor.
    most = all(item.measures[TAKE].mean <= take.mean for item in rivals_of(study) if TAKE in item.measures)
    what = "it takes" if count == 1 or not most else f"{some} it takes the most,"
    first = [element("strong", "Run at ", setting_name(study, best), ":"), f" {what} ", *with_span(take, ""),
             " credits per open hour", "." if most else f", and none {some} surely takes more."]  # fmt: skip
    rivals, chance = rivals_of(study), chance_right(study)
    if chance is None:
        return [first, "One replication cannot say how sure that is: run more."] if math.isnan(take.low) else [first]
    sure: list[Content] = [
        f"The chance that this is the best of the {count} is ",
        element("data", f"{100 * chance:.0f} %", value=repr(chance)),
    ]
    if rivals:
        loss = most_lost(rivals)
        sure += [": ", *names_of(study, rivals), " cannot be told apart from it",
                 f" and would earn at most {loss} less" if loss else "",
                 f" (by intervals that hold for all {count} together; those of the tables hold one at a time, and are "
                 "narrower)."]  # fmt: skip
    else:
        sure.append("; every other one surely earns less, or does not keep what was asked for.")
    return [first, sure]


def _refused(study: Study) -> bool:
    return "do not" in str(study.record.result["best"]["why"]) or "does not" in str(study.record.result["best"]["why"])


def _cost(study: Study, best: Shown) -> list[Content]:
    fair = best.measures.get(FAIR)
    if fair is None:
        return ["No contest was played whose better side could be told."]
    parts: list[Content] = [
        "At ",
        setting_name(study, best, short=study.keys == ("strength",)),
        " the better side, the one with more skill, wins ",
        *with_span(fair, "share"),
        " of contests",
    ]
    base = study.unaided
    there = None if base is None else base.measures.get(FAIR)
    if base is not None and there is not None:
        label = (
            "with catch-up off"
            if dict(base.at).get("strength") == 0
            else ["at ", setting_name(study, base, short=True)]
        )
        parts += [", against ", figure(there, "share"), " ", label]
        change = base.against.get(FAIR)
        if change is not None:
            turned = Estimate(-change.mean, -change.high, -change.low, change.replications)
            parts += [": ", difference(turned, "share")]
    parts.append(".")
    edge = best.measures.get("skill_edge")
    if edge is not None and base is not None:
        parts += [" Of the edge that skill gives unaided, ", figure(edge, "share"), " is left."]
    change = None if base is None else base.against.get(TAKE)
    if change is not None:
        more = Estimate(-change.mean, -change.high, -change.low, change.replications)
        bought = "What is bought with it" if more.low > 0 else "It is not sure that anything is bought with it"
        parts += [f" {bought}: ", difference(more), " credits per open hour", *_kept(study, base), "."]
    floors = study.record.result.get("floors", {})
    bound = floors.get(FAIR)
    if bound and fair.mean >= bound:
        parts.append(f" The least that was asked for, {percent(bound, 0)}, is kept.")
    price = _price(study, best)
    return [parts, price] if price else [parts]


def _kept(study: Study, base: Shown | None) -> list[Content]:
    """The same in money that is left to the operator, where that is known."""
    change = None if base is None else base.against.get(_MARGIN)
    if change is None:
        return []
    more = Estimate(-change.mean, -change.high, -change.low, change.replications)
    return [", and ", difference(more), f" {study.unit(_MARGIN)} left to the operator"]


def _price(study: Study, best: Shown) -> Content:
    """What one more point of fairness would cost from here."""
    row = next((row for row in study.record.result.get("trade_off") or () if row["at"] == dict(best.at)), None)
    price = None if row is None else row.get("price_of_a_point")
    if not price:
        return None
    item = Estimate(price["mean"], price["low"], price["high"], 2)
    return (f"One more contest in a hundred won by the better side would cost {shown(item)} credits per open hour "
            f"({span(item)}) by going to the next fairer {study.word}.")  # fmt: skip


def _next(study: Study, best: Shown) -> list[Content]:
    items: list[Content] = []
    chance, rivals = chance_right(study), rivals_of(study)
    if len(study.settings) > 1 and (chance is None or chance < SURE):
        places = (
            sorted({best.place, *(item.place for item in rivals)})
            if rivals
            else [item.place for item in study.settings]
        )
        text = commands.surer(study, [study.settings[place].at for place in places])
        items.append(
            [
                "To tell the rivals apart, if the difference is worth it to you, run only them until it is sure: ",
                command(text),
            ]
        )
    if (
        len(study.keys) == 1
        and len(study.settings) > 1
        and best.place in (0, len(study.settings) - 1)
        and best.label != "0"
    ):
        items.append(f"The best {study.word} is at the end of those tried; try some beyond it.")
    longer = run_longer(study, best)
    items += [longer] if longer else []
    top = foremost(study)
    if top is None:
        items.append(
            ["To learn which numbers the answer hangs on, before trusting it: ", command(commands.hangs_on(study))]
        )
    elif top["from"] not in KNOWN:
        items.append(["Measure ", name(str(top["number"])), f": it is {top['from']}, and moves the answer most."])
    items.append(TRY)
    return bullets(items)
