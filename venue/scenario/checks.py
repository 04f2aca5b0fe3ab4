"""What no single key can tell: parts of a scenario that must agree with each other."""

from __future__ import annotations

from collections.abc import Iterator

from venue import units
from venue.errors import Problem
from venue.scenario.rules import ClosingChance, Drought, RuleBase, Turnover
from venue.scenario.scenario import Scenario
from venue.scenario.title import Title
from venue.scenario.words import nearest, shown, value_text, with_value


def cross_checks(scenario: Scenario) -> list[Problem]:
    """Everything wrong between the parts of a scenario that are sound one by one."""
    found = [*_site(scenario), *_machines(scenario), *_study(scenario)]
    for key, title in scenario.titles.items():
        found += _title(shown(("titles", key)), title)
    return found


def _site(scenario: Scenario) -> Iterator[Problem]:
    hours, arrivals = scenario.venue.hours, scenario.venue.arrivals
    openings = [hours.on(day) for day in range(7)]
    if not any(openings):
        yield Problem("venue.hours", "the venue never opens", 'write every_day = "10:00-22:00"')
        return
    for day, opening in enumerate(openings):
        if opening and hours.last_entry >= opening[1] - opening[0]:
            yield Problem(
                f"venue.hours.last_entry = {units.show_seconds(hours.last_entry)}",
                f"must be less than the opening on {units.WEEKDAYS[day]}, or nobody could enter",
                f"keep it under {units.show_seconds(opening[1] - opening[0])}",
            )
            return
    for today, tomorrow in zip(range(7), [1, 2, 3, 4, 5, 6, 0], strict=True):
        first, second = openings[today], openings[tomorrow]
        if first and second and first[1] > second[0] + units.DAY:
            yield Problem(
                f"venue.hours.{_stated(scenario, today)}",
                f"closes on {units.WEEKDAYS[today]} after {units.WEEKDAYS[tomorrow]} has opened",
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
            "give per_hour a rate above 0 for a time when the venue is open",
        )


def _stated(scenario: Scenario, weekday: int) -> str:
    """The key that states the hours of a weekday."""
    name = units.WEEKDAYS[weekday]
    return name if name in scenario.venue.hours.model_fields_set else "every_day"


def _machines(scenario: Scenario) -> Iterator[Problem]:
    used = set()
    for key, machine in scenario.machines.items():
        if machine.title is None:
            continue
        used.add(machine.title)
        if machine.title not in scenario.titles:
            fix = nearest(machine.title, scenario.titles) if scenario.titles else f"add [titles.{machine.title}]"
            yield Problem(with_value(shown(("machines", key, "title")), machine.title), "no such title", fix)
    for key in scenario.titles:
        if key not in used:
            yield Problem(
                shown(("titles", key)),
                "no machine plays it",
                f"give a [machines.NAME] the line title = {value_text(key)}, or take the title out",
            )


def _study(scenario: Scenario) -> Iterator[Problem]:
    study = scenario.study
    if study.warm_up >= study.days:
        yield Problem(
            f"study.warm_up = {study.warm_up}",
            f"must be less than study.days = {study.days}, or nothing is left to measure",
            "make days longer or warm_up shorter",
        )
    opens = [scenario.venue.hours.on(day % 7) is not None for day in range(study.warm_up, study.days)]
    if opens and not any(opens) and any(scenario.venue.hours.on(day) for day in range(7)):
        yield Problem(f"study.days = {study.days}", "the venue is closed on every day measured", "make days longer")
    switches = {rule.switch for title in scenario.titles.values() for rule in title.rules.values() if rule.switch}
    for switch in study.switches_off:
        if switch not in switches:
            yield Problem(
                with_value("study.switches_off", switch), "no rule has this switch", nearest(switch, sorted(switches))
            )


def _title(path: str, title: Title) -> Iterator[Problem]:
    total = sum(attempt.share for attempt in title.attempts.values())
    if abs(total - 1.0) > 1e-6:
        change = f"add {1 - total:.6g} to" if total < 1 else f"take {total - 1:.6g} off"
        yield Problem(f"{path}.attempts", f"shares sum to {total:.6g}, must sum to 1", f"{change} one of them")
    yield from _play(path, title)
    if title.floor > title.ceiling:
        yield Problem(
            f"{path}.floor = {title.floor:g}", f"must be at most ceiling = {title.ceiling:g}", "change one of the two"
        )
    yield from _times(path, title)
    for key, rule in title.rules.items():
        yield from _rule(f"{path}.{shown(('rules', key))}", title, rule)


def _play(path: str, title: Title) -> Iterator[Problem]:
    """What belongs to play by turns, and what to open play."""
    for key, attempt in title.attempts.items():
        where = f"{path}.{shown(('attempts', key, 'chance'))}"
        if title.play == "turns" and attempt.chance is None:
            yield Problem(where, "is missing, play by turns needs it", 'add it, like chance = "50 %"')
        if title.play == "open" and attempt.chance is not None:
            yield Problem(f"{where} = {attempt.chance:g}", "means nothing in open play", "take it out")
    if title.play == "turns" and title.scores_again is not None:
        yield Problem(f"{path}.scores_again", "belongs to open play", 'take it out, or write play = "open"')
    turns_only = {
        "scorer_keeps": title.scorer_keeps,
        "turnover": title.turnover > 0,
        "period_start": title.period_start == "alternate",
    }
    for key, used in turns_only.items():
        if title.play == "open" and used:
            value = with_value(f"{path}.{key}", getattr(title, key))
            yield Problem(value, "belongs to play by turns", 'take it out, or write play = "turns"')


def _times(path: str, title: Title) -> Iterator[Problem]:
    length = title.period_length
    where = f"{path}.period_length = {units.show_seconds(length)}"
    if length < 1 or length != round(length):
        near = units.show_seconds(max(1.0, round(length)))
        yield Problem(where, "must be whole seconds, at least 1 s", f'write "{near}"')
    elif length > units.HOUR:
        yield Problem(where, "must be at most 1 h", "split it into periods")
    if title.mean_attack < 1.0:
        yield Problem(
            f"{path}.mean_attack = {units.show_seconds(title.mean_attack)}",
            "must be at least 1 s, the step of the clock",
            'write "1 s" or more',
        )


def _rule(path: str, title: Title, rule: RuleBase) -> Iterator[Problem]:
    for period in rule.periods or ():
        if not 1 <= period <= title.periods:
            only = "1, the title's only one" if title.periods == 1 else f"between 1 and {title.periods}"
            yield Problem(f"{path}.periods = {value_text(period)}", f"no such period, must be {only}", "write another")
    for attempt in rule.attempts or ():
        if attempt not in title.attempts:
            where = with_value(f"{path}.attempts", attempt)
            yield Problem(where, "no such attempt", nearest(attempt, title.attempts))
    if isinstance(rule, Turnover) and rule.attempts is not None:
        yield Problem(f"{path}.attempts", "a turnover comes before any attempt", "take it out")
    if isinstance(rule, Turnover) and title.play == "open":
        yield Problem(f'{path}.kind = "turnover"', "needs play by turns", 'take the rule out, or write play = "turns"')
    if isinstance(rule, Drought) and title.play == "open":
        yield Problem(f'{path}.kind = "drought"', "counts misses, which open play has not", "take the rule out")
    if isinstance(rule, ClosingChance) and rule.last > title.period_length:
        length = units.show_seconds(title.period_length)
        yield Problem(
            f"{path}.last = {units.show_seconds(rule.last)}",
            f"must be at most period_length = {length}",
            f'write "{length}" or less',
        )
