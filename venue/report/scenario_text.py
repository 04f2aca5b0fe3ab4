"""What `venue check` says: what the file implies and what will be run; in full, where every number comes from."""

from __future__ import annotations

import math
from collections import Counter
from typing import TYPE_CHECKING, Any

from venue import __version__, units
from venue.report.heading import LONGEST_NAME, counted
from venue.report.layout import Lines, Part
from venue.report.tables import Cell, Column, Said, Table
from venue.scenario.load import Loaded, to_raw
from venue.scenario.machine import Machine
from venue.scenario.numbers import DEFAULT, NOT_STATED, Number, numbers_of
from venue.scenario.scenario import Scenario
from venue.scenario.words import listed

if TYPE_CHECKING:
    from venue.study.implied import Implied

_ORIGINS = ("measured", "fitted", "common practice", "assumed", NOT_STATED, DEFAULT)
_MOST_MACHINES = 6


def sources(loaded: Loaded) -> list[tuple[str, str, str, str]]:
    """Every number of the scenario: (key path, value as people write it, source, note), defaults included."""
    return [(".".join(item.path), item.text, item.source, item.note) for item in numbers_of(loaded)]


def as_dict(loaded: Loaded) -> dict[str, Any]:
    """Plain data, as `venue check --json` prints it."""
    return {
        "scenario": loaded.source,
        "version": __version__,
        "resolved": _for_json(to_raw(loaded.scenario)),
        "sources": [
            {"key": key, "value": value, "from": source, "note": note} for key, value, source, note in sources(loaded)
        ],
    }


def _for_json(item: Any) -> Any:
    """Plain data without infinities, which JSON has no word for: they become texts as the scenario writes them."""
    if isinstance(item, dict):
        return {key: _for_json(value) for key, value in item.items()}
    if isinstance(item, list | tuple):
        return [_for_json(value) for value in item]
    return str(item) if isinstance(item, float) and not math.isfinite(item) else item


def check_parts(loaded: Loaded, implied: Implied | None = None, *, full: bool = True) -> list[Part]:
    """The scenario in words: what it implies, its machines and what will be run; with `full` rules and every number.

    Parameters
    ----------
    implied
        What came of the short run; None leaves it out.
    """
    scenario = loaded.scenario
    parts: list[Part] = [Lines(f"{loaded.source}: sound")]
    parts += [" ".join(scenario.about.split())] if full and scenario.about else []
    parts += [_implies(loaded, implied)] if implied is not None else []
    parts.append(" ".join([_opening(scenario), *_terms(scenario)]))
    machines = machines_table(scenario)
    parts.append(machines if full else machines.first(_MOST_MACHINES))
    if not full and len(machines.rows) > _MOST_MACHINES:
        parts.append(f"and {len(machines.rows) - _MOST_MACHINES} more rows of machines")
    rules = rules_table(scenario)
    parts += [rules] if full and rules.rows else []
    parts.append(_to_be_run(scenario))
    stated = Counter(item.source for item in numbers_of(loaded))
    counts = {name: stated[name] for name in _ORIGINS}
    found = ", ".join(f"{count} {name}" for name, count in counts.items() if count)
    parts.append(f"Where the numbers come from: {found}.")
    return [*parts, numbers_table(loaded)] if full else parts


def _implies(loaded: Loaded, item: Implied) -> Table:
    """What the file implies, about."""
    columns = (
        Column("what", "the file\nimplies, about", "words"),
        Column("first_timers", "first-time\nvisitors a week", digits=0),
        Column("visits", "visits\na week", digits=0), Column("credits", "credits\na visit", digits=1),
        Column("take", f"take a week\n({loaded.scenario.venue.money})", digits=0),
        Column("minutes", "minutes\na visit", digits=0),
    )  # fmt: skip
    return Table(
        "implied", columns, [["one short run", item.first_timers, item.visits, item.credits, item.take, item.minutes]]
    )


