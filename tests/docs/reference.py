"""Writes docs/scenario.md from the scenario's own declarations: `python -m tests.docs.reference`."""

from __future__ import annotations

import types
from pathlib import Path
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic_core import PydanticUndefined

from venue import units
from venue.scenario import faults, hours, limits, machine, people, rules, site, till, title
from venue.scenario.fields import Unit
from venue.scenario.scenario import Scenario, Study

TARGET = Path(__file__).parents[2] / "docs" / "scenario.md"

HEAD = """# The scenario file

A scenario is one TOML file: a venue, its people, its titles, its machines, and how it is to be studied.
`venue new FILE` writes a commented one to start from; `venue check FILE` says what a file means and where its numbers
come from.

- **Durations** carry a unit: `"90 s"`, `"2 min"`, `"1.5 h"`, `"14 days"`; also joined, `"1 h 30 min"`.
- **Times of day** are `"10:00"`; after midnight they count on, `"25:00"` is one in the morning.
- **Chances** and shares are `0.45` or `"45 %"`. **Changes** of a chance are `0.02` or `"2 pp"` (percentage points).
- **Prices** are whole credits; money appears only in `credit_price`, and in what a machine costs a week.
- **Origin**: any value may say where it came from,
  `{ value = "8 s", from = "measured", note = "stopwatch, 40 attacks" }`,
  with `from` one of measured, fitted, common practice, assumed. `venue check` and its `--json` list them all.
- **Unknown keys fail**, with the nearest known one. A typo never runs silently with a default.
- **On the command line** `--set KEY=VALUE` changes one value, by its dotted path: `--set machines.front.price=2`,
  `--set people.wallet.off=true`, `--set 'titles.tug.rules.undertow.per_point="3 pp"'`.

What the numbers do is in [model.md](model.md). This page is written from the program's own declarations.
"""

PARTS: list[tuple[str, str, list[type[BaseModel]]]] = [
    ("The file", "", [Scenario]),
    ("venue", "`[venue]`", [site.Site]),
    ("venue.hours", '`[venue.hours]`: each day `"10:00-22:00"` or `"closed"`', [hours.Hours]),
    ("venue.arrivals", "`[venue.arrivals]`", [site.Arrivals]),
    ("venue.till", "`[venue.till]`", [till.Till]),
    ("venue.till.bundles", "Each like `{ credits = 5, price_of = 4 }`", [till.Bundle]),
    ("venue.till.card", "`[venue.till.card]`", [till.Card]),
    (
        "venue.technician",
        "`[venue.technician]`; its `hours`, if any, are written like `[venue.hours]`, without `last_entry`",
        [faults.Technician],
    ),
    ("people", "`[people.skill]`, `[people.wallet]`, …", []),
    ("titles", "`[titles.KEY]`, the key being yours", [title.Title]),
    ("titles.KEY.attempts", "`[titles.KEY.attempts.NAME]`", [title.Attempt]),
    ("titles.KEY.rules", "`[titles.KEY.rules.NAME]`; every rule may have these keys", [rules.RuleBase]),
    ("machines", "`[machines.KEY]`, the key being yours", [machine.Machine]),
    ("machines.KEY.faults", "`[machines.KEY.faults]`", [faults.Faults]),
    ("limits", "`[limits]`", [limits.Limits]),
    ("study", "`[study]`", [Study]),
]
PEOPLE = ("skill", "wallet", "stay", "patience", "belief", "buy_in", "choice", "suspicion", "come_back")
RULES = (
    rules.Slope,
    rules.Table,
    rules.ClockedSlope,
    rules.ClosingChance,
    rules.RunBoost,
    rules.Drought,
    rules.LeastChance,
    rules.Turnover,
)


def _unit(annotation: Any, metadata: list[Any]) -> str:
    for item in metadata:
        if isinstance(item, Unit):
            return item.text
    for part in get_args(annotation):
        if get_origin(part) is Annotated:
            found = _unit(get_args(part)[0], list(part.__metadata__))
            if found:
                return found
    return ""


def _choices(annotation: Any) -> str:
    for part in (annotation, *get_args(annotation)):
        if get_origin(part) is Literal:
            return ", ".join(f"`{choice}`" for choice in get_args(part))
    return ""


def _default(field: Any, unit: str) -> str:
    value = field.get_default(call_default_factory=True)
    if value is PydanticUndefined:
        return "**required**"
    if isinstance(value, BaseModel):
        return "its own"
    if value is None or value == {} or value == () or value == "":
        return ""
    if unit == "s":
        return f"`{units.show_seconds(value)}`"
    if isinstance(value, bool):
        return f"`{str(value).lower()}`"
    return f"`{value:g}`" if isinstance(value, float) else f"`{value}`"


def _table(model: type[BaseModel], leave_out: set[str]) -> str:
    lines = ["| key | unit | default | what it is |", "|---|---|---|---|"]
    for name, field in model.model_fields.items():
        if name in leave_out:
            continue
        unit = _unit(field.annotation, list(field.metadata))
        choices = _choices(field.annotation)
        text = "; ".join(part for part in (field.description or "", f"one of {choices}" if choices else "") if part)
        lines.append(f"| `{name}` | {unit} | {_default(field, unit)} | {text} |")
    return "\n".join(lines)


def _doc(model: type[BaseModel]) -> str:
    return " ".join((model.__doc__ or "").split())


def render() -> str:
    """The page as text."""
    parts = [HEAD]
    for heading, where, models in PARTS:
        parts.append(f"## {heading}\n")
        if where:
            parts.append(where + ".\n")
        for model in models:
            parts.append(_doc(model) + "\n")
            parts.append(_table(model, set()) + "\n")
        if heading == "people":
            for name in PEOPLE:
                model = people.People.model_fields[name].annotation
                assert isinstance(model, type) and not isinstance(model, types.UnionType | type(Union))
                parts.append(f"### people.{name}\n\n{_doc(model)}\n\n{_table(model, set())}\n")
        if heading == "titles.KEY.rules":
            for rule in RULES:
                kind = get_args(rule.model_fields["kind"].annotation)[0]
                shared = {*rules.RuleBase.model_fields, "kind"}
                parts.append(f'### kind = "{kind}"\n\n{_doc(rule)}\n\n{_table(rule, shared)}\n')
    return "\n".join(parts).rstrip() + "\n"


if __name__ == "__main__":
    TARGET.write_text(render(), encoding="utf-8")
