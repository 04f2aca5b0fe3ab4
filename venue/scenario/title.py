"""A title: one game design, its contest and its catch-up rules."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from venue.scenario.fields import Chance, LogOdds, Name, Part, Points, PositiveSeconds, Seconds, Worth
from venue.scenario.rules import Rule


class Attempt(Part):
    """One kind of attempt: how often it is chosen, what it is worth, how often it succeeds unaided."""

    share: Chance = Field(description="share of attempts that are of this kind; the shares of a title sum to one")
    points: Worth = Field(description="points for a success")
    chance: Chance | None = Field(None, description="base chance of success; only in play by turns")


class Title(Part):
    """One game design. Two sides score against the clock, by turns or in open play."""

    label: Name | None = Field(None, description="the name people see; the key if unsaid")
    play: Literal["turns", "open"] = Field("turns", description="sides attack by turns, or either may score next")
    periods: int = Field(ge=1, le=50, description="periods in a contest; each is bought in for")
    period_length: PositiveSeconds = Field(description="clock time of one period")
    break_length: Seconds = Field(10.0, description="pause after a period, in which the next is offered")
    mean_attack: PositiveSeconds = Field(description="mean time of an attack, or between scores in open play")
    attempts: dict[Name, Attempt] = Field(min_length=1)
    scorer_keeps: bool = Field(False, description="in play by turns, whether a side attacks again after scoring")
    scores_again: Chance | None = Field(
        None, description="in open play, the chance that equal sides' next score goes to whoever scored last"
    )
    period_start: Literal["toss", "carry on", "alternate"] = Field(
        "toss", description="who attacks first in a period: by toss, as the last one ended, or sides in turn"
    )
    turnover: Chance = Field(0.0, description="chance that an attack is lost before an attempt")
    tie: Literal["draw", "next score"] = Field("draw", description="level at the end: half a win each, or played on")
    close: Points = Field(3, description="largest final margin that counts as a close finish")
    floor: Chance = Field(0.01, description="least chance any attempt is left with")
    ceiling: Chance = Field(0.99, description="greatest chance any attempt is given")
    opponent: LogOdds = Field(0.0, description="skill of the computer side")
    rules: dict[Name, Rule] = Field(default_factory=dict)
