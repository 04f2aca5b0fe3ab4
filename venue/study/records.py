"""Records: the results of each command as plain data. The JSON that is written is the JSON that is read back.

record = result.record()
text = record.to_json()
read_record(text) == record
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import Field, TypeAdapter, ValidationError

from venue.errors import InputError
from venue.study.findings import (
    CompareFindings,
    ContestFindings,
    RunFindings,
    SensitivityFindings,
    SweepFindings,
    TuneFindings,
)
from venue.study.intervals import Estimate
from venue.study.plain import Interval, Level, Number, Plain

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


class TakenApart(Plain):
    """A title rule by rule: headline results by name, whole, without any rule, without each, and with each alone."""

    strength: float
    whole: dict[str, Number]
    bare: dict[str, Number]
    without: dict[str, dict[str, Number]]
    alone: dict[str, dict[str, Number]]
    switched_off: dict[str, Number]
    stays_on: tuple[str, ...]
    may_meet: tuple[tuple[str, str], ...]


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


class _Record(Plain):
    """What every record has."""

    def to_json(self) -> str:
        """The text of the record."""
        return self.model_dump_json(exclude_unset=True, indent=2, by_alias=True)


class RunRecord(_Record, Setting):
    """What `venue run` came to."""

    kind: Literal["run"]
    scenario: str
    version: str
    seed: int
    before: int = 0
    days: int
    warm_up: int
    control_variates: bool
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


class SweepRecord(_Record):
    """What `venue sweep` came to."""

    kind: Literal["sweep"]
    scenario: str
    version: str
    seed: int
    before: int = 0
    days: int
    warm_up: int
    control_variates: bool
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


class CompareRecord(_Record):
    """What `venue compare` came to."""

    kind: Literal["compare"]
    version: str
    seed: int
    before: int = 0
    days: int
    warm_up: int
    control_variates: bool
    replications: int
    precision: tuple[Precision, ...]
    scenarios: tuple[Compared, ...]
    comparisons: tuple[Comparison, ...]
    findings: CompareFindings


class Sides(Plain):
    """Points a contest owed to a rule, by side."""

    side_a: float
    side_b: float


class Margin(Plain):
    """A final margin in points, and its chance."""

    points: int
    chance: float


class TitlePoint(Plain):
    """A title at one strength; see `venue.contest.results.Headline`."""

    strength: float
    better_side_wins: Number
    skill_edge: Number
    close_finishes: Number
    level: Number
    lead_changes: Number
    comebacks: Number
    side_a_wins: Number
    margin_mean: Number
    margin_sd: Number
    assisted: Number
    owed: dict[str, Sides]
    margin: tuple[Margin, ...]


class MatchUps(Plain):
    """Skill gaps, in log-odds, and who sits opposite."""

    mean: float
    sd: float
    side_b: str


class LineUpRow(Plain):
    """A line-up that the floor makes, and headline results by name; see `venue.study.line_ups.LineUp`."""

    machines: tuple[str, ...]
    side_a: int
    side_b: int
    seats_a: int
    seats_b: int
    difficulty: str | None
    weight: float
    match_ups: MatchUps
    results: dict[str, Number]


class Effective(Plain):
    """Coded against realised chances; see `venue.contest.realised_rates.Rate`."""

    attempt: str
    side: str
    behind_from: int | None
    behind_to: int | None
    written: float
    effective: float
    ratio: Number
    tried_a_contest: float


class AttemptsByMargin(Plain):
    """Attempts and successes a contest of one kind and side, by points behind."""

    attempt: str
    side: str
    written: float
    behind: tuple[int, ...]
    tried: tuple[float, ...]
    made: tuple[float, ...]


class Fault(Plain):
    """A moment at which a point less pays; see `venue.contest.incentives.Fault`."""

    margin: int
    left: int
    gain: float
    blame: tuple[str, ...]


class TrailingPays(Plain):
    """Where trailing pays."""

    faults: tuple[Fault, ...]


class MovesGain(Plain):
    """What some moves gain, and where; see `venue.contest.best_play.Gain`."""

    moves: tuple[str, ...]
    gain: float
    left: int | None
    margin: int | None
    share: float | None
    earliest: int | None
    latest: int | None
    without_rules: float | None
    blame: tuple[str, ...]


class BestPlay(Plain):
    """The best play of side A: the moves searched, each by itself and all together."""

    searched: tuple[str, ...]
    alone: tuple[MovesGain, ...]
    together: MovesGain


class Moments(Plain):
    """Chance to win and safety of a lead at every moment: tables by what is left and margin."""

    left_in: str
    left: tuple[float, ...]
    margins: tuple[float, ...]
    side_a_wins: tuple[tuple[Number, ...], ...]
    lead_lasts: tuple[tuple[Number, ...], ...]


class ContestRecord(_Record):
    """What `venue contest` came to."""

    kind: Literal["contest"]
    scenario: str
    version: str
    title: str
    form: str
    match_ups: MatchUps
    margins_from: int
    margins_to: int
    spread_unaided: float
    points: tuple[TitlePoint, ...]
    apart: TakenApart
    coded_and_effective: tuple[Effective, ...]
    attempts_by_margin: tuple[AttemptsByMargin, ...]
    trailing_pays: TrailingPays
    best_play: BestPlay
    moments: Moments
    ladder: tuple[float, ...]
    line_ups: tuple[LineUpRow, ...]
    findings: ContestFindings


class SituationAt(Plain):
    """Where a contest stands; see `venue.contest.situation.Situation`."""

    side: str
    period: int
    left: int | None
    margin: int
    score: tuple[int, int] | None
    run: int
    missed: int
    scored_last: str | None


class RuleThere(Plain):
    """A rule's part in one chance; see `venue.contest.situation.RulePart`."""

    rule: str
    kind: str
    part: float
    reason: str
    asked: float | None
    found: float | None


