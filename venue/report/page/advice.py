"""How sure the answer is, what it costs in fairness, what it does to people, what comes next, what nobody knows."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

from venue.report.page import commands
from venue.report.page.answer import changed, figure_of, listed, setting_name
from venue.report.page.parts import Block, Bullets, Code, Heading, Name, Part, Strong, Words, said
from venue.report.page.reading import SettingView, Study
from venue.report.quantities import difference, percent, scale_of, shown, span
from venue.report.sentences import settling, sweeps, titles
from venue.report.sentences.parts import Sentence, capitalised
from venue.scenario.numbers import DEFAULT, NOT_STATED
from venue.study.findings import ContestFindings
from venue.study.intervals import Estimate
from venue.study.registry import FAIR, MEASURES, TAKE

SURE = 0.9
_LIKELY = 0.7
_FEW = 5
_MOST_LISTED = 8
_MOST_BETTER = 4
_PROFIT, RETURN = "profit_per_week", "return_28d"
_BETTER = {FAIR: "fairer", RETURN: "followed by more returns within 28 days"}
_KNOWN = ("measured", "fitted")
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
_TRY = (
    "Before changing every machine, set one machine to it for a few weeks and count credits and complaints next to "
    "the others: only the floor can say whether the model holds."
)
_LAW = (
    "Look first to local law and to your licence: changing chances without telling players may be restricted, above "
    "all where prizes, stakes or minors are involved."
)


def advice(study: Study) -> list[Block]:
    """Headed lists, those that have anything to say."""
    by_kind = {"sweep": _sweep, "run": _run, "compare": _compare, "contest": _contest, "sensitivity": _sensitivity}
    found = by_kind[study.record.kind](study)
    blocks: list[Block] = []
    for title, items in found.items():
        if items:
            blocks += [Heading([title]), Bullets(items)]
    return blocks


def _sweep(study: Study) -> dict[str, list[Words]]:
    if study.best is None:
        return {
            "Why none is recommended": [] if study.view is None else _said(sweeps.requirements(study.view)),
            "What to do next": [["Ask for less (--keep), or try other settings; the trade-off below shows what there "
                                 "is to choose from."]],
            "What this cannot tell": _unsure(study),
        }  # fmt: skip
    best = study.settings[study.best]
    return {
        "How sure": _how_sure(study, best),
        "What it costs in fairness": _cost(study, best),
        "What it does to people": people(study, best),
        "What to do next": _next(study, best),
        "What this cannot tell": _unsure(study),
    }


def _run(study: Study) -> dict[str, list[Words]]:
    item = study.settings[0]
    moving, longer = _still_moving(study, item), _run_longer(study, item)
    return {
        "How sure": [words for words in (moving, [_method(study)]) if words],
        "What it does to people": people(study, item),
        "What to do next": [
            *([longer] if longer else []),
            ["To find the strength to run at: ", Code(f"venue sweep {commands.source(study.record)}", command=True)],
        ],
        "What this cannot tell": _unsure(study),
    }


def _compare(study: Study) -> dict[str, list[Words]]:
    result = study.record.result

    def told(*measures: str) -> list[Words]:
        return [
            [Name(str(item["name"])), ": ", _difference(row)]
            for item in result["comparisons"] for row in item["differences"] if row["measure"] in measures
        ]  # fmt: skip

    moving = [item for item in study.settings if _still_moving(study, item)]
    return {
        "How sure": [
            [_method(study)],
            *([[*listed([Name(item.label) for item in moving]), ": the take had not settled; longer runs may differ."]]
              if moving else []),
        ],
        "What it costs in fairness": told(FAIR, "skill_edge"),
        "What it does to people": told(RETURN, "empty_wallets", "spend_top_tenth"),
        "What to do next": [[_LAW], [_TRY]],
        "What this cannot tell": _unsure(study),
    }  # fmt: skip


def _difference(row: Mapping[str, Any]) -> str:
    scale, _ = scale_of(str(row["unit"]))
    unit = "" if scale != 1 else f" {row['unit']}"
    meaning = MEASURES[row["measure"]].meaning if row["measure"] in MEASURES else str(row["measure"])
    sure = "" if row["told_apart"] else " (no sure change)"
    return f"{meaning} {difference(changed(row), str(row['unit']))}{unit}{sure}"


def _contest(study: Study) -> dict[str, list[Words]]:
    result = study.record.result
    found, stays = study.record.data.findings, result["apart"]["stays_on"]
    fixed: Words = (
        ["No switch turns off ", *listed([Name(str(rule)) for rule in stays]), "."]
        if stays
        else ["Every rule can be switched off."]
    )
    sweep = Code(f"venue sweep {commands.source(study.record)}", command=True)
    return {
        "Can it be beaten": _said([titles.trailing(found)] if isinstance(found, ContestFindings) else []),
        "What stays on": [fixed],
        "What to do next": [["Ask what the floor makes of it: ", sweep]],
        "What this cannot tell": [
            ["These figures are exact for the rules as written and the skills that newcomers bring; how people take "
             "to them is the floor's to say."],
        ],
    }  # fmt: skip


def _sensitivity(study: Study) -> dict[str, list[Words]]:
    return {"What this cannot tell": _unsure(study)}


def people(study: Study, best: SettingView) -> list[Words]:
    """What a setting does to those who come, against the unaided one."""
    base = study.unaided
    found: list[Words] = []
    for measure, text in (
        (RETURN, "visits followed by another within 28 days"),
        ("empty_wallets", "visits that end with an empty wallet"),
        ("spend_top_tenth", "the take that comes from the top tenth of spenders"),
    ):
        item = best.measures.get(measure)
        if item is None:
            continue
        line: list[Part] = [Strong([figure_of(item, "share")]), f" of {text}"]
        change = None if base is None else base.against.get(measure)
        if change is not None and base is not None:
            moved = change.turned
            sure = math.isnan(moved.low) or moved.low > 0 or moved.high < 0
            off: Part = (
                "catch-up off" if dict(base.at).get("strength") == 0 else setting_name(study, base, label_only=True)
            )
            line += [" (", difference(moved, "share"), " against ", off, "" if sure else ": no sure change", ")"]
        found.append(line)
    return found


def _said(lines: Sequence[Sentence]) -> list[Words]:
    return [said(capitalised(line)) for line in lines if line]


def _how_sure(study: Study, best: SettingView) -> list[Words]:
    """Points: the verdict, ties and what speaks for them, a take that has not settled, how to read ±, the method."""
    view = study.view
    if view is None:
        return []
    verdict = (*sweeps.takes(view, best.place), " ", *sweeps.how_sure(view))
    ties = (*sweeps.most_lost(view), " ", *sweeps.told_apart(view)) if study.rivals else ()
    found = _said([verdict, ties, sweeps.doubt(view), *sweeps.requirements(view), sweeps.fairer(view),
                   sweeps.against_today(view)])  # fmt: skip
    found += [_tie(study, item) for item in _better(study)]
    moving = _still_moving(study, best)
    found += [moving] if moving else []
    if any(item.against for item in study.settings):
        found.append([_two_kinds(study)])
    return [*found, [_method(study)]]


def _two_kinds(study: Study) -> str:
    """How the interval of a figure and that of a difference are told apart."""
    return (
        f"± behind a figure of one {study.word}: how far that figure may be off. ± behind a difference: how far the "
        f"difference may be off. That is usually less, since every {study.word} met the same visitors and their luck "
        "cancels out. Ties are told by wider intervals, which hold for all together."
    )


def _better(study: Study) -> list[SettingView]:
    """Ties that surely do better in something else, the nearest in take first."""
    found = [item for item in study.rivals if TAKE in item.against and _gains(study, item)]
    return sorted(found, key=lambda item: -item.against[TAKE].mean)[:_MOST_BETTER]


def _gains(study: Study, item: SettingView) -> list[str]:
    courses = {} if study.findings is None else study.findings.measures
    return [measure for measure in _BETTER if measure in courses and item.place in courses[measure].more]


def _tie(study: Study, item: SettingView) -> Words:
    """`0.5 is a tie on take (−0.30 ± 0.42 credits per open hour), and surely fairer: +0.78 ± 0.16 in a hundred.`"""
    gains = listed([f"surely {_BETTER[measure]}: {difference(item.against[measure], 'share')}"
                    for measure in _gains(study, item)])  # fmt: skip
    return [Strong([setting_name(study, item, label_only=True)]), " is a tie on take (",
            difference(item.against[TAKE]), " credits per open hour), and ", *gains, "."]  # fmt: skip


def _still_moving(study: Study, item: SettingView) -> Words:
    """A warning where the take has not settled within the run, or may not have; nothing where it has."""
    found = study.settled(item)
    warning = said(settling.not_settled(found))
    return [Strong(warning), " ", *said(settling.how_unsettled(found))] if warning else []


def _run_longer(study: Study, item: SettingView) -> Words:
    """What to do about a take that has not settled; nothing where it has."""
    if not _still_moving(study, item):
        return []
    return ["To see what a settled venue takes, run more days: ", Code(commands.longer(study), command=True)]


def _method(study: Study) -> str:
    result = study.record.result
    count = int(result["replications"])
    text = f"Judged by {count} {'replication' if count == 1 else 'replications'} (runs with other luck) of "
    text += f"{result['days']} days, the first {result['warm_up']} left out."
    if count < _FEW:
        text += " That is few: intervals are wide, and more replications may change the answer."
    selection = result.get("selection")
    if selection and not selection.get("finished"):
        text += " The study stopped before it was as sure as was asked; allow more with --at-most."
    return text


def _cost(study: Study, best: SettingView) -> list[Words]:
    fair, base = best.measures.get(FAIR), study.unaided
    if fair is None:
        return [["No contest was played whose better side could be told."]]
    items: list[Words] = [_wins(study, best, fair, base)]
    edge = best.measures.get("skill_edge")
    if edge is not None and base is not None:
        items.append([figure_of(edge, "share"), " is left of the edge that skill gives unaided."])
    change = None if base is None else base.against.get(TAKE)
    if change is not None and base is not None:
        more = change.turned
        bought = "What is bought with it" if more.low > 0 else "It is not sure that anything is bought with it"
        items.append([f"{bought}: {difference(more)} credits per open hour{_kept(study, base)}."])
    bound = study.record.result["requirements"].get(FAIR)
    if bound and fair.mean >= bound:
        items.append([f"The least that was asked for, {percent(bound, 0)}, is kept."])
    price = _price(study, best)
    return [*items, price] if price else items


def _wins(study: Study, best: SettingView, fair: Estimate, base: SettingView | None) -> Words:
    """How often the better side wins, against the setting without help."""
    between = span(fair, "share")
    parts: list[Part] = [
        "At ", setting_name(study, best, label_only=study.keys == ("strength",)),
        " the better side, the one with more skill, wins ", figure_of(fair, "share"), " of contests",
        f" (95 % interval {between})" if between else "",
    ]  # fmt: skip
    there = None if base is None else base.measures.get(FAIR)
    if base is not None and there is not None:
        off = dict(base.at).get("strength") == 0
        label: Words = ["with catch-up off"] if off else ["at ", setting_name(study, base, label_only=True)]
        parts += ["; ", *label, " it wins ", figure_of(there, "share")]
        change = base.against.get(FAIR)
        if change is not None:
            parts += [", a difference of ", difference(change.turned, "share")]
    return [*parts, "."]


def _kept(study: Study, base: SettingView) -> str:
    """The same in money that is left to the operator, where that is known."""
    change = base.against.get(_PROFIT)
    return "" if change is None else f", and {difference(change.turned)} {study.unit(_PROFIT)} left to the operator"


def _price(study: Study, best: SettingView) -> Words:
    """What one more point of fairness would cost from here."""
    row = next((row for row in study.record.result.get("trade_off") or () if row["at"] == dict(best.at)), None)
    price = None if row is None else row.get("price_of_a_point")
    if not price:
        return []
    item = Estimate(price["mean"], price["low"], price["high"], 2)
    return [f"One more contest in a hundred won by the better side would cost {shown(item)} credits per open hour "
            f"({span(item)}) by going to the next fairer {study.word}."]  # fmt: skip


def _next(study: Study, best: SettingView) -> list[Words]:
    """What to do, the most useful first: what could overturn the answer, the floor's own word, then what makes it
    surer."""
    items: list[Words] = [*_beyond(study, best)]
    longer = _run_longer(study, best)
    items += [longer] if longer else []
    items += [[_LAW], [_TRY]]
    top = _foremost(study)
    if top is None:
        command = Code(commands.hangs_on(study), command=True)
        items.append(["To learn which numbers the answer depends on, before trusting it: ", command])
    elif top["from"] not in _KNOWN:
        items.append(["Measure ", Name(str(top["number"])), f": it is {top['from']}, and moves the answer most."])
    found, rivals = study.findings, study.rivals
    if found is not None and len(study.settings) > 1 and (found.chance_right is None or found.chance_right < SURE):
        places = sorted({best.place, *(item.place for item in rivals)}) if rivals else range(len(study.settings))
        text = commands.surer(study, [study.settings[place].at for place in places])
        words = "Only if the most that a tie may lose is worth the wait: run them" if rivals else "Run the rivals"
        items.append([f"{words} until it is sure which of them takes the most: ", Code(text, command=True)])
    return items


def _beyond(study: Study, best: SettingView) -> list[Words]:
    """A word on settings that were not tried, where the best is the last of those that were."""
    values = [value for item in study.settings for _, value in item.at]
    if len(study.keys) != 1 or len(values) < 2 or best.place not in (0, len(values) - 1) or best.label == "0":
        return []
    text = f"The best {study.word} is at the end of those tried; try some beyond it"
    end, other = (values[-1], values[-2]) if best.place else (values[0], values[1])
    if study.keys != ("strength",) or isinstance(end, str) or isinstance(other, str):
        return [[f"{text}."]]
    step = end - other
    more = [end, *(end + step * count for count in (1, 2) if end + step * count >= 0)]
    wider = commands.wider(study, ",".join(commands.in_full(value) for value in more))
    return [[f"{text}: ", Code(wider, command=True)]]


def _foremost(study: Study) -> Mapping[str, Any] | None:
    """The number that the answer depends on most, where that was studied."""
    found = study.record.sensitivity
    return found["numbers"][0] if found and found.get("numbers") else None


def origins(study: Study) -> dict[str, int]:
    """How many numbers of the scenario come from where."""
    return dict(Counter(row["from"] for row in study.record.numbers))


def _unsure(study: Study) -> list[Words]:
    """What the answer cannot tell."""
    found = origins(study)
    every = sum(found.values())
    known = sum(found.get(source, 0) for source in _KNOWN)
    others: list[Part] = [f"{found[source]} {words}" for source, words in _UNKNOWN.items() if found.get(source)]
    assumed: list[Part] = [f"Of the {every} numbers in the scenario {known} were measured or fitted"]
    assumed += ["; of the others ", *listed(others), "."] if others else ["."]
    top = _foremost(study)
    items: list[Words] = [assumed]
    if top is not None:
        items.append(["The answer depends most on ", Name(str(top["number"])), f", which is {top['from']}."])
    items.append([_MODEL])
    if study.record.kind == "sweep":
        items.append(["Nothing between the settings tried is shown or known."])
    return items
