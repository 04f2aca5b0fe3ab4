"""What goes wrong with machines, and the technician who puts it right."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BeforeValidator, Field

from venue import units
from venue.scenario.fields import Part, PositiveSeconds, RepairSeconds, SecondsUntilNoticed, Unit
from venue.scenario.hours import WeekHours

_MeanPlays = Annotated[float, Field(ge=1, le=1e9), Unit("plays")]
_Jam = Annotated[float, BeforeValidator(units.fraction), Field(ge=0, le=0.5), Unit("chance")]


class Faults(Part):
    """How often a machine fails, counted since it last worked again. Each cause is off unless stated."""

    mean_plays: _MeanPlays | None = Field(None, description="mean plays up to a fault (geometric)")
    mean_use: PositiveSeconds | None = Field(None, description="mean time in play up to a fault (exponential)")
    mean_time: PositiveSeconds | None = Field(None, description="mean open time up to a fault (exponential)")
    repair_time: RepairSeconds | None = Field(None, description="mean repair; the technician's if unsaid")
    jam: _Jam = Field(0.0, description="chance that a buy-in jams the coin slot and has to be refunded")

    @property
    def fails(self) -> bool:
        """Whether the machine ever fails."""
        return not (self.mean_plays is None and self.mean_use is None and self.mean_time is None)


class Technician(Part):
    """Who repairs machines, in the order in which faults were noticed."""

    count: int = Field(1, ge=0, le=1000, description="technicians on duty; with none nothing is ever repaired")
    hours: WeekHours | None = Field(None, description="when a repair may begin; opening hours if unsaid")
    response: SecondsUntilNoticed = Field(300.0, description="from a fault until a technician knows of it")
    repair_time: RepairSeconds = Field(1800.0, description="mean repair")
    repair_varies: Literal["fixed", "exponential"] = Field("exponential", description="how repairs vary")
