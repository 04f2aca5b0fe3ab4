"""A row of machines: so many cabinets alike, with one price and one waiting line."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, model_validator

from venue.errors import Fault
from venue.scenario.by_clock import HourlyPrices
from venue.scenario.faults import Faults
from venue.scenario.fields import (
    Chance,
    Count,
    Credits,
    Money,
    Name,
    Part,
    PositiveSecondsInHall,
    SecondsInHall,
    Taste,
    Unit,
)


def _seats(value: Any) -> Any:
    if type(value) is not int or value not in (1, 2, 3, 4):
        raise Fault("must be 1, 2, 3 or 4", "write 1 against the computer, 2 to 4 for seats on two sides")
    return value


class Machine(Part):
    """Cabinets of one title, or of a pastime without a contest (then `play_time` is given instead of `title`)."""

    label: Name | None = Field(None, description="the name people see; the key if unsaid")
    title: Name | None = Field(None, description="key of the title played on it")
    count: Count = Field(1, description="how many cabinets")
    price: Credits = Field(description="credits per seat for the first period, or for one play")
    price_to_go_on: Credits | None = Field(None, description="credits for each later period; the same if unsaid")
    prices: HourlyPrices = Field(
        default_factory=dict, description="`price` from each time of day until the next, or closing"
    )
    prices_to_go_on: HourlyPrices = Field(default_factory=dict, description="`price_to_go_on` likewise")
    seats: Annotated[Literal[1, 2, 3, 4], BeforeValidator(_seats)] = Field(
        1, description="1: a visitor against the computer; 2 to 4: seats on two sides, side A having the odd one"
    )
    alone: Literal["computer", "wait"] = Field(
        "computer",
        description="with more seats and nobody opposite: play the computer in the end, or only wait",
    )
    wait_for_opponent: SecondsInHall = Field(
        60.0,
        description="how long those who sat down wait for open seats to fill, before the computer plays them",
    )
    join: bool = Field(True, description="whether somebody in line may buy into an open seat at a period break")
    winner_stays: bool = Field(
        False, description="with people in line, whoever did not win a contest between visitors gives up the seat"
    )
    winner_free: bool = Field(False, description="the first period after a contest won, played at once, costs nothing")
    discount_again: Credits = Field(0, description="credits off the first period of another contest played at once")
    difficulty: Name | None = Field(None, description="one of the title's `difficulties`; none of them if unsaid")
    play_time: PositiveSecondsInHall | None = Field(
        None, description="time of one play, at a machine without a contest"
    )
    play_time_varies: Literal["fixed", "exponential"] = Field("fixed", description="how play time varies")
    strength: Annotated[float | None, Field(ge=0, le=100), Unit("strength")] = Field(
        None, description="catch-up strength of these machines; `study.strength` if unsaid"
    )
    switches_off: tuple[Name, ...] | None = Field(
        None, description="operator switches that are off on these machines; `study.switches_off` if unsaid"
    )
    appeal: Taste = Field(0.0, description="utility of the machine itself, in the choice of a machine")
    line_limit: int | None = Field(None, ge=0, description="people the line has room for; no limit if unsaid")
    faults: Faults = Faults()
    upkeep: Money = Field(0.0, description="parts and service of one machine, a week")
    floor_cost: Money = Field(0.0, description="what the place of one machine on the floor costs, a week")
    operator_share: Chance | None = Field(None, description="`venue.operator_share` for these machines, if it differs")

    @model_validator(mode="after")
    def _one_kind(self) -> Machine:
        if (self.title is None) == (self.play_time is None):
            raise Fault("a machine has either a title or a play_time", "give one of the two")
        if self.title is None and self.seats != 1:
            raise Fault("seats = 2 needs a title", "a machine without a contest has one seat")
        if self.title is None and (self.strength is not None or self.switches_off is not None):
            raise Fault("strength and switches_off need a title", "take them out")
        if self.title is None and self.difficulty is not None:
            raise Fault("difficulty needs a title", "take it out")
        if self.title is None and (self.prices_to_go_on or self.price_to_go_on is not None):
            raise Fault("a price to go on needs a title", "a machine without a contest is paid once a play")
        if self.title is None and (self.winner_free or self.discount_again):
            raise Fault("winner_free and discount_again need a title", "take them out")
        if self.winner_stays and self.seats == 1:
            raise Fault("winner_stays needs seats for visitors on both sides", "write seats = 2, or take it out")
        if self.discount_again > self.price:
            raise Fault("discount_again is above the price", f"write at most {self.price}")
        return self

    @property
    def price_later(self) -> int:
        """Credits for a period after the first."""
        return self.price if self.price_to_go_on is None else self.price_to_go_on
