"""The demo scenarios use what a scenario can say of a venue, its people, machines and limits."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from pydantic import BaseModel

from venue.scenario.load import load
from venue.units import WEEKDAYS

from ..docs.scenario_page import sections
from .building import FOLDER

PARTS = ("venue", "people", "machines", "limits")
# Keys that no demo uses, and why.
UNUSED = {
    "people.wallet.off": "takes wallets out of the model, to see what they do; no venue is like that",
    "people.stay.off": "takes the time to spend out, likewise",
    "machines.KEY.strength": "two settings side by side, for an experiment; no demo's answer is to depend on it",
    "machines.KEY.switches_off": "likewise",
    "people.choice.copies": "the demos' figures were made with each machine an option of its own",
    "venue.arrivals.players": "the demos' arrivals are of people who play",
    "venue.arrivals.week_spread": "the demos' weeks differ by chance arrivals alone",
    "venue.till.buys": "the demos' figures were made with the best bargain bought",
    "people.patience.off": "takes patience out, likewise",
}


def name_of(*path: str) -> str:
    """The dotted name of a key; one weekday stands for all."""
    return ".".join("WEEKDAY" if word in WEEKDAYS else word for word in path)


def all_keys() -> set[str]:
    """Every key that is no table of its own."""
    found = {section.heading: section.part for section in sections()}
    names = {
        name_of(*heading.split("."), name)
        for heading, part in found.items()
        for name in part.model_fields
        if heading.partition(".")[0] in PARTS and f"{heading}.{name}" not in found
    }
    return names - {name_of(*heading.split(".")) for heading in found}


def used(part: BaseModel, *path: str) -> Iterator[str]:
    """Keys of a part that are not left at their defaults."""
    for name, field in type(part).model_fields.items():
        value, here = getattr(part, name), (*path, name)
        tables = [value] if isinstance(value, BaseModel) else [*value.values()] if isinstance(value, dict) else value
        if isinstance(tables, list | tuple) and tables and isinstance(tables[0], BaseModel):
            for table in tables:
                yield from used(table, *here, *(["KEY"] if isinstance(value, dict) else []))
        elif value != field.get_default(call_default_factory=True):
            yield name_of(*here)


def never_used(demos: Sequence[str]) -> set[str]:
    return all_keys() - {key for demo in demos for key in used(load(FOLDER / f"{demo}.toml").scenario)}


def test_every_key_of_venue_people_machines_and_limits_is_used_by_a_demo() -> None:
    assert len(all_keys()) > 90
    assert never_used([path.stem for path in FOLDER.glob("*.toml")]) == set(UNUSED)


def test_control_a_demo_left_out() -> None:
    assert "venue.arrivals.catchment" in never_used(["pier", "mall"])
    assert "limits.spend_per_hour" in never_used(["pier", "bar"])
