"""What is in force on a day: the scenario with its changes by date laid over it."""

from __future__ import annotations

from datetime import date

from venue.scenario.change import Change
from venue.scenario.scenario import Scenario


def day_of(change: Change, scenario: Scenario) -> int:
    """The day from which a change holds, 0 being the first that is counted.

    Raises
    ------
    ValueError
        If it has a date, and the scenario does not say when it starts.
    """
    if change.day is not None:
        return change.day
    if change.date is None or scenario.study.starts is None:
        raise ValueError("a date needs study.starts")
    return (date.fromisoformat(change.date) - date.fromisoformat(scenario.study.starts)).days


def days_of_change(scenario: Scenario) -> list[int]:
    """The days on which something changes, in order."""
    return sorted({day_of(change, scenario) for change in scenario.changes})


def in_force(scenario: Scenario, day: int) -> Scenario:
    """The scenario as it is on a day: of two changes of one thing the later day's holds, of one day's the last."""
    due = [change for change in scenario.changes if day_of(change, scenario) <= day]
    if not due:
        return scenario.model_copy(update={"changes": ()}) if scenario.changes else scenario
    machines, site, limits = dict(scenario.machines), scenario.venue, scenario.limits
    for change in sorted(due, key=lambda change: day_of(change, scenario)):
        changed = change.of_machines()
        for key in machines if change.machines is None else change.machines:
            machine = machines[key]
            # A strength is a title's matter, and so is a price to go on.
            own = {
                name: value for name, value in changed.items()
                if machine.title is not None or name in ("price", "prices", "count")
            }  # fmt: skip
            machines[key] = machine.model_copy(update=own)
        if change.hours is not None:
            site = site.model_copy(update={"hours": change.hours})
        if change.limits is not None:
            limits = change.limits
    return scenario.model_copy(update={"machines": machines, "venue": site, "limits": limits, "changes": ()})
