"""A scenario: one venue with its people, titles and machines, and how it is to be studied."""

from __future__ import annotations

from pydantic import Field

from venue.scenario.change import Change
from venue.scenario.fields import Name, Part, Prose
from venue.scenario.limits import Limits
from venue.scenario.machine import Machine
from venue.scenario.people import People
from venue.scenario.site import Site
from venue.scenario.study import Study
from venue.scenario.title import Title


class Scenario(Part):
    """Everything a run needs. Made by `venue.load`; see `docs/model.md` for what each number does."""

    about: Prose = Field("", description="what this scenario stands for, in a sentence or two")
    venue: Site
    people: People = People()
    titles: dict[Name, Title] = Field(default_factory=dict, max_length=100)
    machines: dict[Name, Machine] = Field(min_length=1, max_length=500)
    limits: Limits = Limits()
    changes: tuple[Change, ...] = Field((), description="what holds from a day on")
    study: Study = Study()
