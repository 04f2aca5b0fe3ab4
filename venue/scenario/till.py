"""The till, where money becomes credits: bundles on the price list, a card that adds a bonus."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BeforeValidator, Field, model_validator

from venue import units
from venue.errors import Fault
from venue.scenario.fields import Chance, Part, Unit

_Bundled = Annotated[int, Field(ge=1, le=1_000_000), Unit("credits")]
_Bonus = Annotated[float, BeforeValidator(units.fraction), Field(ge=0, le=10), Unit("share")]


class Bundle(Part):
    """Credits sold together for the price of fewer single ones: 5 for the price of 4."""

    credits: _Bundled = Field(description="credits in the bundle")
    price_of: _Bundled = Field(description="single credits that cost the same money")

    @model_validator(mode="after")
    def _is_cheaper(self) -> Bundle:
        if self.price_of >= self.credits:
            raise Fault(
                f"{self.credits} credits for the price of {self.price_of} are no bargain, price_of must be less than "
                "credits",
                "write less, or take the bundle out",
            )
        return self


class Card(Part):
    """A customer card that adds to every credit bought."""

    holders: Chance = Field(0.0, description="share of people who have a card; they keep it")
    bonus: _Bonus = Field(0.0, description="credits given on top, as a share of those bought in a visit")


class Till(Part):
    """How credits are sold. Without bundles or cards each costs `credit_price`."""

    bundles: tuple[Bundle, ...] = Field((), max_length=50, description="credits sold together, at a discount")
    card: Card = Card()
    buys: Literal["most for the money", "as needed"] = Field(
        "most for the money",
        description="which bundles people buy: the best bargain that the wallet covers, or only what asks for it, the "
        "credits that they come to play costing as much one by one",
    )
    unplayed: Literal["kept", "lost"] = Field(
        "kept", description="credits bought and not played: kept for the next visit, or lost at the door"
    )

    @property
    def plain(self) -> bool:
        """Whether credits are only sold one by one, without a bonus, so that none is ever left over."""
        return not self.bundles and not (self.card.holders and self.card.bonus)