def _opening(scenario: Scenario) -> str:
    """Opening hours, days in a row with the same hours together, and what a credit costs."""
    site = scenario.venue
    groups: list[tuple[str, list[str]]] = []
    for day, name in enumerate(units.WEEKDAYS):
        opening = site.hours.on(day)
        text = f"{units.show_clock(opening[0])}-{units.show_clock(opening[1])}" if opening else "closed"
        if not groups or groups[-1][0] != text:
            groups.append((text, []))
        groups[-1][1].append(name[:3])
    if len(groups) == 1:
        groups[0][1][:] = ["every day"]
    hours = [f"{days[0]}{f'-{days[-1]}' if len(days) > 1 else ''} {text}" for text, days in groups]
    return f"{site.name}: {', '.join(hours)}. A credit costs {site.credit_price:g} {site.money}."


def _to_be_run(scenario: Scenario) -> str:
    study = scenario.study
    return (
        f"To be run: {study.replications} replications of {counted(study)}, at "
        f"strength {study.strength:g}, seed {study.seed}. Required of a setting: better_side_wins at least "
        f"{study.keep_better_side_wins:g}, return_28d at least {study.keep_return_28d:g}."
    )


def _terms(scenario: Scenario) -> list[str]:
    """Bundles, card and limits in sentences, where there are any."""
    till, limits = scenario.venue.till, scenario.limits
    found: list[str] = []
    if till.bundles:
        bundles = listed([f"{item.credits} for the price of {item.price_of}" for item in till.bundles], "and")
        found.append(f"At the till: {bundles}; credits not played are {till.unplayed}.")
    if till.card.holders and till.card.bonus:
        found.append(f"A card, held by {till.card.holders:.0%} of people, gives {till.card.bonus:.0%} on top.")
    caps = [(limits.spend_per_visit, "a visit"), (limits.spend_per_hour, "an hour")]
    if any(cap is not None for cap, _ in caps):
        text = listed([f"{cap} credits {per}" for cap, per in caps if cap is not None], "and")
        found.append(f"Nobody may spend more than {text}.")
    return found


def machines_table(scenario: Scenario) -> Table:
    """The rows of machines with their prices."""
    columns = (
        Column("machine", "machines", "words", longest=LONGEST_NAME),
        Column("title", "title", "words", longest=LONGEST_NAME),
        Column("count", "how many"), Column("price", "price"), Column("later", "to go on"), Column("seats", "seats"),
    )  # fmt: skip
    rows: list[list[Cell]] = [
        [key, _played(machine), machine.count, machine.price, str(machine.price_later) if machine.title else "-",
         machine.seats]
        for key, machine in scenario.machines.items()
    ]  # fmt: skip
    return Table("machines", columns, rows)


def _played(machine: Machine) -> str:
    return machine.title or f"no contest, {units.show_seconds(machine.play_time or 0)} a play"


def rules_table(scenario: Scenario) -> Table:
    """The catch-up rules of every title."""
    columns = (
        Column("rule", "rule", "words", longest=LONGEST_NAME), Column("kind", "kind", "words"),
        Column("serves", "serves", "words"), Column("switch", "switch", "words", longest=LONGEST_NAME),
        Column("scaled", "scaled by\nstrength"), Column("now", "now"),
    )  # fmt: skip
    rows: list[list[Cell]] = [
        [f"{key}.{name}", rule.kind, rule.serves, rule.switch or "(none)", "yes" if rule.scalable else "no",
         "off" if rule.switch in scenario.study.switches_off else "on"]
        for key, title in scenario.titles.items()
        for name, rule in title.rules.items()
    ]  # fmt: skip
    return Table("rules", columns, rows)


def numbers_table(loaded: Loaded) -> Table:
    """Every number of the scenario, with where it comes from, the surest first."""
    columns = (
        Column("number", "number", "words"), Column("value", "value", "words", longest=40),
        Column("from", "from", "words"), Column("note", "note", "words", longest=60, spare=1),
    )  # fmt: skip
    found = sorted(numbers_of(loaded), key=lambda item: _ORIGINS.index(item.source))
    return Table("numbers", columns, [_number(item) for item in found], below="value")


def numbers_file(loaded: Loaded) -> Table:
    """The same in the order of the scenario, as a folder of results holds it."""
    table = numbers_table(loaded)
    return Table(table.name, table.columns, [_number(item) for item in numbers_of(loaded)])


def _number(item: Number) -> list[Cell]:
    value = item.value if isinstance(item.value, int | float) else item.text
    return [".".join(item.path), Said(value, item.text), item.source, item.note]
