"""Records of a title without a floor: a contest, a situation, a roster, and what was solved for, as plain data."""

from __future__ import annotations

from typing import Literal

from venue.study.findings import ContestFindings, TuneFindings
from venue.study.plain import Number, Plain, WrittenRecord


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


class ContestRecord(WrittenRecord):
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


class OnTheSpot(WrittenRecord):
    """An answer about a title on the spot, which no folder keeps."""

    kind: str
    scenario: str
    version: str
    title: str
    strength: float
    gap: float
    side_b: str


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


class SituationRecord(OnTheSpot):
    """What `venue contest --at` came to."""

    kind: Literal["situation"]
    at: SituationAt
    chances: tuple[Chance, ...]


class RosterRecord(OnTheSpot):
    """What `venue contest --roster` came to."""

    kind: Literal["roster"]
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


class TuneRecord(WrittenRecord):
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


class RedesignRecord(WrittenRecord):
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


class DesignFrontRecord(WrittenRecord):
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
