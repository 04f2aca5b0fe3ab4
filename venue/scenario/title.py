"""A title: one game design, its contest and its catch-up rules."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from venue.scenario.fields import (
    Chance,
    Length,
    Level,
    LogOdds,
    Margin,
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
from venue.scenario.rules import Rule, Serves

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


class Mix(Part):
    """Other shares of the attempts while something holds, by turns. Of several that hold the last written counts."""

    shares: dict[Name, Chance] = Field(
        min_length=1, description="share of attempts by kind, which sum to one; kinds that are not named are not made"
    )
    left: PositiveSecondsInHall | None = Field(
        None, description="holds with at most this much time left in the contest"
    )
    points_left: Worth | None = Field(
        None, description="in a contest to N points, instead: holds while the leader needs at most this many"
    )
    behind_from: Margin | None = Field(None, description="holds only when trailing by at least this")
    behind_to: Margin | None = Field(None, description="holds only when trailing by at most this")
    serves: Serves = Field("both", description="whose attempts it shares out")
    difficulties: Annotated[tuple[Name, ...], Field(min_length=1)] | None = Field(
        None, description="the title's difficulties it holds at; all, and none, if unsaid"
    )


class Overtime(Part):
    """A period of its own that is played while the contest is level, from a toss and with nothing remembered."""

    length: PositiveSecondsInHall = Field(description="clock time of one overtime; it is repeated until somebody leads")


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
    attack_limit: PositiveSecondsInHall | None = Field(
        None, description="longest that an attack may take, by turns; it counts from the start of the attack"
    )
    at_limit: Literal["lost", "attempt"] = Field(
        "lost", description="what an attack comes to at its limit: it is lost, or the attempt is made"
    )
    mean_attack: PositiveSecondsInHall | None = Field(
        None, description="mean time of an attack, or between scores in open play; a race has none"
    )
    attempts: dict[Name, Attempt] = Field(
        default_factory=dict, max_length=50, description="kinds of attempt; a race has none"
    )
    mixes: dict[Name, Mix] = Field(
        default_factory=dict, description="other shares of the attempts by margin, time left or difficulty, by name"
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
    tie: Literal["draw", "next score", "overtime"] = Field(
        "draw", description="level at the end: half a win each, or played on until the next score, or in overtime"
    )
    overtime: Overtime | None = Field(None, description="what is played on a level score, with `tie` = overtime")
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
        """Chance that a second of the chain is a step: that the attack is resolved, or 1 in a race, where the gap moves
        each second, and where attacks have a limit, so that their seconds are counted."""
        return 1.0 if self.attack_limit is not None else self.attack_hazard

    @property
    def attack_hazard(self) -> float:
        """Chance that an attack short of its limit is resolved within a second; in a race 1."""
        return 1.0 if self.mean_attack is None else 1.0 / self.mean_attack

    @property
    def longest_attack(self) -> int:
        """Seconds that an attack may take; 0 for any."""
        return 0 if self.attack_limit is None else round(self.attack_limit)

    @property
    def attack_rate(self) -> float:
        """Attacks a second in the long run."""
        over = (1.0 - self.attack_hazard) ** self.longest_attack if self.longest_attack else 0.0
        return self.attack_hazard / (1.0 - over)

    def at(self, difficulty: str | None) -> Title:
        """The title as it is at one of its difficulties: weights of rules, and mixes of attempts."""
        if not any(rule.weight_at for rule in self.rules.values()) and not any(
            mix.difficulties for mix in self.mixes.values()
        ):
            return self
        rules = {
            name: rule.model_copy(update={"weight": rule.weight_at.get(difficulty or "", rule.weight), "weight_at": {}})
            for name, rule in self.rules.items()
        }
        mixes = {
            name: mix.model_copy(update={"difficulties": None})
            for name, mix in self.mixes.items()
            if mix.difficulties is None or difficulty in mix.difficulties
        }
        return self.model_copy(update={"rules": rules, "mixes": mixes})

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
