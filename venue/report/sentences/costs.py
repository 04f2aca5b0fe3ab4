"""What the recommended setting of a sweep is worth, costs in fairness, and does to the people who come."""

from __future__ import annotations

import math

from venue.report.columns import short
from venue.report.quantities import difference, percent, shown, span
from venue.report.sentences.parts import NO_SURE_CHANGE, Part, Quantity, Sentence, capitalised, listed
from venue.report.sentences.runs import PEOPLE
from venue.report.sentences.sweeps import Settings
from venue.study.intervals import Estimate
from venue.study.registry import FAIR, TAKE

_SHORT = 48
_BETTER = {FAIR: "fairer", "return_28d": "followed by more returns within 28 days"}
_MOST_BETTER = 4
_STAKES = {
    "move": "Worth, from today's {other} to {best}",
    "worst": "{other}, the worst tried, would cost",
    "worst tie": "{other}, the worst of those that will do, would cost",
}


def stake(view: Settings) -> Sentence:
    """What the figure at stake is of."""
    found = view.findings.stake
    if found is None or view.findings.recommended is None:
        return ()
    other = view.labelled(found.place) if found.kind == "move" else view.named(found.place)
    best = view.labelled(view.findings.recommended)
    names = {key: item if isinstance(item, str) else short(item.text, _SHORT)
             for key, item in (("other", other), ("best", best))}  # fmt: skip
    return capitalised((_STAKES[found.kind].format(**names),))


def _off(view: Settings, place: int) -> Part:
    """The setting that the recommended one is set against."""
    return "catch-up off" if view.at[place] == (("strength", 0),) else view.labelled(place)


def _sure(view: Settings, place: int, measure: str) -> bool:
    course = view.findings.measures[measure]
    return place in course.more or place in course.less


def people(view: Settings) -> list[Sentence]:
    """What the recommended setting does to those who come, against catch-up off."""
    found, base = view.findings, view.findings.unaided
    if found.recommended is None:
        return []
    levels, lines = view.measures[found.recommended], []
    for measure, words in PEOPLE.items():
        if (item := levels.get(measure)) is None:
            continue
        line: Sentence = (Quantity(shown(item, "share"), item.mean), f" of {words}")
        change = None if base is None else view.against[base].get(measure)
        if base is not None and change is not None:
            sure = math.isnan(change.low) or _sure(view, base, measure)
            line = (*line, f" ({difference(change.turned, 'share')} against ", _off(view, base),
                    "" if sure else f": {NO_SURE_CHANGE}", ")")  # fmt: skip
        lines.append((*line, "."))
    return lines


def fairness_cost(view: Settings, price: Estimate | None) -> list[Sentence]:
    """How often the better side wins, what is bought with it, and what one more such contest would cost.

    Parameters
    ----------
    price
        Credits per open hour for one more contest in a hundred won by the better side; None where it is not known.
    """
    found, base = view.findings, view.findings.unaided
    if found.recommended is None:
        return []
    levels = view.measures[found.recommended]
    if FAIR not in levels:
        return [("No contest was played whose better side could be told.",)]
    lines = [_wins(view, found.recommended, base)]
    if base is not None and (edge := levels.get("skill_edge")) is not None:
        lines.append((Quantity(shown(edge, "share"), edge.mean), " is left of the edge that skill gives unaided."))
    if base is not None and (change := view.against[base].get(TAKE)) is not None:
        bought = base in found.measures[TAKE].less
        head = "What is bought with it" if bought else "It is not sure that anything is bought with it"
        profit = view.against[base].get("profit_per_week")
        left = "" if profit is None else (
            f", and {difference(profit.turned)} {view.units.get('profit_per_week', '')} left to the operator"
        )  # fmt: skip
        lines.append((f"{head}: {difference(change.turned)} credits per open hour{left}.",))
    lines += [
        (f"The minimum that was asked for, {percent(item.bound, 0)}, is kept.",)
        for item in found.requirements if item.measure == FAIR and found.recommended in (item.places or ())
    ]  # fmt: skip
    if price is not None:
        lines.append((f"One more contest in a hundred won by the better side would cost {shown(price)} credits per "
                      f"open hour ({span(price)}) by going to the next fairer {view.word}.",))  # fmt: skip
    return lines


def _wins(view: Settings, best: int, base: int | None) -> Sentence:
    """How often the better side wins, against the setting without help."""
    fair = view.measures[best][FAIR]
    between = span(fair, "share")
    said: Sentence = (
        "At ", view.labelled(best) if view.by_strength else view.named(best),
        " the better side, the one with more skill, wins ", Quantity(shown(fair, "share"), fair.mean), " of contests",
        f" (95 % interval {between})" if between else "",
    )  # fmt: skip
    there = None if base is None else view.measures[base].get(FAIR)
    if base is None or there is None:
        return (*said, ".")
    off = _off(view, base)
    said = (*said, "; ", *(("with catch-up off",) if off == "catch-up off" else ("at ", off)), " it wins ",
            Quantity(shown(there, "share"), there.mean))  # fmt: skip
    change = view.against[base].get(FAIR)
    return (*said, "." if change is None else f", a difference of {difference(change.turned, 'share')}.")


def better_ties(view: Settings) -> list[Sentence]:
    """Ties that surely do better in something else, the nearest in take first."""
    found = view.findings
    ties = () if found.tie is None else tuple(place for place in found.tie.places if place != found.recommended)
    gains = {
        place: [measure for measure in _BETTER if place in found.measures[measure].more]
        for place in ties if TAKE in view.against[place]
    }  # fmt: skip
    order = sorted((place for place in gains if gains[place]), key=lambda place: -view.against[place][TAKE].mean)
    lines: list[Sentence] = []
    for place in order[:_MOST_BETTER]:
        against = view.against[place]
        better = listed([f"surely {_BETTER[measure]}: {difference(against[measure], 'share')}"
                         for measure in gains[place]])  # fmt: skip
        lines.append((view.labelled(place), f" is a tie on take ({difference(against[TAKE])} credits per open hour), "
                      "and ", *better, "."))  # fmt: skip
    return lines


def two_kinds_of_intervals(view: Settings) -> Sentence:
    """How the interval of a figure and that of a difference are told apart."""
    return (
        f"± behind a figure of one {view.word}: how far that figure may be off. ± behind a difference: how far the "
        f"difference may be off. That is usually less, since every {view.word} met the same visitors and their luck "
        "cancels out. Ties are judged by wider intervals, which hold for all together.",
    )
