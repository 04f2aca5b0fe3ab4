"""How sure an answer is: the chance that it is right, what it is a tie with, and what makes it doubtful."""

from __future__ import annotations

import math
from collections.abc import Sequence

from venue.report.page import commands
from venue.report.page.answer_words import command, listed, plural, setting_name
from venue.report.page.figures import difference, half, shown
from venue.report.page.markup import Content, element
from venue.report.page.reading import FAIR, TAKE, SettingView, Study
from venue.report.page.setting_charts import RETURN
from venue.study.intervals import Estimate

SURE = 0.9
_LIKELY = 0.7
_FEW = 5
_MOST_LISTED = 8
_MOST_BETTER = 4
_BETTER = {FAIR: "fairer", RETURN: "followed by more returns within 28 days"}


def chance_right(study: Study) -> float | None:
    """Chance that the recommended setting is the best; None where one replication cannot say."""
    found = study.record.result.get("best", {}).get("chance_right")
    return None if found is None else float(found)


def names_of(study: Study, items: Sequence[SettingView]) -> list[Content]:
    """Settings in a sentence, the first few by name."""
    return listed(_named(study, items))


def _named(study: Study, items: Sequence[SettingView]) -> list[Content]:
    told = [setting_name(study, item, short=True) for item in items[:_MOST_LISTED]]
    return told + ([f"{len(items) - _MOST_LISTED} others"] if len(items) > _MOST_LISTED else [])


def fairer_as_good(study: Study) -> Content:
    """What to choose where fairness is to decide between ties in take; nothing if none is surely fairer."""
    item = study.fairer_tie
    if item is None:
        return None
    take, fair = item.against[TAKE], item.against[FAIR]
    more = Estimate(100 * fair.mean, 100 * fair.low, 100 * fair.high, fair.replications)
    return [
        element("strong", "Or, if fairness is to decide between ties, at ", setting_name(study, item, short=True), ":"),
        f" the better side wins {half(more)} more contests in a hundred there, and the take is as good as far as ",
        f"these runs can tell ({difference(take)} credits per open hour). ",
        "The first goes by the highest mean take alone.",
    ]


def how_sure(study: Study, best: SettingView) -> list[Content]:
    """Points: the verdict, ties and what speaks for them, a take that has not settled, how to read ±, the method."""
    chance, rivals = chance_right(study), study.rivals
    parts: list[Content] = []
    if chance is not None and len(study.settings) > 1:
        parts.append(_verdict(study, best, chance, rivals))
    stands = _as_it_stands(study)
    parts += [stands] if stands else []
    parts += [_tie(study, item) for item in _better(rivals)]
    moving = still_moving(study, best)
    parts += [moving] if moving else []
    return [*parts, *([two_kinds(study)] if any(item.against for item in study.settings) else []), _method(study)]


def _as_it_stands(study: Study) -> Content:
    """What the recommended strength changes for a venue that runs at the scenario's own; nothing if that is unknown."""
    item = study.as_it_stands
    if item is None or TAKE not in item.against or math.isnan(item.against[TAKE].low):
        return None
    take, fair = item.against[TAKE].turned, item.against.get(FAIR)
    sure = take.low > 0 or take.high < 0
    parts: list[Content] = ["From ", element("strong", item.label), ", where the scenario stands, the take changes by ",
                            difference(take), " credits per open hour", "" if sure else ": no sure change"]  # fmt: skip
    if fair is not None:
        parts += ["; the better side's share of wins by ", difference(fair.turned, "share")]
    return [*parts, "."]


def two_kinds(study: Study) -> str:
    """How the interval of a figure and that of a difference are told apart."""
    return (
        f"± behind a figure of one {study.word}: how far that figure may be off. ± behind a difference: how far the "
        f"difference may be off. That is usually less, since every {study.word} met the same visitors and their luck "
        "cancels out. Ties are told by wider intervals, which hold for all together."
    )


