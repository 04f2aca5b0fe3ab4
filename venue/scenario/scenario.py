"""A scenario: one venue with its people, titles and machines, and how it is to be studied."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from venue.scenario.fields import Chance, Name, Part, Prose, Unit
from venue.scenario.limits import Limits
from venue.scenario.machine import Machine
from venue.scenario.people import People
from venue.scenario.site import Site
from venue.scenario.title import Title


class Study(Part):
    """How the venue is studied unless the command says otherwise."""

    days: int = Field(42, ge=1, le=36_500, description="days simulated in each replication, a Monday first")
    warm_up: int = Field(7, ge=0, le=36_500, description="days at the start that measures leave out")
    replications: int = Field(10, ge=1, le=1_000_000, description="independent runs of the venue")
    seed: int = Field(1, ge=0, le=2**32 - 1, description="root of every random stream")
    strength: Annotated[float, Field(ge=0, le=100), Unit("strength")] = Field(
        1.0, description="catch-up strength that a run is made at: 0 off, 1 as designed"
    )
    keep_better_side_wins: Chance = Field(
        0.6, description="fairness floor: least share of contests that the better side must win"
    )
    keep_return_28d: Chance = Field(0.2, description="retention floor: least share of visits followed within 28 days")
    switches_off: tuple[Name, ...] = Field((), description="operator switches that are off")


class Scenario(Part):
    """Everything a run needs. Made by `venue.load`; see `docs/model.md` for what each number does."""

    about: Prose = Field("", description="what this scenario stands for, in a sentence or two")
    venue: Site
    people: People = People()
    titles: dict[Name, Title] = Field(default_factory=dict)
    machines: dict[Name, Machine] = Field(min_length=1)
    limits: Limits = Limits()
    study: Study = Study()
