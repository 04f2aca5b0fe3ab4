"""The people: skill, what they carry, how long they stay, what they believe and what they like.

Every taste is a utility in a logit choice; set it to zero and the effect is gone.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, PlainSerializer

from venue import units
from venue.errors import Fault
from venue.scenario.fields import (
    Chance,
    LogOdds,
    LogSpread,
    MeanCredits,
    Part,
    PositiveSeconds,
    PositiveSecondsInHall,
    SecondsInHall,
    Spread,
    Taste,
    TasteOrNever,
    Unit,
)

_SIZES = ("1", "2", "3", "4")


class Skill(Part):
    """Skill in log-odds: normal over people, plus what practice adds."""

    mean: LogOdds = Field(0.0, description="skill of the middle newcomer; 0 is as good as a computer side of skill 0")
    sd: Spread = Field(0.5, description="spread of skill between people")
    practice: Spread = Field(0.0, description="skill gained with each contest played")
    practice_limit: Spread = Field(1.0, description="most that practice can add")


def _sizes(value: Any) -> Any:
    if not isinstance(value, dict) or not value:
        raise Fault("must be a table", 'write the share of parties of each size, like { "1" = 0.5, "2" = 0.5 }')
    found = {}
    for key, share in value.items():
        size = str(key)
        if size not in _SIZES:
            raise Fault(f'names a party of "{size}", must be of 1 to 4 people', 'write "1", "2", "3" or "4"')
        found[int(size)] = units.fraction(share)
    total = sum(found.values())
    if abs(total - 1.0) > 1e-9:
        raise Fault(f"shares sum to {total:g}, must sum to 1", "change one of them")
    return found


Sizes = Annotated[
    dict[int, Chance],
    BeforeValidator(_sizes, json_schema_input_type=dict[Annotated[str, Field(pattern="^[1-4]$")], Chance]),
    PlainSerializer(lambda sizes: {str(size): share for size, share in sizes.items()}, when_used="json"),
]


class Party(Part):
    """With whom people come, and what that is worth to them."""

    sizes: Sizes = Field(default_factory=lambda: {1: 1.0}, description="share of parties by size, 1 to 4 people")
    together: Taste = Field(1.0, description="per friend who plays or waits at the machines, in the choice of machines")
    same_side: Chance = Field(
        0.5, description="chance that friends at one machine want to play on one side, not against each other"
    )
    leave_together: Chance = Field(0.5, description="chance to go home as well when one of the party leaves")

    @property
    def mean_size(self) -> float:
        """People in a party, on average."""
        return sum(size * share for size, share in self.sizes.items())


class Wallet(Part):
    """Credits a visitor is prepared to spend on one visit: lognormal, in whole credits."""

    median: MeanCredits = Field(16.0, gt=0, description="half of all visits carry more than this, half less")
    spread: LogSpread = Field(0.7, description="how far wallets lie apart; 0.7 doubles or halves them")
    off: bool = Field(False, description="nobody ever runs out")


class Stay(Part):
    """Time a visitor has to spend: lognormal."""

    median: PositiveSecondsInHall = Field(3600.0, description="half of all visits have more time than this, half less")
    spread: LogSpread = Field(0.5, description="how far these times lie apart; 0.7 doubles or halves them")
    off: bool = Field(False, description="nobody ever runs out of time")


class Patience(Part):
    """How long a visitor waits in a line, or for an opponent."""

    mean: SecondsInHall = Field(360.0, description="how long a visitor waits on average before giving up")
    varies: Literal["exponential", "fixed"] = Field("exponential", description="how patience varies between waits")
    off: bool = Field(False, description="everybody waits for ever")


class Belief(Part):
    """A visitor's estimate of their chance at a title: a Beta prior, updated by finished contests."""

    wins: float = Field(2.0, gt=0, le=1000, description="wins the prior is worth")
    losses: float = Field(2.0, gt=0, le=1000, description="losses the prior is worth")
    close_loss: Chance = Field(0.0, description="part of a win that a close loss counts for")
    learning_half_life: float = Field(
        12.0, gt=0, le=1e9, description="contests after which the experienced reading weighs half"
    )
    weighting: float = Field(
        1.0,
        ge=0.05,
        le=2,
        description="Prelec's exponent of chances as decisions weigh them; 1: as they are perceived",
    )


