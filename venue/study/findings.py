"""What may be said of a study's results, as plain data: terminal, charts, page, notebook and JSON print these, and
decide nothing themselves. `venue.study.judgement` decides them.
"""

from __future__ import annotations

from typing import Literal

from venue.study.plain import Interval, Number, Plain

Reason = Literal["most take", "same take everywhere", "assured", "none keeps the requirements", "nothing to judge by"]
"""Why a setting is recommended, or why none is."""

Doubt = Literal["requirement only just kept", "rival only just misses", "take less but surer", "not told apart"]
"""What speaks against the recommended setting: a requirement alone, or a rival, which keeps its requirements less or
more surely."""

Direction = Literal["rises", "falls", "both", "differs", "flat", "same", "unknown"]
"""How a measure goes along what is swept: surely up, surely down, surely up and down, surely different somewhere
(where what is swept has no order), not told apart anywhere, the same in every replication, or not known."""

Settled = Literal["settled", "moving", "unclear", "too short"]
"""Whether the take still changes from week to week within the run: no; surely; perhaps; or there are too few weeks or
replications to say."""


class Settling(Plain):
    """The take of the first week counted and of the last, in credits per open hour, and what they say."""

    state: Settled
    first: Interval | None = None
    last: Interval | None = None


class Course(Plain):
    """How one measure goes over the settings: places at which it surely is more, or less, than at the reference."""

    direction: Direction
    more: tuple[int, ...]
    less: tuple[int, ...]


class Tie(Plain):
    """The recommended setting and those that keep the requirements and cannot be told apart from it by the aim.

    Attributes
    ----------
    places
        All of them, in the order they were run.
    lowest, highest
        Places of the ends where they are neighbours along one axis of numbers; None where they are not, or there is
        only one.
    most_lost
        The most that one of them may earn less than the recommended one, in the unit of the aim, by the intervals that
        hold together; NaN where there is only one.
    """

    places: tuple[int, ...]
    lowest: int | None
    highest: int | None
    most_lost: Number


class Today(Plain):
    """The setting that the scenario stands at.

    Attributes
    ----------
    place
        Which one it is.
    standing
        Whether it is the recommended one, ties with it, surely takes less, or does not keep the requirements; "alone"
        where none is recommended.
    gain
        What the recommended setting earns less today's, with the interval that holds together with all others; None
        where today's is the recommended one, or none is.
    """

    place: int
    standing: Literal["recommended", "tied", "behind", "refused", "alone"]
    gain: Interval | None


class Kept(Plain):
    """One requirement: the places that keep it by their means (None where it could not be judged), and the chance that
    the recommended setting truly keeps it."""

    measure: str
    bound: float
    most: bool
    places: tuple[int, ...] | None
    nearest: int | None
    reached: Number
    chance: float | None


class GivenUp(Plain):
    """What the recommended setting gives up against whichever is truly best; see
    `venue.study.recommendation.GivenUp`."""

    expected: float
    worth: float
    chance_within: float


class Against(Plain):
    """What speaks against the recommended setting; see `venue.study.recommendation.Rival`."""

    doubt: Doubt
    place: int | None
    behind: Interval | None


class Horizon(Plain):
    """The first weeks after the change.

    Attributes
    ----------
    weeks
        How many.
    best
        Place of the setting that takes most in them, of those that keep the requirements over the whole run.
    behind
        By how much more it takes in them than the recommended one, with an interval that holds together with all
        others; None where they are the same, or none is recommended.
    agrees
        Whether the recommended one may be the best over these weeks too: it does not surely take less.
    """

    weeks: int
    best: int
    behind: Interval | None = None
    agrees: bool


class Over(Plain):
    """What a change brings over so many weeks after it, in credits per open hour."""

    weeks: int
    difference: Interval


class Drift(Plain):
    """Whether a difference still changes from week to week, by the weeks named: its change over them."""

    state: Settled
    change: Interval | None = None
    first: int = 0
    last: int = 0


