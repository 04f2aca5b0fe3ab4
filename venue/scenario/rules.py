"""Catch-up rules as a title writes them down: how each kind moves a chance toward whoever trails.

`d` is the number of points by which the side that attacks (for a turnover or a block: defends) trails; negative when
it leads.
What the rules do to the chances is in `venue.contest.effects`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Literal

from pydantic import Field, model_validator

from venue.errors import Fault
from venue.scenario.fields import (
    Chance,
    ChanceShift,
    Factor,
    Margin,
    Name,
    Part,
    Points,
    PositiveSecondsInHall,
    SecondsInHall,
    Weight,
    Worth,
)

Serves = Literal["both", "visitors", "computer"]
Facing = Literal["anyone", "visitors", "computer"]


class RuleBase(Part):
    """What every rule says: whom it serves, its switch, whether strength scales it, where it holds."""

    serves: Serves = Field("both", description="whose chances the rule moves")
    facing: Facing = Field("anyone", description="who must sit opposite for it to act")
    teams: Annotated[tuple[Name, ...], Field(min_length=1)] | None = Field(
        None, description="teams of the roster that it serves; all if unsaid"
    )
    weight: Weight = Field(1.0, description="how much of it acts: 0 is out, 1 is as written")
    weight_at: dict[Name, Weight] = Field(
        default_factory=dict, description="its weight at some of the title's difficulties, in place of `weight`"
    )
    overtime: Literal["also", "only", "never"] = Field(
        "also", description="whether it holds in overtime, which counts as the last period"
    )
    switch: Name | None = Field(None, description="the operator's switch that turns it off")
    scalable: bool = Field(True, description="whether catch-up strength scales it")
    periods: Annotated[tuple[int, ...], Field(min_length=1, max_length=50)] | None = Field(
        None, description="periods it holds in, the first being 1; all if unsaid"
    )
    attempts: Annotated[tuple[Name, ...], Field(min_length=1, max_length=50)] | None = Field(
        None, description="attempt kinds it holds for; all if unsaid"
    )
    behind_from: Margin | None = Field(None, description="holds only when trailing by at least this")
    behind_to: Margin | None = Field(None, description="holds only when trailing by at most this")

    @model_validator(mode="after")
    def _band(self) -> RuleBase:
        low, high = self.behind_from, self.behind_to
        if low is not None and high is not None and low > high:
            raise Fault(f"behind_from = {low} lies above behind_to = {high}", "swap them")
        return self


class Change(RuleBase):
    """A rule that changes a chance by so much, rather than to so much."""

    relative: bool = Field(
        False, description='changes are shares of the base chance itself: "14 %" takes a chance of 50 % to 57 %'
    )


class Slope(Change):
    """A chance grows by `per_point` for each point behind and falls by it for each point ahead, up to `cap` points."""

    kind: Literal["slope"]
    per_point: ChanceShift = Field(description="change of chance per point behind")
    cap: Points | None = Field(None, description="points beyond which the slope is flat; none if unsaid")


class Table(Change):
    """A change of chance written as points of a curve in d, straight between them and flat beyond the ends."""

    kind: Literal["table"]
    shift: tuple[tuple[Margin, ChanceShift], ...] = Field(
        min_length=1, max_length=2001, description="rows of [points behind, change of chance]"
    )

    @model_validator(mode="after")
    def _ascending(self) -> Table:
        check_ascending([row[0] for row in self.shift], "shift")
        return self


class ClockStep(Part):
    """From this much time left in the contest on, or this many points, the slope is this steep."""

    left: SecondsInHall | None = Field(None, description="time left in the contest")
    points_left: Points | None = Field(None, description="in a contest to N points, points that the leader still needs")
    per_point: ChanceShift = Field(description="change of chance per point behind, from there on")

    @model_validator(mode="after")
    def _one_end(self) -> ClockStep:
        if (self.left is None) == (self.points_left is None):
            raise Fault("must have one of left and points_left", 'write it like left = "60 s"')
        return self

    @property
    def ahead(self) -> float:
        """What is left of the contest, in seconds or in points."""
        return float(self.points_left or 0) if self.left is None else self.left


class ClockedSlope(Change):
    """A slope whose steepness steps as the contest runs out; before the first step it is nil."""

    kind: Literal["clocked slope"]
    steps: tuple[ClockStep, ...] = Field(
        min_length=1, max_length=200, description="time left, longest first, and steepness from there"
    )
    cap: Points | None = Field(None, description="points beyond which the slope is flat; none if unsaid")

    @model_validator(mode="after")
    def _falling(self) -> ClockedSlope:
        lefts = [step.ahead for step in self.steps]
        if any(later >= earlier for earlier, later in zip(lefts, lefts[1:], strict=False)):
            raise Fault("steps must name ever less left", "put the longest first")
        return self


class ClosingChance(RuleBase):
    """In the last seconds of its periods an attempt that matters succeeds with at least, or exactly, a stated chance.

    In a contest to N points it holds while the leader needs no more than so many points.
    """

    kind: Literal["closing chance"]
    last: PositiveSecondsInHall | None = Field(None, description="how long before the end of a period it holds")
    last_points: Worth | None = Field(
        None, description="in a contest to N points, instead: points the leader still needs"
    )
    when: Literal["would tie", "would lead", "would come within", "behind"] = Field(
        description="which attempts it covers: one that would level the score, take the lead, leave the side at most "
        "`points` behind, or any that comes when trailing by `points` or more"
    )
    points: Points = Field(0, description="the n of `would come within` and `behind`")
    at_least: Chance | None = Field(None, description="least chance of such an attempt")
    exactly: Chance | None = Field(None, description="instead: its chance, whether that lifts or lowers it")

    @model_validator(mode="after")
    def _one_end(self) -> ClosingChance:
        if (self.last is None) == (self.last_points is None):
            raise Fault("must have one of last and last_points", 'write it like last = "15 s"')
        if (self.at_least is None) == (self.exactly is None):
            raise Fault("must have one of at_least and exactly", 'write it like at_least = "60 %"')
        return self

    @property
    def stated(self) -> float:
        """The chance it states."""
        return float(self.exactly or 0.0) if self.at_least is None else self.at_least


Counts = Literal["side", "player"]


class RunBoost(Change):
    """After so many unanswered scores a side's chances rise, until the other side scores. This one pushes apart."""

    kind: Literal["run boost"]
    after: int = Field(ge=1, le=20, description="unanswered scores it takes")
    gain: ChanceShift = Field(description="change of chance from then on")
    counts: Counts = Field("side", description="whose scores are counted, and whose chances rise")


