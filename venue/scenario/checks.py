"""What no single key can tell: parts of a scenario that must agree with each other."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Iterator

from venue import units
from venue.errors import Problem
from venue.scenario.rules import RuleBase
from venue.scenario.scenario import Scenario
from venue.scenario.title import Title


def cross_checks(scenario: Scenario) -> list[Problem]:
    """Everything wrong between the parts of a scenario that are sound one by one."""
    found = [*_site(scenario), *_machines(scenario), *_study(scenario)]
    for key, title in scenario.titles.items():
        found += _title(f"titles.{key}", title)
    return found


def _near(word: str, known: Iterable[str]) -> str:
    known = list(known)
    near = difflib.get_close_matches(word, known, n=1, cutoff=0.5)
    return f'did you mean "{near[0]}"?' if near else f"known: {', '.join(known) or 'none'}"


def _site(scenario: Scenario) -> Iterator[Problem]:
    hours, arrivals = scenario.venue.hours, scenario.venue.arrivals
    openings = [hours.on(day) for day in range(7)]
    if not any(openings):
        yield Problem("venue.hours", "the venue never opens", 'give every_day = "10:00-22:00"')
        return
    for day, opening in enumerate(openings):
        if opening and hours.last_entry >= opening[1] - opening[0]:
            yield Problem(
                f"venue.hours.last_entry = {units.show_seconds(hours.last_entry)}",
                f"is as long as the opening on {units.WEEKDAYS[day]}, so nobody could enter",
                f"keep it under {units.show_seconds(opening[1] - opening[0])}",
            )
            return
    for today, tomorrow in zip(range(7), [1, 2, 3, 4, 5, 6, 0], strict=True):
        first, second = openings[today], openings[tomorrow]
        if first and second and first[1] > second[0] + units.DAY:
            yield Problem(
                f"venue.hours.{units.WEEKDAYS[today]}",
                f"closes after {units.WEEKDAYS[tomorrow]} has opened",
                f"close by {units.show_clock(second[0] + units.DAY)}",
            )
            return
    visitors = 0.0
    for day, opening in enumerate(openings):
        if opening:
            starts = list(arrivals.per_hour)
            ends = [*starts[1:], 36 * units.HOUR]
            for start, end, rate in zip(starts, ends, arrivals.per_hour.values(), strict=True):
                overlap = min(end, opening[1] - hours.last_entry) - max(start, opening[0])
                visitors += max(0.0, overlap) / units.HOUR * rate * arrivals.weekday.on(day)
    if visitors == 0.0:
        yield Problem(
            "venue.arrivals",
            "nobody ever arrives in opening hours",
            "give per_hour a rate above 0 within them",
        )


def _machines(scenario: Scenario) -> Iterator[Problem]:
    used = set()
    for key, machine in scenario.machines.items():
        if machine.title is None:
            continue
        used.add(machine.title)
        if machine.title not in scenario.titles:
            yield Problem(
                f'machines.{key}.title = "{machine.title}"',
                "no such title",
                _near(machine.title, scenario.titles),
            )
    for key in scenario.titles:
        if key not in used:
            yield Problem(
                f"titles.{key}",
                "no machine plays it",
                f'add a [machines.NAME] with title = "{key}", or drop the title',
            )


def _study(scenario: Scenario) -> Iterator[Problem]:
    study = scenario.study
    if study.warm_up >= study.days:
        yield Problem(
            f"study.warm_up = {study.warm_up}",
            f"leaves nothing of {study.days} days to measure",
            "make days longer or warm_up shorter",
        )
    opens = [scenario.venue.hours.on(day % 7) is not None for day in range(study.warm_up, study.days)]
    if study.warm_up < study.days and not any(opens[:7]):
        yield Problem(f"study.days = {study.days}", "the venue is closed on every day measured", "make days longer")
    switches = {rule.switch for title in scenario.titles.values() for rule in title.rules.values() if rule.switch}
    for switch in study.switches_off:
        if switch not in switches:
            yield Problem(
                f'study.switches_off = "{switch}"', "no rule has this switch", _near(switch, sorted(switches))
            )


def _title(path: str, title: Title) -> Iterator[Problem]:
    total = sum(attempt.share for attempt in title.attempts.values())
    if abs(total - 1.0) > 1e-6:
        yield Problem(f"{path}.attempts", f"shares sum to {total:g}, must sum to 1", "scale the shares")
    for key, attempt in title.attempts.items():
        if title.play == "turns" and attempt.chance is None:
            yield Problem(f"{path}.attempts.{key}.chance", "is missing", "play by turns needs a base chance; add it")
        if title.play == "open" and attempt.chance is not None:
            yield Problem(
                f"{path}.attempts.{key}.chance = {attempt.chance:g}",
                "means nothing in open play",
                "take it out",
            )
    if title.floor > title.ceiling:
        yield Problem(f"{path}.floor = {title.floor:g}", f"lies above ceiling = {title.ceiling:g}", "swap them")
    length = title.period_length
    if abs(length - round(length)) > 1e-9 or length < 1:
        yield Problem(f"{path}.period_length = {length:g} s", "must be whole seconds, at least 1 s", "round it")
    elif length > 3600:
        yield Problem(f"{path}.period_length = {length:g} s", "must be at most 3600 s", "split it into periods")
    if title.mean_attack < 1.0:
        yield Problem(
            f"{path}.mean_attack = {title.mean_attack:g} s",
            "must be at least 1 s, the step of the clock",
            "raise it",
        )
    if title.play == "turns" and title.scores_again is not None:
        yield Problem(f"{path}.scores_again", "belongs to open play", 'set play = "open" or take it out')
    if title.play == "open" and (title.scorer_keeps or title.turnover or title.period_start == "alternate"):
        yield Problem(
            path,
            "scorer_keeps, turnover and period_start = alternate belong to play by turns",
            "take them out",
        )
    for key, rule in title.rules.items():
        yield from _rule(f"{path}.rules.{key}", title, rule)


def _rule(path: str, title: Title, rule: RuleBase) -> Iterator[Problem]:
    for period in rule.periods or ():
        if not 1 <= period <= title.periods:
            yield Problem(
                f"{path}.periods = {period}",
                f"the title has periods 1 to {title.periods}",
                "name one of them",
            )
    for attempt in rule.attempts or ():
        if attempt not in title.attempts:
            yield Problem(f'{path}.attempts = "{attempt}"', "no such attempt kind", _near(attempt, title.attempts))
    kind = getattr(rule, "kind", "")
    if kind == "turnover" and rule.attempts is not None:
        yield Problem(f"{path}.attempts", "a turnover comes before any attempt", "take it out")
    if kind == "turnover" and title.play == "open":
        yield Problem(path, "a turnover rule needs play by turns", "take it out")
    if kind == "closing chance" and rule.last > title.period_length:  # type: ignore[attr-defined]
        yield Problem(
            f"{path}.last = {units.show_seconds(rule.last)}",  # type: ignore[attr-defined]
            f"is longer than a period ({units.show_seconds(title.period_length)})",
            "shorten it",
        )
