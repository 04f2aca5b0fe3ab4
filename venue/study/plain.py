"""Results as plain data: frozen models, written as JSON and read back the same.

JSON has no word for a number that is not known: NaN is written as null, and null is read as NaN.
"""

from __future__ import annotations

import math
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, PlainSerializer

from venue.study.intervals import Estimate, finite_or_none


def _number(value: Any) -> Any:
    # Always the same NaN, so that a record is equal to what is read back from its text.
    return math.nan if value is None or (isinstance(value, float) and math.isnan(value)) else value


Number = Annotated[float, BeforeValidator(_number), PlainSerializer(finite_or_none, return_type=float | None)]
"""A number, or NaN where it is not known."""


class Plain(BaseModel):
    """Data that a result holds; unknown keys are errors."""

    model_config = ConfigDict(frozen=True, extra="forbid", serialize_by_alias=True)

    def plain(self) -> dict[str, Any]:
        """The same as JSON has it; what was not given is left out."""
        return self.model_dump(mode="json", exclude_unset=True, by_alias=True)


class Interval(Plain):
    """A mean and the ends of its 95 % interval, NaN where one replication leaves them unknown."""

    mean: Number
    low: Number
    high: Number

    @classmethod
    def of(cls, item: Estimate) -> Interval:
        """The interval of an estimate."""
        return cls(mean=item.mean, low=item.low, high=item.high)

    @property
    def estimate(self) -> Estimate:
        """As an estimate; how many replications there were is not written: 2 stands for several."""
        return Estimate(self.mean, self.low, self.high, 1 if math.isnan(self.low) else 2)

    @property
    def half_width(self) -> float:
        """Half the length of the interval."""
        return (self.high - self.low) / 2

    @property
    def sign(self) -> int | None:
        """1 or -1 where the interval lies on one side of zero, 0 where it holds zero, None where there is none."""
        if math.isnan(self.low):
            return None
        return 1 if self.low > 0 else -1 if self.high < 0 else 0


class Level(Interval):
    """A measure with its unit."""

    unit: str


class WrittenRecord(Plain):
    """What every record has."""

    def to_json(self) -> str:
        """The text of the record."""
        return self.model_dump_json(exclude_unset=True, indent=2, by_alias=True)