class Drought(RuleBase):
    """After so many misses in a row a side's attempts succeed with at least a stated chance, until one does."""

    kind: Literal["drought"]
    after: int = Field(ge=1, le=20, description="misses in a row it takes")
    at_least: Chance = Field(description="least chance of an attempt from then on")
    counts: Counts = Field("side", description="whose misses are counted, and whose attempts are helped")


class LeastChance(RuleBase):
    """Wherever it holds no attempt has less than a stated chance; with `behind_from` nobody there can miss for sure."""

    kind: Literal["least chance"]
    at_least: Chance = Field(description="least chance of an attempt")


class Turnover(Change):
    """The chance that an attack is lost before an attempt, as a curve in the lead of the side that defends."""

    kind: Literal["turnover"]
    shift: tuple[tuple[Margin, ChanceShift], ...] = Field(
        min_length=1,
        max_length=2001,
        description="rows of [points the defence leads by, change of the chance to take the attack away]",
    )

    @model_validator(mode="after")
    def _ascending(self) -> Turnover:
        check_ascending([row[0] for row in self.shift], "shift")
        return self


class Block(Change):
    """The chance that a success is turned into a miss, as a curve in the lead of the side that defends."""

    kind: Literal["block"]
    shift: tuple[tuple[Margin, ChanceShift], ...] = Field(
        min_length=1,
        description="rows of [points the defence leads by, change of the chance to block]",
    )

    @model_validator(mode="after")
    def _ascending(self) -> Block:
        check_ascending([row[0] for row in self.shift], "shift")
        return self


class Prize(Part):
    """What a draw may bring: so many lengths at once, the likelier the greater its odds beside those of the others."""

    lengths: Points = Field(description="lengths gained; 0 is a blank")
    odds: tuple[tuple[Margin, Factor], ...] = Field(
        min_length=1, description="rows of [lengths behind, odds], straight between them and flat beyond the ends"
    )

    @model_validator(mode="after")
    def _ascending(self) -> Prize:
        check_ascending([row[0] for row in self.odds], "odds")
        return self


class LuckyDraw(RuleBase):
    """In a race a side draws for a prize from time to time: the further back, the better the draw may be."""

    kind: Literal["lucky draw"]
    every: PositiveSecondsInHall = Field(description="mean time between draws of a side where the rule holds")
    prizes: dict[Name, Prize] = Field(min_length=1, description="what may be drawn, each by a name of yours")


def check_ascending(values: Sequence[float], key: str) -> None:
    """Raise `ValueError` unless the values rise strictly."""
    if any(later <= earlier for earlier, later in zip(values, values[1:], strict=False)):
        raise Fault(f"rows of {key} must rise in their first number", "sort them")


Rule = Annotated[
    Slope | Table | ClockedSlope | ClosingChance | RunBoost | Drought | LeastChance | Turnover | Block | LuckyDraw,
    Field(discriminator="kind"),
]
