"""A title: one game design, its contest and its catch-up rules."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from venue.scenario.fields import (
    Chance,
    Length,
    Level,
    LogOdds,
    Name,
    Pace,
    Part,
    PauseSeconds,
    Points,
    PositiveSecondsInHall,
    Spread,
    Wander,
    Weight,
    Worth,
)
from venue.scenario.rules import Rule

Form = Literal["clocked", "first to", "race"]


class Attempt(Part):
    """One kind of attempt: how often it is chosen, what it is worth, how often it succeeds unaided."""

    share: Chance = Field(description="share of attempts that are of this kind; the shares of a title sum to one")
    points: Worth = Field(description="points for a success")
    chance: Chance | None = Field(None, description="base chance of success; only in play by turns")
    skill: Name | None = Field(None, description="category of skill it takes; only skill at large if unsaid")
    against: Name | None = Field(
        None, description="category of skill that defends; the title's `defence` if unsaid; only in play by turns"
    )
    taken_by: dict[Name, Chance] = Field(
        default_factory=dict,
        description="shares of these attempts by the player of a side who takes them, which sum to one; by turns",
    )


class FirstTo(Part):
    """A contest without a clock: whoever first has so many points wins. Periods end as the leader nears them.

    Of n periods, each but the last ends when somebody has a further nth of the points.
    """

    points: Worth = Field(description="points it takes")
    win_by: int = Field(1, ge=1, le=20, description="lead it takes besides; 2 is to win by two")


class Race(Part):
    """A race: the margin is a gap in lengths, rules change the pace, whoever is ahead when the distance is run wins.

    A length is the unit of your choice. The gap moves by a whole number of lengths each second, with the mean that the
    two paces give and the spread `wander`.
    """

    distance: Length = Field(description="how long the race is; it is over when that is run at `pace`")
    pace: Pace = Field(description="pace between equals without any rule")
    wander: Wander = Field(0.6, description="standard deviation of the gap's change in one second, for luck")
    pace_per_skill: Chance = Field(0.02, description="share of the pace by which one log-odds of skill more is faster")
    skill: Name | None = Field(None, description="category of skill it takes; only skill at large if unsaid")


class Ladder(Part):
    """The computer side grows stronger with each win in a row against it, until it wins or the visitor gets up."""

    step: Spread = Field(description="skill it gains for each win in a row")
    rungs: int = Field(ge=1, le=100, description="most steps it takes")


class Team(Part):
    """One team or character of a title's roster, for either side to play."""

    label: Name | None = Field(None, description="the name people see; the key if unsaid")
    skill: LogOdds = Field(0.0, description="what it adds to the skill of the side that plays it")
    levels: dict[Name, Level] = Field(default_factory=dict, description="its level by category of skill")
    players: dict[Name, dict[Name, Level]] = Field(
        default_factory=dict, description="levels of its players by category, each by the name that `taken_by` uses"
    )