class Chance(Plain):
    """One chance in a situation; see `venue.contest.situation.ChanceThere`."""

    attempt: str
    written: float
    unaided: float
    chance: float
    parts: tuple[RuleThere, ...]


class SituationRecord(_Record):
    """What `venue contest --at` came to: an answer on the spot, which no folder keeps."""

    kind: Literal["situation"]
    scenario: str
    version: str
    title: str
    strength: float
    gap: float
    side_b: str
    at: SituationAt
    chances: tuple[Chance, ...]


class RosterRecord(_Record):
    """What `venue contest --roster` came to: an answer on the spot, which no folder keeps."""

    kind: Literal["roster"]
    scenario: str
    version: str
    title: str
    strength: float
    gap: float
    side_b: str
    teams: tuple[str, ...]
    wins: tuple[tuple[float, ...], ...]
    strengths: dict[str, float]
    side_a: float
    spread: float
    misfit: float
    within: float
    out_of_line: tuple[str, ...]


class Goal(Plain):
    """What a solution had to reach."""

    measure: str
    value: float


class TuneRecord(_Record):
    """What `venue tune` came to; see `venue.study.tune.Tuned`."""

    kind: Literal["tune"]
    scenario: str
    title: str
    goal: Goal
    keep: tuple[str, ...]
    key: str
    before: float
    value: float
    exact: bool
    result: dict[str, Number]
    was: dict[str, Number]
    others: tuple[float, ...]
    line: str
    change: str
    findings: TuneFindings


class AimRow(Plain):
    """A figure, what it was to be and what it is; see `venue.study.title_figures.Aim`."""

    figure: str
    sign: str
    value: float
    was: Number
    will_be: Number
    missed_by: Number
    fights: bool


class TunedNumber(Plain):
    """A number of a title, what it was, is to be and may be."""

    key: str
    before: float
    value: float
    low: float
    high: float


class RedesignRecord(_Record):
    """What `venue tune` came to for several numbers or targets; see `venue.study.redesign.Redesign`."""

    kind: Literal["redesign"]
    scenario: str
    version: str
    title: str
    reached: bool
    aims: tuple[AimRow, ...]
    numbers: tuple[TunedNumber, ...]
    was: dict[str, Number]
    will_be: dict[str, Number]
    lines: str
    changes: tuple[str, ...]


class WishRow(Plain):
    """A figure of which more is better, or less."""

    figure: str
    more: bool


class FrontDesignRow(Plain):
    """One design of a front; see `venue.study.design_front.FrontDesign`."""

    values: tuple[float, ...]
    figures: tuple[float, float]
    lines: str
    changes: tuple[str, ...]


class DesignFrontRecord(_Record):
    """What `venue tune` came to for two wishes; see `venue.study.design_front.DesignFront`."""

    kind: Literal["design front"]
    scenario: str
    version: str
    title: str
    wishes: tuple[WishRow, WishRow]
    keep: tuple[str, ...]
    keys: tuple[str, ...]
    before: tuple[float, ...]
    today: tuple[float, float]
    gain: tuple[float, float]
    designs: tuple[FrontDesignRow, ...]


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


class SensitivityRecord(_Record):
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


Record = RunRecord | SweepRecord | CompareRecord | ContestRecord | TuneRecord | SensitivityRecord

_ADAPTER: TypeAdapter[Record] = TypeAdapter(Annotated[Record, Field(discriminator="kind")])


def read_record(text: str | bytes, source: str = "result") -> Record:
    """The record that a text holds.

    Parameters
    ----------
    source
        What the text is called in messages.

    Raises
    ------
    InputError
        If it is not the JSON of a record, or that of another version.
    """
    try:
        return _ADAPTER.validate_json(text)
    except ValidationError as error:
        raise InputError(_told(source, error)) from None


def record_of(plain: Mapping[str, Any]) -> Record:
    """The record of plain data.

    Raises
    ------
    InputError
        If it is none.
    """
    try:
        return _ADAPTER.validate_python(plain)
    except ValidationError as error:
        raise InputError(_told("result", error)) from None


def _told(source: str, error: ValidationError) -> str:
    """The first thing wrong, with the key and what it holds."""
    first = error.errors()[0]
    where = ".".join(map(str, first["loc"][1:])) or "its beginning"
    if first["type"] == "json_invalid":
        return f"{source}: is not JSON ({first['ctx']['error']}); run the command again with --out"
    if first["type"] in ("union_tag_not_found", "union_tag_invalid", "model_attributes_type"):
        return (
            f"{source}: is not a result of venue run, sweep, compare, contest, tune or sensitivity, or one of another "
            "version; name a folder that one of them wrote with --out"
        )
    return (
        f"{source}: is not a result as this version writes it ({where}: {first['msg'].lower()}); run the command again "
        "with --out"
    )
