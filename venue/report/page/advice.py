"""How sure the answer is, what it costs in fairness, what it does to people, what comes next, what nobody knows."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from venue.report.page import commands
from venue.report.page.parts import Block, Bullets, Heading, Words, said
from venue.report.page.reading import SettingView, Study
from venue.report.sentences import changes, costs, method, next_steps, numbers, runs, settling, sweeps, titles
from venue.report.sentences.parts import Sentence, capitalised
from venue.study.floor_records import CompareRecord, MovedNumber, RunRecord, SensitivityRecord, SweepRecord
from venue.study.intervals import Estimate
from venue.study.judgement import KNOWN_ORIGINS
from venue.study.registry import FAIR
from venue.study.title_records import ContestRecord

Lists = dict[str, Sequence[Sentence]]


def advice(study: Study) -> list[Block]:
    """Headed lists, those that have anything to say."""
    blocks: list[Block] = []
    for title, lines in _lists(study).items():
        items: list[Words] = [said(capitalised(line)) for line in lines if line]
        if items:
            blocks += [Heading([title]), Bullets(items)]
    return blocks


def _lists(study: Study) -> Lists:
    data = study.record.data
    if isinstance(data, SweepRecord):
        return _sweep(study, data)
    if isinstance(data, CompareRecord):
        return _compare(study, data)
    if isinstance(data, ContestRecord):
        return _contest(study, data)
    if isinstance(data, SensitivityRecord):
        return {"What this cannot tell": _unsure(study)}
    return _run(study, data)


def _sweep(study: Study, data: SweepRecord) -> Lists:
    view = sweeps.Settings.of_record(data)
    if study.best is None:
        return {
            "Why none is recommended": sweeps.requirements(view),
            "What to do next": [next_steps.ASK_FOR_LESS],
            "What this cannot tell": _unsure(study),
        }
    best = study.settings[study.best]
    return {
        "How sure": _how_sure(study, data, view),
        "What it costs in fairness": costs.fairness_cost(view, _price(data, best)),
        "What it does to people": costs.people(view),
        "What to do next": _next(study, best),
        "What this cannot tell": _unsure(study),
    }


def _run(study: Study, data: RunRecord) -> Lists:
    item = study.settings[0]
    return {
        "How sure": [_still_moving(study, item), _method(data)],
        "What it does to people": runs.people(item.measures),
        "What to do next": [_run_longer(study, item), next_steps.find_strength(commands.sweep(study))],
        "What this cannot tell": _unsure(study),
    }


def _compare(study: Study, data: CompareRecord) -> Lists:
    def told(*measures: str) -> list[Sentence]:
        return [
            changes.difference_of(item.name, row)
            for item in data.comparisons for row in item.differences if row.measure in measures
        ]  # fmt: skip

    return {
        "How sure": [_method(data), changes.not_settled(data)],
        "What it costs in fairness": told(FAIR, "skill_edge"),
        "What it does to people": told(*runs.PEOPLE),
        "What to do next": [next_steps.LAW, next_steps.TRY],
        "What this cannot tell": _unsure(study),
    }


def _contest(study: Study, data: ContestRecord) -> Lists:
    return {
        "Can it be beaten": [titles.best_play(data.findings.best_play), titles.trailing(data.findings)],
        "What stays on": [titles.stays_on(data.apart.stays_on)],
        "What to do next": [next_steps.ask_the_floor(commands.sweep(study))],
        "What this cannot tell": [(method.EXACT,)],
    }


def _how_sure(study: Study, data: SweepRecord, view: sweeps.Settings) -> list[Sentence]:
    """The verdict, ties and what speaks for them, a take that has not settled, how to read ±, the method."""
    best = study.settings[study.best or 0]
    ties = (*sweeps.most_lost(view), " ", *sweeps.told_apart(view)) if study.rivals else ()
    paired = any(item.against for item in study.settings)
    return [
        (*sweeps.takes(view, best.place), " ", *sweeps.how_sure(view)), ties, sweeps.doubt(view),
        *sweeps.requirements(view), sweeps.fairer(view), sweeps.against_today(view), *costs.better_ties(view),
        _still_moving(study, best), costs.two_kinds_of_intervals(view) if paired else (), _method(data),
    ]  # fmt: skip


def _still_moving(study: Study, item: SettingView) -> Sentence:
    """A warning where the take has not settled within the run, or may not have; nothing where it has."""
    found = study.settled(item)
    warning = settling.not_settled(found)
    return (*warning, " ", *settling.how_unsettled(found)) if warning else ()


def _run_longer(study: Study, item: SettingView) -> Sentence:
    """What to do about a take that has not settled; nothing where it has."""
    if not settling.not_settled(study.settled(item)):
        return ()
    return next_steps.run_longer(commands.longer(study))


def _method(data: RunRecord | SweepRecord | CompareRecord) -> Sentence:
    selection = data.selection if isinstance(data, SweepRecord) else None
    finished = selection is None or selection.finished
    return method.judged_by(data.replications, data.days, data.warm_up, finished=finished)


def _price(data: SweepRecord, best: SettingView) -> Estimate | None:
    """What one more point of fairness would cost from here, in credits per open hour."""
    prices = (row.price_of_a_point for row in data.trade_off if tuple(row.at.items()) == best.at)
    found = next(prices, None)
    return None if found is None else found.estimate


def _next(study: Study, best: SettingView) -> list[Sentence]:
    """What to do, the most useful first: what could overturn the answer, the floor's own word, then what makes it
    surer."""
    items: list[Sentence] = [_beyond(study, best), _run_longer(study, best), next_steps.LAW, next_steps.TRY]
    top = _foremost(study)
    if top is None:
        items.append(next_steps.find_what_it_depends_on(commands.depends_on(study)))
    elif top.source not in KNOWN_ORIGINS:
        items.append(next_steps.measure(top))
    found, rivals = study.findings, study.rivals
    if found is not None and found.run_on:
        places = sorted({best.place, *(item.place for item in rivals)}) if rivals else range(len(study.settings))
        command = commands.surer(study, [study.settings[place].at for place in places])
        items.append(next_steps.run_on(command, ties=bool(rivals)))
    return items


def _beyond(study: Study, best: SettingView) -> Sentence:
    """A word on settings that were not tried, where the best is the last of those that were."""
    if study.findings is None or not study.findings.at_end:
        return ()
    values = [value for item in study.settings for _, value in item.at]
    end, other = (values[-1], values[-2]) if best.place else (values[0], values[1])
    if study.keys != ("strength",) or isinstance(end, str) or isinstance(other, str):
        return next_steps.beyond(study.word, "")
    step = end - other
    more = [end, *(end + step * count for count in (1, 2) if end + step * count >= 0)]
    return next_steps.beyond(study.word, commands.wider(study, ",".join(commands.in_full(value) for value in more)))


def _foremost(study: Study) -> MovedNumber | None:
    """The number that the answer depends on most, where that was studied."""
    found = study.record.sensitivity
    return found.numbers[0] if found is not None and found.numbers else None


def origins(study: Study) -> dict[str, int]:
    """How many numbers of the scenario come from where."""
    return dict(Counter(row["from"] for row in study.record.numbers))


def _unsure(study: Study) -> list[Sentence]:
    """What the answer cannot tell."""
    top = _foremost(study)
    return [
        method.known_numbers(origins(study)),
        () if top is None else numbers.depends_most(top),
        (method.MODEL,),
        (method.BETWEEN,) if isinstance(study.record.data, SweepRecord) else (),
    ]
