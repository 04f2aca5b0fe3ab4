"""docs/measures.md: every measure with its unit and meaning, from where the program keeps them."""

from __future__ import annotations

import inspect
import re
from collections.abc import Iterable, Mapping

from venue.contest.results import Headline
from venue.floor.records import PLAY_COLUMNS, REASONS, VISIT_COLUMNS
from venue.study.registry import MACHINE_MEASURES, MEASURES, TITLE_MEASURES, Measure

HEAD = """# Measures

Every figure that comes out, with its unit. How each is computed: [model.md](model.md), section 4. In tables, JSON and
CSV every figure of a study is a mean over replications with a 95 % interval (`mean`, `low`, `high`); with one
replication there is no interval. *Money* is counted in the scenario's `venue.money`. A share is a number from 0 to 1.
"""
VENUE = """## Of a venue

`venue run`, `venue sweep`, `venue compare`, `venue sensitivity`; the names are those that `--precision`, `--keep` and
`--measure` take.
"""
MACHINES = """## Of the machines

A row for each `[machines.KEY]`.
"""
TITLES = """## Of a title

`venue contest`; exact, so without an interval. Those that `venue tune` can reach are marked.
"""
LEFT = """## Why people left

The share of visits that ended for each reason: """
ROWS = """## Rows of plays and visits

`venue.run(..., rows=True)` in Python hands out every play and every visit.
"""


def render() -> str:
    """The page as text."""
    reach = [
        (f"`{name}`", "yes" if name in TITLE_MEASURES else "", text)
        for names, text in _attributes(Headline)
        for name in names
    ]
    return "\n".join(
        [
            HEAD,
            VENUE,
            _measures(MEASURES),
            MACHINES,
            _measures(MACHINE_MEASURES),
            LEFT + ", ".join(REASONS) + ".\n",
            TITLES,
            _table(("result", "`--reach`", "what it is"), reach),
            ROWS,
            _table(("column of plays", "what it is"), [(f"`{name}`", text) for name, _, text in PLAY_COLUMNS]),
            _table(("column of visits", "what it is"), [(f"`{name}`", text) for name, _, text in VISIT_COLUMNS]),
        ]
    ).rstrip() + "\n"  # fmt: skip


def _measures(measures: Mapping[str, Measure]) -> str:
    rows = [(f"`{name}`", item.unit, item.meaning) for name, item in measures.items()]
    return _table(("measure", "unit", "what it is"), rows)


def _table(head: Iterable[str], rows: Iterable[Iterable[str]]) -> str:
    lines = [list(head), *([cell.replace("|", "\\|") for cell in row] for row in rows)]
    lines.insert(1, ["---"] * len(lines[0]))
    return "\n".join(f"| {' | '.join(line)} |" for line in lines) + "\n"


def _attributes(kind: type) -> list[tuple[list[str], str]]:
    """The attributes of a class and their meaning, as its docstring tells them."""
    section = inspect.getdoc(kind).partition("Attributes\n----------\n")[2]  # type: ignore[union-attr]
    found = re.findall(r"^(\w[\w, ]*)\n((?:    .*\n?)+)", section, re.MULTILINE)
    return [([name.strip() for name in names.split(",")], " ".join(text.split())) for names, text in found]