class BuyIn(Part):
    """Tastes behind a buy-in: utility of putting in credits rather than stopping."""

    go_on: TasteOrNever = Field(1.5, description="constant at a period break")
    again: TasteOrNever = Field(0.0, description="constant for another contest on the same machine")
    chance: Taste = Field(3.0, description="per unit of perceived chance")
    closeness: Taste = Field(0.5, description="per unit of closeness")
    price: Taste = Field(0.4, description="taken off per credit")
    played: Taste = Field(0.05, description="taken off per play already begun in the visit")
    suspicion: Taste = Field(0.3, description="taken off per unit of suspicion")
    tired: Taste = Field(1.0, description="taken off as the time to spend runs out (0 at the door, 1 at its end)")


class Choice(Part):
    """Tastes behind the choice of a machine, of a rest, or of leaving."""

    belief: Taste = Field(2.0, description="per unit of believed chance at the title")
    price: Taste = Field(0.4, description="taken off per credit of the first buy-in")
    waiting: Taste = Field(0.3, description="taken off per person waiting before, per machine of the row")
    copies: Annotated[float, Field(ge=0, le=1), Unit("share")] = Field(
        1.0,
        description="how far more machines of a row are more options: 1 each is one, 0 the row is one, so that more of "
        "them help by shorter lines alone",
    )
    suspicion: Taste = Field(0.3, description="taken off per unit of suspicion, at machines with a contest")
    tired: Taste = Field(2.0, description="added to leaving as the time to spend runs out")
    leave: TasteOrNever = Field(0.0, description="constant of leaving")
    rest: TasteOrNever = Field(-float("inf"), description="constant of resting; -inf: nobody rests")
    rest_length: PositiveSecondsInHall = Field(300.0, description="how long a rest lasts")


class Suspicion(Part):
    """How much a visitor comes to think that contests are fixed, and how it fades."""

    notice: Chance = Field(
        0.2,
        description="chance to notice a conceded score that was owed wholly to help; one owed in part is noticed in "
        "proportion",
    )
    given_win: Chance = Field(
        0.1, description="part of `notice` that holds for help to one's own side in the last period of a contest won"
    )
    shared: Chance = Field(
        0.25,
        description="part of the gap to a party's mean that closes when they talk, as one gets up and on the way home",
    )
    half_life: PositiveSeconds = Field(14 * 86400.0, description="time in which suspicion halves")


class Return(Part):
    """Whether a visitor comes back (logit), and when (lognormal delay)."""

    constant: TasteOrNever = Field(-0.5, description="constant of coming back at all")
    chance: Taste = Field(1.0, description="per unit of mean perceived chance met at offers")
    closeness: Taste = Field(0.5, description="per unit of mean closeness met at offers")
    wins: Taste = Field(0.5, description="per share of contests won")
    waiting: Taste = Field(0.02, description="taken off per minute waited")
    suspicion: Taste = Field(0.5, description="taken off per unit of suspicion")
    empty_wallet: Taste = Field(0.2, description="taken off if the visit ended with nothing left to spend")
    delay_median: PositiveSeconds = Field(10 * 86400.0, description="half of those who come back do so sooner")
    delay_spread: LogSpread = Field(0.8, description="how far these delays lie apart; 0.7 doubles or halves them")


class People(Part):
    """Everybody who may come."""

    skill: Skill = Skill()
    party: Party = Party()
    wallet: Wallet = Wallet()
    stay: Stay = Stay()
    patience: Patience = Patience()
    belief: Belief = Belief()
    buy_in: BuyIn = BuyIn()
    choice: Choice = Choice()
    suspicion: Suspicion = Suspicion()
    come_back: Return = Return()
