"""How a venue is studied: for how long, how often, and how long it has run before anything is counted."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, model_validator

from venue.errors import Fault
from venue.scenario.change import Date
from venue.scenario.fields import Chance, Name, Part, Unit

WEEK = 7

Aim = Literal["credits_per_hour", "take_per_week", "operator_share_per_week", "profit_per_week", "site_share_per_week"]
"""What a setting is to have most of; a measure."""


def _whole_weeks(value: Any) -> Any:
    if type(value) is int and value % WEEK:
        raise Fault(f"is {value}, must be whole weeks", f"write {max(WEEK, round(value / WEEK) * WEEK)}")
    return value


class Before(Part):
    """The time before the change: the venue as it is today, run up to the day from which settings differ."""

    days: Annotated[int | None, BeforeValidator(_whole_weeks)] = Field(
        None, ge=0, le=36_500,
        description="days that every setting has behind it, not counted, at today's strength and prices; whole weeks; "
        "until the take has settled if unsaid",
    )  # fmt: skip
    strength: Annotated[float | None, Field(ge=0, le=100), Unit("strength")] = Field(
        None, description="catch-up strength of that time; `study.strength` if unsaid"
    )


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
    keep_surely: Chance = Field(
        0.9, description="chance with which a recommended setting keeps all that it must, those floors and any others"
    )
    maximise: Aim = Field("credits_per_hour", description="what settings are ranked by: the measure to have most of")
    control_variates: bool = Field(
        True, description="whether chance in who comes is taken out of what a venue takes; needs 8 replications"
    )
    switches_off: tuple[Name, ...] = Field((), max_length=100, description="operator switches that are off")
    starts: Date | None = Field(None, description="date of the first day that is counted, a Monday")
    before: Before | None = Field(None, description="none if unsaid: every run then begins with the opening")

    @model_validator(mode="before")
    @classmethod
    def _nothing_to_leave_out(cls, raw: Any) -> Any:
        """A venue that has run before has its warm-up behind it."""
        if isinstance(raw, dict) and raw.get("before") is not None and "warm_up" not in raw:
            return {**raw, "warm_up": 0}
        return raw

    @property
    def days_before(self) -> int | None:
        """Days that the venue has run before; None where that is yet to be found."""
        return 0 if self.before is None else self.before.days
