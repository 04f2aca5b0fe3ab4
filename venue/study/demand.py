"""How much chance brought a venue in one run: who came for the first time, who was minded to come again, who had money.

All three are drawn, and their means are known exactly, so a run in which chance was kind can be told from one in which
the venue did well. It serves as a control variate (`venue.study.control`): what it counts is visits, more or less than
are to be expected, so its own mean is 0.

- People who come for the first time, one by one, against the integral of their rate. Each counts for the visit, if it
  is measured, and for the return that may follow while the run lasts.
- The draw with which a party decides about coming again: uniform, mean one half, fresh for every visit.
- The draws of wallet and of time to spend: standard normal, fresh for every visit.

The sums over visits are martingales, since the draws of a visit are independent of all that led to it, so their means
are 0 however many visits there are. The weights below are our choice; with any others the mean is 0 as well, and what
is made of it stays unbiased, though less precise.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy import special

from venue.floor.calendar import Profile
from venue.floor.run import Floor
from venue.streams import Streams
from venue.visitors.traits import normals
from venue.visitors.visit import first_draws

# Chance to come again that weighs what follows a visit, and how much more a visit brings for each standard deviation by
# which the wallet, or the time to spend, is larger.
_RETURNS, _WALLET, _STAY = 0.35, 0.4, 0.1


def demand(floor: Floor, streams: Streams) -> float:
    """Visits that chance brought beyond those to be expected, of a run that is over; its mean is 0.

    Parameters
    ----------
    streams
        Of the replication.
    """
    people, visits = floor.scenario.people, floor.ledger.visits.table()
    again = 0.0 if floor.door.nobody_returns else _RETURNS / (1.0 - _RETURNS)
    found = 0.0
    if floor.scenario.venue.arrivals.catchment is None:  # where people run out, fewer come for having come before
        found += _newcomers(floor, visits, again)
    if not len(visits):
        return found
    wallet, stay, whether = first_draws(streams, visits["person"].tolist(), visits["visit"].tolist())
    counted = visits["arrived"] >= floor.begins()
    if not people.wallet.off:
        found += _WALLET * float(normals(wallet[counted]).sum())
    if not people.stay.off:
        found += _STAY * float(normals(stay[counted]).sum())
    if again:
        # A least squares line through "comes again or not" against the uniform that decides it falls by 6 p (1 - p);
        # each return brings 1 / (1 - p) visits.
        slope = 6.0 * _RETURNS
        order = np.lexsort((visits["visit"], visits["person"], visits["arrived"]))
        first = order[np.r_[True, np.diff(visits["arrived"][order]) != 0.0]]  # of a party, whose draw decides
        weight = visits["party"][first] * _returns_by(floor, visits["arrived"][first])
        found -= slope * float((weight * (whether[first] - 0.5)).sum())
    return found


def _newcomers(floor: Floor, visits: NDArray[np.void], again: float) -> float:
    """First-time visitors beyond those to be expected, by what each is worth in visits."""
    profile = Profile(floor.scenario.venue.arrivals)
    opens = np.array([day.opens for day in floor.open_days])
    worth = (opens >= floor.begins()) + again * _returns_by(floor, opens)
    came = visits["arrived"][visits["visit"] == 0]
    counts = np.bincount(np.searchsorted(opens, came, side="right") - 1, minlength=len(opens))
    return float(worth @ (counts - np.array([profile.expected(day) for day in floor.open_days])))


def _returns_by(floor: Floor, left: NDArray[np.float64]) -> NDArray[np.float64]:
    """Chance that who comes again does so before the run ends, by when the visit was, in seconds."""
    tastes = floor.scenario.people.come_back
    time = np.maximum(floor.ends() - left, 1.0)
    if tastes.delay_spread == 0.0:
        return (time > tastes.delay_median).astype(float)
    found: NDArray[np.float64] = special.ndtr(np.log(time / tastes.delay_median) / tastes.delay_spread)
    return found if math.isfinite(tastes.delay_median) else np.zeros_like(time)
