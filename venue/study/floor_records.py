"""Records of studies on a floor: a run, a sweep, a comparison and a sensitivity study, as plain data."""

from __future__ import annotations

import math
from typing import Annotated, Literal

from pydantic import Field

from venue.study.findings import CompareFindings, RunFindings, SensitivityFindings, SweepFindings
from venue.study.intervals import Estimate
from venue.study.plain import Interval, Level, Number, Plain, WrittenRecord
from venue.study.title_records import TakenApart

At = dict[str, float | str]
"""A setting: the keys that were swept, with its values."""


class Precision(Plain):
    """What came of one precision asked for; see `venue.study.precision.Reached`."""

    measure: str
    wanted: float
    relative: bool
    reached: Number
    slowest: str
    met: bool
    replications: int


class MachineRow(Plain):
    """A row of machines alike, with the measures of one of them."""

    name: str
    title: str | None
    count: int
    measures: dict[str, Level]


class OffersAt(Plain):
    """Offers of the next period at one margin, in points; see `venue.study.by_margin`."""

    title: str
    margin: int
    band: int
    offers: int
    taken: Interval | None = None
    perceived: Interval | None = None
    true: Interval | None = None


class Return(Interval):
    """Share of visits followed by another within so many days."""

    days: int


class Cohort(Plain):
    """The first-time visitors of one week, and their return."""

    week: int
    visitors: float
    curve: tuple[Return, ...]


class WeekRow(Plain):
    """One week of a run; see `venue.study.weeks`."""

    week: int
    warm_up: bool
    visits_per_hour: Interval | None = None
    credits_per_hour: Interval | None = None
    suspicion: Interval | None = None


class Setting(Plain):
    """What a venue came to at one setting: the same for a run and for each setting of a sweep.

    Attributes
    ----------
    measures
        The venue's, by name.
    machines
        Measures of one machine of each row.
    left_because, moved_because
        Shares of visits, and of changes to other machines, by reason.
    by_hour
        Credits per open hour by machine key, 24 values, NaN where never open.
    """

    strength: float
    replications: int
    measures: dict[str, Level]
    machines: tuple[MachineRow, ...]
    left_because: dict[str, float]
    moved_because: dict[str, float]
    by_margin: tuple[OffersAt, ...]
    return_curve: tuple[Return, ...]
    cohorts: tuple[Cohort, ...]
    weeks: tuple[WeekRow, ...]
    by_hour: dict[str, tuple[Number, ...]]


class SweptSetting(Setting):
    """One setting of a sweep, with its paired differences from the recommended one and from today's."""

    at: At
    against_best: dict[str, Interval]
    against_today: dict[str, Interval]


class TitleAt(Plain):
    """A title taken apart at a setting."""

    title: str
    at: At
    apart: TakenApart


class Account(Plain):
    """A balance, summed over replications."""

    name: str
    left: float
    right: float


class RunRecord(WrittenRecord, Setting):
    """What `venue run` came to."""

    kind: Literal["run"]
    scenario: str
    version: str
    seed: int
    before: int = 0
    days: int
    warm_up: int
    precision: tuple[Precision, ...]
    titles: tuple[TitleAt, ...]
    accounts: tuple[Account, ...]
    findings: RunFindings


class Best(Plain):
    """The recommended setting, and those that cannot be told apart from it in take."""

    strength: float | None
    at: At | None
    chance_right: float | None
    reason: str
    not_told_apart: tuple[At, ...]


class Selection(Plain):
    """What came of an assurance asked for; see `venue.study.ranking_selection.Selection`."""

    procedure: str
    sure: float
    worth: float
    finished: bool
    candidates: tuple[int, ...]
    replications: tuple[int, ...]
    rinott: tuple[int, ...]


class TradeOff(Plain):
    """One setting of the trade-off; see `venue.study.front.FrontPoint`."""

    at: At
    better_side_wins: float
    credits_per_hour: float
    on_front: bool
    chance: float | None
    price_of_a_point: Interval | None


class SweepRecord(WrittenRecord):
    """What `venue sweep` came to."""

    kind: Literal["sweep"]
    scenario: str
    version: str
    seed: int
    before: int = 0
    days: int
    warm_up: int
    replications: int
    precision: tuple[Precision, ...]
    requirements: dict[str, float | dict[str, float]]
    points: tuple[SweptSetting, ...]
    best: Best
    selection: Selection | None
    titles: tuple[TitleAt, ...]
    trade_off: tuple[TradeOff, ...]
    findings: SweepFindings


class Compared(Plain):
    """One scenario of a comparison."""

    name: str
    scenario: str
    changes: tuple[str, ...]
    strength: float
    measures: dict[str, Level]


class Difference(Plain):
    """One measure of a scenario less the same of the first; see `venue.study.compare.Difference`."""

    measure: str
    unit: str
    base: float
    other: float
    difference: float
    low: Number
    high: Number
    change: Number
    told_apart: bool
    variance_ratio: Number

    @property
    def estimate(self) -> Estimate:
        """The difference with its interval."""
        return Estimate(self.difference, self.low, self.high, 1 if math.isnan(self.low) else 2)


class Comparison(Plain):
    """A scenario against the first."""

    name: str
    against: str
    differences: tuple[Difference, ...]


class CompareRecord(WrittenRecord):
    """What `venue compare` came to."""

    kind: Literal["compare"]
    version: str
    seed: int
    before: int = 0
    days: int
    warm_up: int
    replications: int
    precision: tuple[Precision, ...]
    scenarios: tuple[Compared, ...]
    comparisons: tuple[Comparison, ...]
    findings: CompareFindings


class MovedNumber(Plain):
    """A number that was moved, and its effect; see `venue.study.sensitivity.SensitivityResult.effects_on`."""

    number: str
    source: Annotated[str, Field(alias="from")]
    value: Number
    low: Number
    high: Number
    unit: str
    effect: Number
    half_width: Number
    mean_effect: Number
    spread: Number
    share_first: Number
    share_total: Number
    share_first_half_width: Number
    share_total_half_width: Number


class SensitivityRecord(WrittenRecord):
    """What `venue sensitivity` came to."""

    kind: Literal["sensitivity"]
    scenario: str
    version: str
    seed: int
    strength: float
    before: int = 0
    days: int
    warm_up: int
    replications: int
    measure: str
    unit: str
    runs: int
    numbers: tuple[MovedNumber, ...]
    left_out: tuple[str, ...]
    findings: SensitivityFindings
