"""What no single key can tell: parts of a scenario that must agree with each other."""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import date, timedelta

from venue import units
from venue.errors import Problem
from venue.scenario.in_force import days_of_change, in_force
from venue.scenario.scenario import Scenario
from venue.scenario.title_checks import title_checks
from venue.scenario.words import nearest, shown, value_text, with_value


def cross_checks(scenario: Scenario) -> list[Problem]:
    """Everything wrong between the parts of a scenario that are sound one by one."""
    found = [*_site(scenario), *_technician(scenario), *_machines(scenario), *_study(scenario), *_changes(scenario)]
    for key, title in scenario.titles.items():
        found += title_checks(shown(("titles", key)), title)
    return found


def _site(scenario: Scenario) -> Iterator[Problem]:
    hours = scenario.venue.hours
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
    if first_timers_a_week(scenario) == 0.0:
        yield Problem(
            "venue.arrivals",
            "nobody ever arrives in opening hours",
            "give per_hour a rate above 0 for a time when the venue is open",
        )


def first_timers_a_week(scenario: Scenario) -> float:
    """First-time visitors expected in a week of the hours stated: arrivals by the hour times the factor of the day."""
    site, found = scenario.venue, 0.0
    starts = list(site.arrivals.per_hour)
    for day in range(7):
        opening = site.hours.on(day)
        if opening is None:
            continue
        for start, end, rate in zip(starts, [*starts[1:], math.inf], site.arrivals.per_hour.values(), strict=True):
            overlap = min(end, opening[1] - site.hours.last_entry) - max(start, opening[0])
            found += max(0.0, overlap) / units.HOUR * rate * site.arrivals.weekday.on(day) * site.arrivals.players
    return found


def _technician(scenario: Scenario) -> Iterator[Problem]:
    technician = scenario.venue.technician
    if technician.hours is not None and technician.count and not any(technician.hours.on(day) for day in range(7)):
        yield Problem(
            "venue.technician.hours",
            "the technician is never on duty",
            'write every_day = "10:00-18:00", or count = 0 if there is none',
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
        elif machine.difficulty is not None:
            known = scenario.titles[machine.title].difficulties
            if machine.difficulty not in known:
                where = with_value(shown(("machines", key, "difficulty")), machine.difficulty)
                yield Problem(where, f"{machine.title} has no such difficulty", nearest(machine.difficulty, known))
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


def _changes(scenario: Scenario) -> Iterator[Problem]:
    starts = scenario.study.starts
    if starts is not None and date.fromisoformat(starts).weekday():
        monday = date.fromisoformat(starts) - timedelta(date.fromisoformat(starts).weekday())
        yield Problem(with_value("study.starts", starts), "must be a Monday", f'write "{monday.isoformat()}"')
    switches = {rule.switch for title in scenario.titles.values() for rule in title.rules.values() if rule.switch}
    for place, change in enumerate(scenario.changes):
        where = f"changes.{place}"
        if change.date is not None:
            if starts is None:
                yield Problem(
                    with_value(f"{where}.date", change.date), "needs study.starts", "say when day 0 is, or write day"
                )
                return
            if change.date < starts:
                yield Problem(
                    with_value(f"{where}.date", change.date),
                    f"lies before study.starts = {starts}",
                    "write a later date",
                )
        for key in change.machines or ():
            if key not in scenario.machines:
                yield Problem(with_value(f"{where}.machines", key), "no such machines", nearest(key, scenario.machines))
                return
            if scenario.machines[key].title is None and change.strength is not None:
                yield Problem(
                    with_value(f"{where}.machines", key),
                    "has no title, and so no strength",
                    "take it out of this change",
                )
        for switch in change.switches_off or ():
            if switch not in switches:
                yield Problem(
                    with_value(f"{where}.switches_off", switch), "no rule has this switch",
                    nearest(switch, sorted(switches)),
                )  # fmt: skip
    for key, machine in scenario.machines.items():
        for switch in machine.switches_off or ():
            if switch not in switches:
                yield Problem(
                    with_value(shown(("machines", key, "switches_off")), switch), "no rule has this switch",
                    nearest(switch, sorted(switches)),
                )  # fmt: skip
    for day in days_of_change(scenario):
        yield from _changed(scenario, in_force(scenario, day), day)


def _changed(before: Scenario, after: Scenario, day: int) -> Iterator[Problem]:
    """What is wrong with the venue as changes leave it on a day."""
    where = f"changes, from day {day} on"
    if after.venue.hours != before.venue.hours:
        for problem in _site(after):
            yield Problem(where, f"{problem.path}: {problem.what}", problem.fix)
    for key, machine in after.machines.items():
        if machine.discount_again > machine.price:
            yield Problem(
                where, f"{shown(('machines', key, 'discount_again'))} is above the price",
                f"keep the price at {machine.discount_again} or more",
            )  # fmt: skip
