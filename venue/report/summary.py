"""What `venue check` says: what will be run, and where every number of the scenario comes from."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from typing import Any

from venue import __version__, units
from venue.report.columns import in_columns
from venue.scenario.load import Loaded, to_raw

_NOT_STATED, _DEFAULT = "not stated", "default, assumed"


def sources(loaded: Loaded) -> list[tuple[str, str, str, str]]:
    """Every number of the scenario: (key path, value as people write it, source, note), defaults included.

    A number inherits the origin of the table or list that holds it.
    """
    given = set(loaded.given)

    def walk(
        item: Any, path: tuple[str, ...], inherited: tuple[str, str] | None
    ) -> Iterator[tuple[str, str, str, str]]:
        origin = loaded.origins.get(path)
        inherited = (origin.source, origin.note) if origin else inherited
        if isinstance(item, dict):
            for key, value in item.items():
                yield from walk(value, (*path, str(key)), inherited)
        elif isinstance(item, list | tuple):
            if item and all(isinstance(value, list | tuple | dict) for value in item):
                for index, value in enumerate(item):
                    yield from walk(value, (*path, str(index)), inherited)
            elif item:
                yield _line(item, path, inherited)
        elif _is_quantity(item):
            yield _line(item, path, inherited)

    def _line(item: Any, path: tuple[str, ...], inherited: tuple[str, str] | None) -> tuple[str, str, str, str]:
        stated = any(path[: len(key)] == key for key in given)
        source, note = inherited or (_NOT_STATED if stated else _DEFAULT, "")
        text = ", ".join(map(str, item)) if isinstance(item, list | tuple) else str(item)
        return ".".join(path), text, source, note

    return list(walk(to_raw(loaded.scenario), (), None))


def _is_quantity(item: Any) -> bool:
    """Whether a value is a number, or a text that stands for one (a duration, hours)."""
    if isinstance(item, bool):
        return False
    return isinstance(item, int | float) or (isinstance(item, str) and item[:1].isdigit())


def as_dict(loaded: Loaded) -> dict[str, Any]:
    """Plain data, as `venue check --json` prints it."""
    return {
        "scenario": loaded.source,
        "version": __version__,
        "resolved": to_raw(loaded.scenario),
        "sources": [
            {"key": key, "value": value, "from": source, "note": note} for key, value, source, note in sources(loaded)
        ],
    }


def as_text(loaded: Loaded, width: int = 100) -> str:
    """The scenario in words, then its numbers with their sources."""
    scenario = loaded.scenario
    site, study = scenario.venue, scenario.study
    lines = [f"{loaded.source}: sound"]
    if scenario.about:
        lines.append(textwrap.fill(" ".join(scenario.about.split()), width))
    hours = []
    for day, name in enumerate(units.WEEKDAYS):
        opening = site.hours.on(day)
        hours.append(
            f"{name[:3]} " + (f"{units.show_clock(opening[0])}-{units.show_clock(opening[1])}" if opening else "closed")
        )
    lines.append(
        textwrap.fill(f"{site.name}: {', '.join(hours)}. A credit costs {site.credit_price:g} {site.money}.", width)
    )
    lines.append(
        in_columns(
            ["machines", "title", "how many", "price", "to go on", "seats"],
            [
                [key, machine.title or f"(no contest, {units.show_seconds(machine.play_time or 0)} a play)",
                 str(machine.count), str(machine.price),
                 str(machine.price_later) if machine.title else "-", str(machine.seats)]
                for key, machine in scenario.machines.items()
            ],
            width=width,
            left=2,
        )
    )  # fmt: skip
    rules = [
        [f"{key}.{name}", rule.kind, rule.serves, rule.switch or "(none)",
         "yes" if rule.scalable else "no", "off" if rule.switch in study.switches_off else "on"]
        for key, title in scenario.titles.items()
        for name, rule in title.rules.items()
    ]  # fmt: skip
    if rules:
        lines.append(
            in_columns(["rule", "kind", "serves", "switch", "scaled by strength", "now"], rules, width=width, left=4)
        )
    lines.append(
        textwrap.fill(
            f"To be run: {study.replications} replications of {study.days} days, the first {study.warm_up} left out, "
            f"at strength {study.strength:g}, seed {study.seed}. Floors to keep: better_side_wins at least "
            f"{study.keep_better_side_wins:g}, return_28d at least {study.keep_return_28d:g}.",
            width,
        )
    )
    rows = sources(loaded)
    order = ("measured", "fitted", "common practice", "assumed", _NOT_STATED, _DEFAULT)
    counts = {name: sum(row[2] == name for row in rows) for name in order}
    lines.append("Where the numbers come from: " + ", ".join(f"{n} {name}" for name, n in counts.items() if n))
    rows.sort(key=lambda row: order.index(row[2]))
    lines.append(_narrowed(rows, width))
    return "\n\n".join(lines)


def _narrowed(rows: list[tuple[str, str, str, str]], width: int) -> str:
    cells = [[key, textwrap.shorten(value, 40, placeholder="…"), source, note] for key, value, source, note in rows]
    noted = any(row[3] for row in cells)
    widths = [max(len(row[index]) for row in cells) for index in range(3)]
    room = max(10, width - sum(widths) - 6)
    head = ["number", "value", "from", "note"] if noted else ["number", "value", "from"]
    shown = [
        [row[0], row[1].ljust(widths[1]), row[2].ljust(widths[2]), textwrap.shorten(row[3], room, placeholder="…")]
        for row in cells
    ]
    note_width = max(len(row[3]) for row in shown)
    shown = [[*row[:3], row[3].ljust(note_width)][: len(head)] for row in shown]
    heads = [
        head[0],
        head[1].ljust(widths[1]),
        head[2].ljust(widths[2]),
        *[name.ljust(note_width) for name in head[3:]],
    ]
    return in_columns(heads, shown, width=10_000)
