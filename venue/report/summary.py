"""What `venue check` says: what will be run, and where every number of the scenario comes from."""

from __future__ import annotations

import math
from typing import Any

from venue import __version__, units
from venue.report.columns import in_columns, left, paragraph, room, short
from venue.report.stacked_table import fits, in_two_lines
from venue.scenario.load import Loaded, to_raw
from venue.scenario.machine import Machine
from venue.scenario.numbers import DEFAULT, NOT_STATED, numbers_of
from venue.scenario.scenario import Scenario
from venue.scenario.words import listed

_LONGEST_NAME, _LONGEST_VALUE = 28, 40
_LEAST_NOTE = 12


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


def as_text(loaded: Loaded, width: int = 100) -> str:
    """The scenario in words, then its numbers with their sources."""
    scenario = loaded.scenario
    site, study = scenario.venue, scenario.study
    lines = [f"{loaded.source}: sound"]
    if scenario.about:
        lines.append(paragraph(" ".join(scenario.about.split()), width))
    hours = []
    for day, name in enumerate(units.WEEKDAYS):
        opening = site.hours.on(day)
        hours.append(
            f"{name[:3]} " + (f"{units.show_clock(opening[0])}-{units.show_clock(opening[1])}" if opening else "closed")
        )
    lines.append(
        paragraph(f"{site.name}: {', '.join(hours)}. A credit costs {site.credit_price:g} {site.money}.", width)
    )
    lines += [paragraph(text, width) for text in _terms(scenario)]
    machines = [
        [short(key, _LONGEST_NAME), _played(machine), str(machine.count), str(machine.price),
         str(machine.price_later) if machine.title else "-", str(machine.seats)]
        for key, machine in scenario.machines.items()
    ]  # fmt: skip
    lines.append(
        in_columns(["machines", "title", "how many", "price", "to go on", "seats"], machines, width=width, flush_left=2)
    )
    rules = [
        [short(f"{key}.{name}", _LONGEST_NAME), rule.kind, rule.serves,
         short(rule.switch or "(none)", _LONGEST_NAME),
         "yes" if rule.scalable else "no", "off" if rule.switch in study.switches_off else "on"]
        for key, title in scenario.titles.items()
        for name, rule in title.rules.items()
    ]  # fmt: skip
    if rules:
        lines.append(
            in_columns(
                ["rule", "kind", "serves", "switch", "scaled by\nstrength", "now"], rules, width=width, flush_left=4
            )
        )
    lines.append(
        paragraph(
            f"To be run: {study.replications} replications of {study.days} days, the first {study.warm_up} left out, "
            f"at strength {study.strength:g}, seed {study.seed}. Floors to keep: better_side_wins at least "
            f"{study.keep_better_side_wins:g}, return_28d at least {study.keep_return_28d:g}.",
            width,
        )
    )
    rows = sources(loaded)
    order = ("measured", "fitted", "common practice", "assumed", NOT_STATED, DEFAULT)
    counts = {name: sum(row[2] == name for row in rows) for name in order}
    found = ", ".join(f"{count} {name}" for name, count in counts.items() if count)
    lines.append(paragraph(f"Where the numbers come from: {found}", width))
    rows.sort(key=lambda row: order.index(row[2]))
    lines.append(_numbers(rows, width))
    return "\n\n".join(lines)


def _terms(scenario: Scenario) -> list[str]:
    """Bundles, card and limits in sentences, where there are any."""
    till, limits = scenario.venue.till, scenario.limits
    found = []
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


def _played(machine: Machine) -> str:
    if machine.title:
        return short(machine.title, _LONGEST_NAME)
    return f"(no contest, {units.show_seconds(machine.play_time or 0)} a play)"


def _numbers(rows: list[tuple[str, str, str, str]], width: int) -> str:
    """Every number with its source; notes as far as the line has room for them."""
    head = ["number", "value", "from", "note"]
    cells = [[row[0], short(row[1], _LONGEST_VALUE), row[2]] for row in rows]
    widths = [max(room(row[index]) for row in [head, *cells]) for index in range(3)]
    space = width - sum(widths) - 6
    if space >= _LEAST_NOTE and any(row[3] for row in rows):
        cells = [[*cell, short(row[3], space)] for cell, row in zip(cells, rows, strict=True)]
        widths.append(max(room(row[3]) for row in [head, *cells]))
    lines = [[row[0], *(left(cell, size) for cell, size in zip(row[1:], widths[1:], strict=False))]
             for row in [head, *cells]]  # fmt: skip
    if not fits(lines[0], lines[1:], width):
        return in_two_lines(lines[0], lines[1:])
    return in_columns(lines[0], lines[1:], width=sum(widths) + 2 * len(widths))
