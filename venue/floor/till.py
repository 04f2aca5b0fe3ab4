"""The till at the door: a wallet of money becomes credits, as many at a time as the price list makes worth while.

A visitor who needs credits buys the bundle with the most credits for the money that what is left of the wallet covers;
single credits when no bundle is. Where people buy as needed, a bundle is bought only while what they come to play would
cost as much one by one. The purchases of a visit therefore follow from the wallet alone, and how many of them
are made from the credits played, so both are worked out at the door: nothing is asked of the till in between.

Amounts of money are whole numbers too, counted in what a single credit costs; times `credit_price` they are money.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from venue.scenario.till import Till as PriceList
from venue.streams import Streams

_ROUNDING = 1e-9


@dataclass(frozen=True)
class Bought:
    """Credits bought at the till, the bonus among them, and the money paid, in single credits' worth."""

    credits: int
    paid: int


class Till:
    """Sells credits by a price list.

    Parameters
    ----------
    price_list
        Bundles, card and what becomes of unplayed credits.
    streams
        Of the replication; whether a person has a card is theirs for good.
    kept
        Unplayed credits from before.

    Attributes
    ----------
    brought
        The sum of those from before.
    sold, lost
        Credits sold so far, and those of them that were lost at the door.
    kept
        Unplayed credits by the number of the person who keeps them.
    """

    def __init__(self, price_list: PriceList, streams: Streams, kept: Mapping[int, int] | None = None) -> None:
        # The most credits for the money first; of two alike the larger.
        self._bundles = sorted(
            ((item.credits, item.price_of) for item in price_list.bundles),
            key=lambda bundle: (bundle[1] / bundle[0], -bundle[0]),
        )
        self._holders, self._bonus = price_list.card.holders, price_list.card.bonus
        self._as_needed = price_list.buys == "as needed"
        self._keeps = price_list.unplayed == "kept"
        self._streams = streams
        self.sold = self.lost = 0
        self.kept: dict[int, int] = dict(kept or {})
        self.brought = sum(self.kept.values())
        self._most: dict[tuple[float, float], int] = {}
        self._bought: dict[tuple[int, float, float], Bought] = {}

    def purse(self, person: int, wallet: float) -> float:
        """Credits that a visit can play with a wallet: those kept from before, and the most that the money buys.

        Parameters
        ----------
        person
            Number of the person.
        wallet
            What they are prepared to spend, in single credits; may be infinite.
        """
        return self.kept.get(person, 0) + self.most(wallet, self._bonus_of(person))

    def settle(self, person: int, wallet: float, played: int) -> int:
        """Close a visit's account: what was paid in money, in single credits' worth, for the credits it played.

        Credits kept from before are played first. What was bought and not played is kept or lost.
        """
        before = self.kept.pop(person, 0)
        bought = self.buy(max(0, played - before), wallet, self._bonus_of(person))
        self.sold += bought.credits
        left = before + bought.credits - played
        if left and self._keeps:
            self.kept[person] = left
        elif left:
            self.lost += left
        return bought.paid

    def most(self, wallet: float, bonus: float = 0.0) -> float:
        """The most credits that a wallet of so many single credits buys."""
        if math.isinf(wallet):
            return wallet
        known = self._most.get((wallet, bonus))
        if known is None:  # few wallets differ, in whole credits
            bought = sum(int(number) * credits for credits, _, number in self._purchases(wallet))
            known = self._most[wallet, bonus] = with_bonus(bought, bonus)
        return known

    def buy(self, needed: int, wallet: float, bonus: float = 0.0) -> Bought:
        """Buy until at least `needed` credits are in hand, which the wallet must cover."""
        known = self._bought.get((needed, wallet, bonus))
        if known is None:
            buy = self._buy_as_needed if self._as_needed else self._buy
            known = self._bought[needed, wallet, bonus] = buy(needed, wallet, bonus)
        return known

    def _buy(self, needed: int, wallet: float, bonus: float) -> Bought:
        base = without_bonus(needed, bonus)
        have = paid = 0
        for credits, price, number in self._purchases(wallet):
            times = min(number, -((have - base) // credits))
            have += int(times) * credits
            paid += int(times) * price
            if have >= base:
                break
        return Bought(with_bonus(have, bonus), paid)

    def _buy_as_needed(self, needed: int, wallet: float, bonus: float) -> Bought:
        """The same, a bundle only while what is still needed costs at least as much one by one."""
        base = without_bonus(needed, bonus)
        most = self._buy(needed, wallet, bonus)
        have = paid = 0
        for credits, price in self._bundles:
            while base - have >= price and paid + price <= wallet:
                have, paid = have + credits, paid + price
        rest = max(0, base - have)
        # Where the wallet does not cover the rest one by one, it covers the bundles that the best bargain is made of.
        return Bought(with_bonus(have + rest, bonus), paid + rest) if paid + rest <= wallet else most

    def _purchases(self, wallet: float) -> Iterator[tuple[int, int, float]]:
        """What a wallet is spent on, in order: (credits, price, how many times)."""
        for credits, price in [*self._bundles, (1, 1)]:
            number = wallet // price if wallet < math.inf else wallet
            wallet -= number * price if number < math.inf else 0
            yield credits, price, number

    def _bonus_of(self, person: int) -> float:
        if self._holders and self._bonus and self._streams.first("card", person) < self._holders:
            return self._bonus
        return 0.0


def with_bonus(bought: int, bonus: float) -> int:
    """Credits on the card after buying so many: the bonus adds up, and whole credits of it are given."""
    return bought + math.floor(bonus * bought + _ROUNDING)


def without_bonus(wanted: int, bonus: float) -> int:
    """The fewest credits to buy so that, with the bonus, there are at least so many."""
    fewest = math.floor(wanted / (1.0 + bonus))
    while with_bonus(fewest, bonus) < wanted:
        fewest += 1
    return fewest