class Stake(Plain):
    """What a choice between the settings is worth, in money a week where that is known, or else in take.

    Attributes
    ----------
    kind
        "move": what moving from today's setting brings. "worst": what the worst of those tried would cost, where
        today's will do. "worst tie": the same of those that will do, where all of them do.
    measure
        What it is counted in.
    place
        The other setting.
    difference
        The recommended setting less the other, in pairs, with its own 95 % interval.
    """

    kind: Literal["move", "worst", "worst tie"]
    measure: str
    place: int
    difference: Interval


class SweepFindings(Plain):
    """What may be said of a sweep. Settings go by their places among the points.

    Attributes
    ----------
    aim
        The measure that is to be as great as can be; what settings are ranked by.
    recommended, reason, given_up, chance_right
        The recommendation, why, what choosing it gives up, and the chance that it is the right one.
    requirements
        What settings had to keep, and how they do.
    surely
        The chance with which a setting had to keep all of them.
    refused
        Those that do not keep all of them surely enough.
    rival
        What speaks against the recommended one, if it is not sure.
    reference
        What measures are compared with.
    tie
        What will do as well; None where none is recommended.
    fairer
        Of the ties the one nearest in take at which the better side surely wins more.
    today
        The setting that the scenario stands at; None where it was not run.
    unaided
        What the recommended setting is set against: catch-up off where that was run, or else the first setting; None
        where that is the recommended one.
    stake
        What the choice is worth.
    run_on
        Whether more replications would be of use: the chance that the recommendation is right is unknown or below 0.9.
    at_end
        Whether the recommended setting is the last of those tried along one axis, other than catch-up off.
    measures
        By name how each measure goes over the settings.
    settled
        For each setting whether its take has settled.
    front
        Settings that no other beats in both take and fairness, the fairest first.
    horizons
        What is best over the first weeks after the change; empty where runs begin with the opening.
    drifts
        For each setting whether its take less the reference's still changes; None for the reference.
    """

    aim: str
    recommended: int | None
    reason: Reason
    given_up: GivenUp | None
    chance_right: float | None
    requirements: tuple[Kept, ...]
    surely: float
    refused: tuple[int, ...]
    rival: Against | None
    reference: int
    tie: Tie | None
    fairer: int | None
    today: Today | None
    unaided: int | None
    stake: Stake | None
    run_on: bool
    at_end: bool
    measures: dict[str, Course]
    settled: tuple[Settling, ...]
    front: tuple[int, ...]
    horizons: tuple[Horizon, ...] = ()
    drifts: tuple[Drift | None, ...] = ()


class RunFindings(Plain):
    """What may be said of a run: whether its take has settled."""

    settled: Settling


class Changed(Plain):
    """What one scenario surely changes against the first.

    Attributes
    ----------
    take
        Which way the take goes; "same" where it is so in every replication.
    by_importance
        Measures that surely change, the most important first.
    settled
        Whether the take of this scenario has settled.
    over
        The difference in take over the first weeks after the change; empty where runs begin with the opening.
    drift
        Whether the difference still changes; None where runs begin with the opening.
    """

    name: str
    take: Literal["more", "less", "not told apart", "same", "unknown"]
    by_importance: tuple[str, ...]
    settled: Settling
    over: tuple[Over, ...] = ()
    drift: Drift | None = None


class CompareFindings(Plain):
    """What may be said of a comparison; `settled` is the first scenario's."""

    settled: Settling
    changes: tuple[Changed, ...]


class MoveFound(Plain):
    """What a move of side A adds to its chance to win; see `venue.contest.best_play`."""

    move: str
    gain: float


class BestPlayFound(Plain):
    """Side A's chance to win as played and at its best, and what each move that was searched adds by itself; what all
    of them add in the title without rules.

    `play` is "turns", "open" or "race": what the moves are called depends on it.
    """

    play: str
    side_a_wins: float
    moves: tuple[MoveFound, ...]
    together: float
    without_rules: float


class ContestFindings(Plain):
    """What may be said of a title: at how many scores a point less would be better, and what the best play gains."""

    trailing_pays: bool
    scores: int
    best_play: BestPlayFound


class TuneFindings(Plain):
    """What may be said of a solution: whether it reaches its goal to rounding, and whether others do too."""

    exact: bool
    only: bool


class SensitivityFindings(Plain):
    """What moves a measure most, whether that number is measured or fitted, and what to measure next."""

    foremost: str | None
    known: bool
    next_to_measure: str | None