def _verdict(study: Study, best: SettingView, chance: float, rivals: Sequence[SettingView]) -> Content:
    word = "Sure" if chance >= SURE else "Fairly sure" if chance >= _LIKELY else "Not sure"
    parts: list[Content] = [
        element("strong", word), f" that {study.word} ", setting_name(study, best, short=True), " takes the most",
    ]  # fmt: skip
    less = [item for item in study.settings if item.place != best.place and item not in rivals
            and TAKE in item.against and item.against[TAKE].high < 0]  # fmt: skip
    if rivals:
        parts += ["; it may as well be ", *listed(_named(study, rivals), "or"),
                  f" (told by intervals that hold for all {len(study.settings)} together)"]  # fmt: skip
    parts.append(".")
    if less:
        near = max(less, key=lambda item: item.against[TAKE].mean)
        several = len(less) > 1
        parts += [" ", *names_of(study, less), " surely take less" if several else " surely takes less: "]
        parts += ["; the nearest of them, ", setting_name(study, near, short=True), ": "] if several else []
        parts += [difference(near.against[TAKE]), " credits per open hour."]
    return parts


def _better(rivals: Sequence[SettingView]) -> list[SettingView]:
    """Ties that are surely better in something else, the nearest in take first."""
    found = [item for item in rivals if TAKE in item.against and _gains(item)]
    return sorted(found, key=lambda item: -item.against[TAKE].mean)[:_MOST_BETTER]


def _gains(item: SettingView) -> list[str]:
    return [measure for measure in _BETTER if measure in item.against and item.against[measure].low > 0]


def _tie(study: Study, item: SettingView) -> Content:
    """`0.5 is a tie on take (−0.30 ± 0.42 credits per open hour), and surely fairer: +0.78 ± 0.16 in a hundred.`"""
    gains = listed([f"surely {_BETTER[measure]}: {difference(item.against[measure], 'share')}"
                    for measure in _gains(item)])  # fmt: skip
    return [element("strong", setting_name(study, item, short=True)), " is a tie on take (",
            difference(item.against[TAKE]), " credits per open hour), and ", *gains, "."]  # fmt: skip


def still_moving(study: Study, item: SettingView) -> Content:
    """A warning where the take has not settled within the run, or may not have; nothing where it has."""
    weeks = study.weeks(item)
    if weeks is None or weeks.steady or not weeks.told:
        return None
    course = (f": {shown(weeks.counted[0])} credits per open hour in the first week counted, "
              f"{shown(weeks.counted[-1])} in the last.")  # fmt: skip
    if weeks.moving:
        return [element("strong", "The take is still moving from week to week"), course,
                " The figures are of a venue that has not settled; a longer run may give others."]  # fmt: skip
    return [element("strong", "The take may still be moving from week to week"), course,
            " That may be chance: these replications cannot tell."]  # fmt: skip


def run_longer(study: Study, item: SettingView) -> Content:
    """What to do about a take that has not settled; nothing where it has."""
    if not still_moving(study, item):
        return None
    return ["To see what a settled venue takes, run more days: ",
            command(commands.longer(study))]  # fmt: skip


def _method(study: Study) -> Content:
    result = study.record.result
    count = int(result["replications"])
    text = f"Judged by {count} {plural('replication', count)} of {result['days']} days, the first "
    text += f"{result['warm_up']} left out."
    if count < _FEW:
        text += " That is few: intervals are wide, and more replications may change the answer."
    selection = result.get("selection")
    if selection and not selection.get("finished"):
        text += " The study stopped before it was as sure as was asked; allow more with --at-most."
    return text


def most_lost(rivals: Sequence[SettingView]) -> str:
    """The most that any rival may earn less, by its interval."""
    lost = [
        -item.against[TAKE].low for item in rivals if TAKE in item.against and not math.isnan(item.against[TAKE].low)
    ]
    return f"{max(lost):.1f} credits per open hour" if lost else ""
