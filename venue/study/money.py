"""Money, at the edge: what the credits played were paid with, who it belongs to, and what machines cost.

The till's discounts cannot be told apart by machine, since credits of one bundle go into many: every credit played
counts with the money that the measured visits paid, over the credits that they played.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from venue.scenario.machine import Machine
from venue.scenario.site import Site

WEEKLY = ("take_per_week", "operator_share_per_week", "site_share_per_week", "profit_per_week")


def money_per_credit(visits: NDArray[np.void], credit_price: float) -> float:
    """Money paid for one credit played, net of bundles and bonus; the price of one where none was played."""
    played = int(visits["credits"].sum())
    return credit_price * (int(visits["paid"].sum()) / played) if played else credit_price


def weekly(machine: Machine, site: Site, credits: int, money: float, weeks: float) -> dict[str, float]:
    """Take, operator's and site owner's shares of it, and the operator's profit of one machine in a week.

    Parameters
    ----------
    machine
        A row of machines alike.
    credits
        Take of the row in all the time.
    money
        For each credit.
    weeks
        Length of that time; the venue may be closed in some of it.
    """
    take = credits * money / weeks / machine.count
    share = take * (site.operator_share if machine.operator_share is None else machine.operator_share)
    return dict(zip(WEEKLY, (take, share, take - share, share - machine.upkeep - machine.floor_cost), strict=True))


def of_venue(rows: Iterable[tuple[Machine, dict[str, float]]]) -> dict[str, float]:
    """The same of all machines together, from what one of each row earns."""
    found = dict.fromkeys(WEEKLY, 0.0)
    for machine, earned in rows:
        for name in WEEKLY:
            found[name] += machine.count * earned[name]
    return found