class Title(Part):
    """One game design. Two sides meet against the clock, to so many points, or in a race."""

    label: Name | None = Field(None, description="the name people see; the key if unsaid")
    play: Literal["turns", "open"] = Field("turns", description="sides attack by turns, or either may score next")
    periods: int = Field(ge=1, le=50, description="periods in a contest; each is bought in for")
    period_length: PositiveSecondsInHall | None = Field(
        None, description="clock time of one period; a title has this, or `first_to`, or `race`"
    )
    first_to: FirstTo | None = Field(None, description="a contest to so many points instead of against the clock")
    race: Race | None = Field(None, description="a race instead of a contest for points")
    break_length: PauseSeconds = Field(10.0, description="pause after a period, in which the next is offered")
    mean_attack: PositiveSecondsInHall | None = Field(
        None, description="mean time of an attack, or between scores in open play; a race has none"
    )
    attempts: dict[Name, Attempt] = Field(
        default_factory=dict, max_length=50, description="kinds of attempt; a race has none"
    )
    scorer_keeps: bool = Field(False, description="in play by turns, whether a side attacks again after scoring")
    scores_again: Chance | None = Field(
        None, description="in open play, the chance that equal sides' next score goes to whoever scored last"
    )
    period_start: Literal["toss", "carry on", "alternate"] = Field(
        "toss", description="who attacks first in a period: by toss, as the last one ended, or sides in turn"
    )
    turnover: Chance = Field(0.0, description="chance that an attack is lost before an attempt")
    block: Chance = Field(0.0, description="chance that a success is blocked, which makes it a miss; by turns")
    tie: Literal["draw", "next score"] = Field("draw", description="level at the end: half a win each, or played on")
    close: Points = Field(3, description="largest final margin that counts as a close finish")
    minimum_chance: Chance = Field(0.01, description="least chance any attempt is left with")
    maximum_chance: Chance = Field(0.99, description="greatest chance any attempt is given")
    opponent: LogOdds = Field(0.0, description="skill of the computer side")
    difficulties: dict[Name, LogOdds] = Field(
        default_factory=dict,
        max_length=100,
        description="settings that a machine may choose from: what each adds to the computer side",
    )
    ladder: Ladder | None = Field(None, description="the computer side steps up with each win in a row against it")
    level_table: tuple[tuple[Level, LogOdds], ...] = Field(
        (),
        max_length=1000,
        description="rows of [level, log-odds] that say what levels of skill mean here, straight between them",
    )
    level_tables: dict[Name, tuple[tuple[Level, LogOdds], ...]] = Field(
        default_factory=dict, description="tables of their own for some categories of skill, in place of `level_table`"
    )
    visitor_levels: dict[Name, Level] = Field(
        default_factory=dict,
        max_length=100,
        description="level of a visitor's side by category of skill; the mean visitor's own if unsaid",
    )
    computer_levels: dict[Name, Level] = Field(
        default_factory=dict, max_length=100, description="level of the computer side by category of skill"
    )
    visitor_players: dict[Name, dict[Name, Level]] = Field(
        default_factory=dict,
        description="levels of the players of a visitor's side by category, each by the name that `taken_by` uses",
    )
    computer_players: dict[Name, dict[Name, Level]] = Field(
        default_factory=dict, description="levels of the players of the computer side, likewise"
    )
    roster: dict[Name, Team] = Field(default_factory=dict, description="teams or characters to choose from")
    visitor_team: Name | None = Field(None, description="team that visitors play; the first of the roster if unsaid")
    computer_team: Name | None = Field(None, description="team that the computer plays; likewise")
    defence: Name | None = Field(None, description="category of skill that defends, in play by turns")
    strength: Weight = Field(
        1.0, description="catch-up strength of this title: times that of the study it scales all its scalable rules"
    )
    rules: dict[Name, Rule] = Field(
        default_factory=dict, max_length=100, description="the catch-up rules, each by a name of yours"
    )

    @property
    def form(self) -> Form:
        """What decides the contest: a clock, a number of points, or a distance."""
        return "race" if self.race else "first to" if self.first_to else "clocked"

    @property
    def seconds(self) -> int:
        """Clock time of one period in seconds; 0 where no clock runs."""
        if self.race is not None:
            return max(1, round(self.race.distance / self.race.pace / self.periods))
        return 0 if self.period_length is None else round(self.period_length)

    @property
    def hazard(self) -> float:
        """Chance that the attack is resolved within a second; in a race the gap moves each second."""
        return 1.0 if self.mean_attack is None else 1.0 / self.mean_attack

    def opponent_at(self, difficulty: str | None) -> float:
        """Skill of the computer side at one of the title's difficulties (none: as it is)."""
        return self.opponent + (self.difficulties[difficulty] if difficulty else 0.0)

    def table_of(self, category: str) -> tuple[tuple[float, float], ...]:
        """Rows of [level, log-odds] for a category of skill."""
        return self.level_tables.get(category, self.level_table)

    @property
    def players(self) -> tuple[str, ...]:
        """Players that a side has, by name, in the order in which attempts name them; none if attempts name none."""
        return tuple(dict.fromkeys(player for attempt in self.attempts.values() for player in attempt.taken_by))

    @property
    def most_points(self) -> int:
        """Points of the attempt that is worth most; 1 in a race."""
        return max((attempt.points for attempt in self.attempts.values()), default=1)
