"""The answer of a sweep: which setting, how sure that is, what it costs, what to do next."""

from __future__ import annotations

import math

from venue.report.page import commands
from venue.report.page.answer_sure import (
    SURE,
    chance_right,
    fairer_as_good,
    how_sure,
    most_lost,
    names_of,
    run_longer,
)
from venue.report.page.answer_words import (
    KNOWN,
    LAW,
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
from venue.report.page.reading import FAIR, TAKE, SettingView, Study
from venue.study.intervals import Estimate

_MARGIN = "profit_per_week"


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
        "What it costs in fairness": bullets(_cost(study, best)),
        "What it does to people": people(study, best),
        "What to do next": _next(study, best),
        "What this cannot tell": unsure(study),
    }, fairer_as_good(study))  # fmt: skip


def _recommended(study: Study, best: SettingView) -> list[Content]:
    count, take = len(study.settings), best.measures[TAKE]
    some = f"of the {count} tried" + (" that keep what was asked for" if _refused(study) else "")
    # Execution of all replications may differ from those that the choice was made on, which could tell every floor.
    most = all(item.measures[TAKE].mean <= take.mean for item in study.rivals if TAKE in item.measures)
    what = "it takes" if count == 1 or not most else f"{some} it takes the most,"
    first = [element("strong", "Run at ", setting_name(study, best), ":"), f" {what} ",
             *with_span(take, "", " credits per open hour"),
             "." if most else f", and none {some} surely takes more."]  # fmt: skip
    rivals, chance = study.rivals, chance_right(study)
    if chance is None:
        return [first, "One replication cannot say how sure that is: run more."] if math.isnan(take.low) else [first]
    sure: list[Content] = [
        f"The chance that this is the best of the {count} is ",
        element("data", f"{100 * chance:.0f} %", value=repr(chance)),
    ]
    if rivals:
        loss = most_lost(rivals)
        sure += [": ", *names_of(study, rivals), " cannot be told apart from it",
                 f" and would earn at most {loss} less" if loss else "", "."]  # fmt: skip
    else:
        sure.append("; every other one surely earns less, or does not keep what was asked for.")
    return [first, sure]


def _refused(study: Study) -> bool:
    return "do not" in str(study.record.result["best"]["why"]) or "does not" in str(study.record.result["best"]["why"])


def _cost(study: Study, best: SettingView) -> list[Content]:
    fair, base = best.measures.get(FAIR), study.unaided
    if fair is None:
        return ["No contest was played whose better side could be told."]
    items: list[Content] = [_wins(study, best, fair, base)]
    edge = best.measures.get("skill_edge")
    if edge is not None and base is not None:
        items.append([figure(edge, "share"), " is left of the edge that skill gives unaided."])
    change = None if base is None else base.against.get(TAKE)
    if change is not None:
        more = change.turned
        bought = "What is bought with it" if more.low > 0 else "It is not sure that anything is bought with it"
        items.append([f"{bought}: ", difference(more), " credits per open hour", *_kept(study, base), "."])
    bound = study.record.result.get("floors", {}).get(FAIR)
    if bound and fair.mean >= bound:
        items.append(f"The least that was asked for, {percent(bound, 0)}, is kept.")
    price = _price(study, best)
    return [*items, price] if price else items


def _wins(study: Study, best: SettingView, fair: Estimate, base: SettingView | None) -> list[Content]:
    """How often the better side wins, against the setting without help."""
    parts: list[Content] = [
        "At ",
        setting_name(study, best, short=study.keys == ("strength",)),
        " the better side, the one with more skill, wins ",
        *with_span(fair, "share", " of contests"),
    ]
    there = None if base is None else base.measures.get(FAIR)
    if base is not None and there is not None:
        off = dict(base.at).get("strength") == 0
        label = "with catch-up off" if off else ["at ", setting_name(study, base, short=True)]
        parts += ["; ", label, " it wins ", figure(there, "share")]
        change = base.against.get(FAIR)
        if change is not None:
            parts += [", a difference of ", difference(change.turned, "share")]
    return [*parts, "."]


def _kept(study: Study, base: SettingView | None) -> list[Content]:
    """The same in money that is left to the operator, where that is known."""
    change = None if base is None else base.against.get(_MARGIN)
    if change is None:
        return []
    return [", and ", difference(change.turned), f" {study.unit(_MARGIN)} left to the operator"]


def _price(study: Study, best: SettingView) -> Content:
    """What one more point of fairness would cost from here."""
    row = next((row for row in study.record.result.get("trade_off") or () if row["at"] == dict(best.at)), None)
    price = None if row is None else row.get("price_of_a_point")
    if not price:
        return None
    item = Estimate(price["mean"], price["low"], price["high"], 2)
    return (f"One more contest in a hundred won by the better side would cost {shown(item)} credits per open hour "
            f"({span(item)}) by going to the next fairer {study.word}.")  # fmt: skip


def _next(study: Study, best: SettingView) -> list[Content]:
    """What to do, the most useful first: what could overturn the answer, the floor's own word, then what makes it
    surer."""
    items: list[Content] = [*_beyond(study, best)]
    longer = run_longer(study, best)
    items += [longer] if longer else []
    items += [LAW, TRY]
    top = foremost(study)
    if top is None:
        items.append(
            ["To learn which numbers the answer hangs on, before trusting it: ", command(commands.hangs_on(study))]
        )
    elif top["from"] not in KNOWN:
        items.append(["Measure ", name(str(top["number"])), f": it is {top['from']}, and moves the answer most."])
    chance, rivals = chance_right(study), study.rivals
    if len(study.settings) > 1 and (chance is None or chance < SURE):
        places = sorted({best.place, *(item.place for item in rivals)}) if rivals else range(len(study.settings))
        text = commands.surer(study, [study.settings[place].at for place in places])
        loss = most_lost(rivals)
        words = f"Only if up to {loss} is worth the wait: run the ties" if loss else "Run the rivals"
        items.append([f"{words} until it is sure which of them takes the most: ", command(text)])
    return bullets(items)


def _beyond(study: Study, best: SettingView) -> list[Content]:
    """A word on settings that were not tried, where the best is the last of those that were."""
    values = [value for item in study.settings for _, value in item.at]
    if len(study.keys) != 1 or len(values) < 2 or best.place not in (0, len(values) - 1) or best.label == "0":
        return []
    text = f"The best {study.word} is at the end of those tried; try some beyond it"
    end, other = (values[-1], values[-2]) if best.place else (values[0], values[1])
    if study.keys != ("strength",) or isinstance(end, str) or isinstance(other, str):
        return [f"{text}."]
    step = end - other
    more = [end, *(end + step * count for count in (1, 2) if end + step * count >= 0)]
    return [[f"{text}: ", command(commands.wider(study, ",".join(commands.in_full(value) for value in more)))]]
