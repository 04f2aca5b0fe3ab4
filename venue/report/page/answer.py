"""The answer: what to do in two sentences, how sure that is, what it costs, what comes next, and what nobody knows."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from venue.report.page import commands
from venue.report.page.figures import figure, half, percent, scale_of, shown, span
from venue.report.page.markup import Content, Markup, element, name
from venue.report.page.reading import Shown, Study
from venue.report.page.setting_charts import FAIR, RETURN, TAKE
from venue.study.intervals import Estimate
from venue.study.measures import MEASURES

_SURE = 0.9
_FEW = 5
_KNOWN = ("measured", "fitted")
_MODEL = (
    "Intervals speak of chance within the model, not of the model's truth. Tastes are utilities in a model of choice, "
    "not laws; evidence that close contests keep people playing is mixed."
)
_TRY = (
    "Before changing every machine, set one machine to it for a few weeks and count credits and complaints beside the "
    "others: only the floor can say whether the model holds."
)


@dataclass(frozen=True)
class Answer:
    """What stands at the top of the page.

    Attributes
    ----------
    question, sentences
        What was asked, and the answer in two sentences.
    parts
        Headed paragraphs: how sure, what it costs, what it does to people, what next, what is unsure.
    """

    question: Content
    sentences: Sequence[Content]
    parts: Mapping[str, Sequence[Content]] = field(default_factory=dict)


def answer_of(study: Study) -> Answer:
    """The answer of a record."""
    kind = study.record.kind
    return {"sweep": _sweep, "run": _run, "compare": _compare, "contest": _contest, "sensitivity": _sensitivity}[kind](
        study
    )


def _of(item: Shown, measure: str) -> Estimate | None:
    return item.measures.get(measure)


def _with_span(item: Estimate, unit: str) -> list[Content]:
    between = span(item, unit)
    return [figure(item, unit), f" (95 % interval {between})" if between else ""]


def setting_name(study: Study, item: Shown, *, short: bool = False) -> Content:
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


def _sweep(study: Study) -> Answer:
    count = len(study.settings)
    what = "catch-up strength" if study.keys == ("strength",) else " and ".join(study.keys)
    record = study.record
    question = [
        "Which ",
        name(what),
        " should ",
        name(record.venue_name),
        f" run at? {count} {_plural(study.word, count)} were tried on the same visitors, by simulation.",
    ]
    if study.best is None:
        why = str(record.result["best"]["why"])
        sentences: list[Content] = [
            f"None of the {count} {study.word}s tried can be recommended.", f"{why[:1].upper()}{why[1:]}."]  # fmt: skip
        return Answer(question, sentences, {
            "What to do next": _bullets(["Move a floor (--keep), or try other settings; the trade-off below shows what "
                                         "there is to choose from."]),
            "What this cannot tell": _unsure(study),
        })  # fmt: skip
    best = study.settings[study.best]
    return Answer(question, _recommended(study, best), {
        "How sure": _how_sure(study, best),
        "What it costs in fairness": _cost(study, best),
        "What it does to people": _people(study, best),
        "What to do next": _next(study, best),
        "What this cannot tell": _unsure(study),
    })  # fmt: skip


def _plural(word: str, count: int) -> str:
    return word if count == 1 else f"{word}s"


def _chance(study: Study) -> float | None:
    found = study.record.result.get("best", {}).get("chance_right")
    return None if found is None else float(found)


def _recommended(study: Study, best: Shown) -> list[Content]:
    count, take = len(study.settings), best.measures[TAKE]
    most = (
        "it takes"
        if count == 1
        else f"of the {count} tried that keep the floors it takes the most,"
        if _refused(study)
        else (f"of the {count} tried it takes the most,")
    )
    first = [element("strong", "Run at ", setting_name(study, best), ":"), f" {most} ", *_with_span(take, ""),
             " credits per open hour."]  # fmt: skip
    rivals, chance = _rivals(study), _chance(study)
    if chance is None:
        return [first, "One replication cannot say how sure that is: run more."] if math.isnan(take.low) else [first]
    sure: list[Content] = [
        f"The chance that this is the best of the {count} is ",
        element("data", f"{100 * chance:.0f} %", value=repr(chance)),
    ]
    if rivals:
        told = listed([setting_name(study, item, short=True) for item in rivals[:6]])
        loss = _most_lost(rivals)
        sure += [": ", *told, f" cannot be told apart from it and would earn at most {loss} less." if loss else
                 " cannot be told apart from it."]  # fmt: skip
    else:
        sure.append("; every other one surely earns less or misses a floor.")
    return [first, sure]


def _refused(study: Study) -> bool:
    return "do not" in str(study.record.result["best"]["why"]) or "does not" in str(study.record.result["best"]["why"])


def _rivals(study: Study) -> list[Shown]:
    found = study.record.result["best"].get("not_told_apart") or []
    return [item for item in study.settings if dict(item.at) in found]


def _most_lost(rivals: Sequence[Shown]) -> str:
    """The most that any rival may earn less, by its interval."""
    lost = [
        -item.against[TAKE].low for item in rivals if TAKE in item.against and not math.isnan(item.against[TAKE].low)
    ]
    return f"{max(lost):.1f} credits per open hour" if lost else ""


def _how_sure(study: Study, best: Shown) -> list[Content]:
    result = study.record.result
    count = int(result["replications"])
    text = (
        f"Judged by {count} {_plural('replication', count)} of {result['days']} days, the first "
        f"{result['warm_up']} left out."
    )
    if count < _FEW:
        text += " That is few: intervals are wide, and more replications may change the answer."
    parts: list[Content] = [text]
    apart = [
        item
        for item in study.settings
        if item.place != best.place and item not in _rivals(study) and TAKE in item.against
    ]
    if apart:
        near = max(apart, key=lambda item: item.against[TAKE].mean)
        if not math.isnan(near.against[TAKE].high) and near.against[TAKE].high < 0:
            parts.append(
                [
                    " The nearest that is told apart is ",
                    setting_name(study, near, short=True),
                    ", at ",
                    half(near.against[TAKE], "", "+"),
                    " credits per open hour.",
                ]
            )
    selection = result.get("selection")
    if selection and not selection.get("finished"):
        parts.append(" The study stopped before it was as sure as was asked; allow more with --at-most.")
    return [parts]


def _cost(study: Study, best: Shown) -> list[Content]:
    fair = _of(best, FAIR)
    if fair is None:
        return ["No contest was played whose better side could be told."]
    parts: list[Content] = [
        "At ",
        setting_name(study, best, short=study.keys == ("strength",)),
        " the better side wins ",
        *_with_span(fair, "share"),
        " of contests",
    ]
    base = study.unaided
    there = None if base is None else _of(base, FAIR)
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
            less = turned.mean < 0
            size = turned if not less else Estimate(-turned.mean, -turned.high, -turned.low, turned.replications)
            parts += [": ", half(Estimate(100 * size.mean, 100 * size.low, 100 * size.high, size.replications)),
                      f" in a hundred {'fewer' if less else 'more'}"]  # fmt: skip
    parts.append(".")
    edge = _of(best, "skill_edge")
    if edge is not None and base is not None:
        parts += [" Of the edge that skill gives unaided, ", figure(edge, "share"), " is left."]
    change = None if base is None else base.against.get(TAKE)
    if change is not None:
        more = Estimate(-change.mean, -change.high, -change.low, change.replications)
        sure = "" if math.isnan(more.low) or more.low > 0 or more.high < 0 else " (not surely)"
        parts += [" What is bought with it: ", half(more, "", "+"), f" credits per open hour{sure}."]
    floors = study.record.result.get("floors", {})
    bound = floors.get(FAIR)
    if bound:
        parts.append(f" The floor asked for, {percent(bound, 0)}, is kept.")
    price = _price(study, best)
    return [parts, price] if price else [parts]


def _price(study: Study, best: Shown) -> Content:
    """What one more point of fairness would cost from here."""
    row = next((row for row in study.record.result.get("trade_off") or () if row["at"] == dict(best.at)), None)
    price = None if row is None else row.get("price_of_a_point")
    if not price:
        return None
    item = Estimate(price["mean"], price["low"], price["high"], 2)
    return (f"One more contest in a hundred won by the better side would cost {shown(item)} credits per open hour "
            f"({span(item)}) by going to the next fairer {study.word}.")  # fmt: skip


def _people(study: Study, best: Shown) -> list[Content]:
    base = study.unaided
    parts: list[Content] = []
    for measure, text in (
        (RETURN, "visits followed by another within 28 days"),
        ("empty_wallets", "visits that end with an empty wallet"),
        ("spend_top_tenth", "the take that comes from the top tenth of spenders"),
    ):
        item = _of(best, measure)
        if item is None:
            continue
        line: list[Content] = [element("strong", figure(item, "share")), f" of {text}"]
        change = None if base is None else base.against.get(measure)
        if change is not None and base is not None:
            moved = Estimate(-100 * change.mean, -100 * change.high, -100 * change.low, change.replications)
            sure = "" if math.isnan(moved.low) or moved.low > 0 or moved.high < 0 else ", not surely"
            off = "catch-up off" if dict(base.at).get("strength") == 0 else setting_name(study, base, short=True)
            line += [" (", half(moved, "", "+"), " points of 100 against ", off, sure, ")"]
        parts.append(line)
    return _bullets(parts)


def _bullets(items: Sequence[Content]) -> list[Content]:
    return [element("ul", [element("li", item) for item in items])] if items else []


def _command(text: str) -> Markup:
    return element("code", text, class_="command")


def _next(study: Study, best: Shown) -> list[Content]:
    items: list[Content] = []
    chance, rivals = _chance(study), _rivals(study)
    if len(study.settings) > 1 and (chance is None or chance < _SURE):
        places = (
            sorted({best.place, *(item.place for item in rivals)})
            if rivals
            else [item.place for item in study.settings]
        )
        text = commands.surer(study, [study.settings[place].at for place in places])
        items.append(
            [
                "To tell the rivals apart, if the difference is worth it to you, run only them until it is sure: ",
                _command(text),
            ]
        )
    if (
        len(study.keys) == 1
        and len(study.settings) > 1
        and best.place in (0, len(study.settings) - 1)
        and best.label != "0"
    ):
        items.append(f"The best {study.word} is at the end of those tried; try some beyond it.")
    top = _foremost(study)
    if top is None:
        items.append(
            ["To learn which numbers the answer hangs on, before trusting it: ", _command(commands.hangs_on(study))]
        )
    elif top["from"] not in _KNOWN:
        items.append(["Measure ", name(str(top["number"])), f": it is {top['from']}, and moves the answer most."])
    items.append(_TRY)
    return _bullets(items)


def _foremost(study: Study) -> Mapping[str, Any] | None:
    found = study.record.sensitivity
    return found["numbers"][0] if found and found.get("numbers") else None


def origins(study: Study) -> dict[str, int]:
    """How many numbers of the scenario come from where."""
    return dict(Counter(row["from"] for row in study.record.numbers))


def _unsure(study: Study) -> list[Content]:
    found = origins(study)
    every = sum(found.values())
    known = sum(found.get(source, 0) for source in _KNOWN)
    assumed = (
        f"Of the {every} numbers in the scenario {known} were measured or fitted; the others are "
        f"practice, assumed, or left at a default."
    )
    top = _foremost(study)
    items: list[Content] = [assumed]
    if top is not None:
        items.append(["The answer hangs most on ", name(str(top["number"])), f", which is {top['from']}."])
    items.append(_MODEL)
    if study.record.kind == "sweep":
        items.append("Nothing between the settings tried is shown or known.")
    return _bullets(items)


def _run(study: Study) -> Answer:
    result, item = study.record.result, study.settings[0]
    count = int(result["replications"])
    question = [
        "What happens at ",
        name(study.record.venue_name),
        f" at catch-up strength {item.label}? Simulated {count} "
        f"{'times' if count > 1 else 'time'} over {result['days']} days, the first {result['warm_up']} left out.",
    ]
    sentences: list[Content] = []
    take = _of(item, TAKE)
    if take is not None:
        sentences.append(
            [
                element("strong", figure(take), " credits per open hour"),
                f" (95 % interval {span(take)})" if span(take) else "",
                f" is what the venue takes at catch-up strength {item.label}.",
            ]
        )
    fair, back = _of(item, FAIR), _of(item, RETURN)
    if fair is not None and back is not None:
        sentences.append(
            [
                "The better side wins ",
                *_with_span(fair, "share"),
                " of contests, and ",
                *_with_span(back, "share"),
                " of visits are followed by another within 28 days.",
            ]
        )
    elif fair is not None:
        sentences.append(["The better side wins ", *_with_span(fair, "share"), " of contests."])
    sweep = ["To find the strength to run at: ", _command(f"venue sweep {commands.source(study.record)}")]
    return Answer(question, sentences, {
        "What it does to people": _people(study, item),
        "What to do next": _bullets([sweep]),
        "What this cannot tell": _unsure(study),
    })  # fmt: skip


def _compare(study: Study) -> Answer:
    result = study.record.result
    names = [str(item["name"]) for item in result["scenarios"]]
    question = [
        "What changes against ",
        name(names[0]),
        " at ",
        name(study.record.venue_name),
        "? Compared on the same visitors, "
        f"{result['replications']} {_plural('replication', int(result['replications']))} of {result['days']} days.",
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
        "What it costs in fairness": _bullets(fairness),
        "What it does to people": _bullets(people),
        "What to do next": _bullets([_TRY]),
        "What this cannot tell": _unsure(study),
    })  # fmt: skip


def _changed(row: Mapping[str, Any]) -> Estimate:
    """A difference with its interval."""
    low, high = (math.nan if row[key] is None else float(row[key]) for key in ("low", "high"))
    return Estimate(float(row["difference"]), low, high, 2)


def _difference(row: Mapping[str, Any]) -> str:
    item = _changed(row)
    scale, _ = scale_of(str(row["unit"]))
    points = " points of 100" if scale != 1 else f" {row['unit']}"
    scaled = Estimate(item.mean * scale, item.low * scale, item.high * scale, 2)
    meaning = MEASURES[row["measure"]].meaning if row["measure"] in MEASURES else str(row["measure"])
    return f"{meaning} {half(scaled, '', '+')}{points}" + ("" if row["told_apart"] else " (not surely)")


def comparison_finding(item: Mapping[str, Any]) -> str:
    """How many measures surely differ, and which most."""
    apart = [row for row in item["differences"] if row["told_apart"]]
    if not apart:
        return "no measure surely differs"
    first = apart[0]
    change = "" if first.get("change") is None else f" ({100 * first['change']:+.1f} %)"
    return (
        f"{len(apart)} of {len(item['differences'])} measures surely differ, most of all "
        f"{first['measure'].replace('_', ' ')}{change}"
    )


def _contest(study: Study) -> Answer:
    result = study.record.result
    title = study.record.loaded.scenario.titles[result["title"]]
    points = result["points"]
    first, last = points[0], points[-1]
    question = [
        "What do the rules of ",
        name(title.label or str(result["title"])),
        " do? Computed exactly, without a floor.",
    ]
    one = [
        element(
            "strong",
            f"At strength {first['strength']:g} the better side wins {percent(first['better_side_wins'])} of contests",
        ),
        f", and {percent(first['close_finishes'])} end close.",
    ]
    two = (
        f"At strength {last['strength']:g} it wins {percent(last['better_side_wins'])}, and "
        f"{percent(last['close_finishes'])} end close."
    )
    faults = result["trailing_pays"]["faults"]
    beaten = (
        f"There are {len(faults)} scores at which a player would do better to lose a point on purpose: see below."
        if faults
        else "There is no score at which a player would do better to lose a point on purpose."
    )
    stays = result["apart"]["stays_on"]
    fixed: list[Content] = (
        ["No switch turns off ", *listed([name(str(rule)) for rule in stays]), "."]
        if stays
        else ["Every rule can be switched off."]
    )
    return Answer(
        question,
        [one, *([two] if len(points) > 1 else [])],
        {
            "Can it be beaten": [beaten],
            "What stays on": [fixed],
            "What to do next": _bullets(
                [["Ask what the floor makes of it: ", _command(f"venue sweep {commands.source(study.record)}")]]
            ),
            "What this cannot tell": _bullets(
                [
                    "These figures are exact for the rules as written and the skills that newcomers bring; "
                    "how people take to them is the floor's to say."
                ]
            ),
        },
    )


def _sensitivity(study: Study) -> Answer:
    result = study.record.result
    first = result["numbers"][0]
    question = [
        "What does ",
        name(str(result["measure"])),
        " of ",
        name(study.record.venue_name),
        f" hang on, at catch-up strength {result['strength']:g}? {result['runs']} runs of {result['days']} days.",
    ]
    sentences: list[Content] = [
        [
            element("strong", "It hangs most on ", name(str(first["number"]))),
            f", which is {first['from']}: over the range in which "
            f"that may lie it changes by {first['effect']:.3g} {result['unit']}.",
        ]
    ]
    return Answer(question, sentences, {"What this cannot tell": _unsure(study)})
