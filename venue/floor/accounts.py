"""The accounts of a run: every total reached by two routes, and an error where they differ."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from venue.errors import RunError
from venue.floor.cabinet import CLOSED, FAULT, IDLE, IN_PLAY

if TYPE_CHECKING:
    from venue.floor.run import Floor


@dataclass(frozen=True)
class Account:
    """One balance: what it is about and its two sides."""

    name: str
    left: float
    right: float

    @property
    def balances(self) -> bool:
        """Whole numbers must agree exactly, times to within rounding."""
        if float(self.left).is_integer() and float(self.right).is_integer():
            return self.left == self.right
        return math.isclose(self.left, self.right, rel_tol=1e-9, abs_tol=1e-6)


def balance(floor: Floor) -> list[Account]:
    """The accounts of a finished run.

    Raises
    ------
    RunError
        If any does not balance, with its two sides.
    """
    plays, visits = floor.plays.table(), floor.visits.table()
    take, refunds = sum(row.take for row in floor.rows), sum(row.refunded for row in floor.rows)
    spent, given_back = int(visits["credits"].sum()), int(visits["refunded"].sum())
    play_time = sum(row.time[IN_PLAY] for row in floor.rows)
    machine_time = sum(sum(row.time[state] for state in (IN_PLAY, IDLE, FAULT, CLOSED)) for row in floor.rows)
    contests = plays[plays["against"] == -1]
    accounts = [
        Account("credits out of wallets = take of all machines + refunds", spent + given_back, take + refunds),
        Account("credits in plays = take of all machines", int(plays["credits"].sum()), take),
        Account("refunds in plays = refunds to visitors", int(plays["refunded"].sum()), given_back),
        Account("visitors in = visitors out + still inside", floor.entered, floor.left + floor.inside),
        Account("contests begun = finished + ended early + in play", floor.begun,
                floor.finished + floor.ended_early + floor.in_play),
        Account("machine time in play, idle, in fault and closed = machines x time (s)", machine_time,
                floor.env.now * sum(len(row.cabinets) for row in floor.rows)),
        Account("machine time in play = length of contests and plays (s)", play_time,
                floor.contest_time + float((contests["ended"] - contests["began"]).sum())),
        Account("time in lines by their length = by those who waited (s)",
                sum(row.length_time for row in floor.rows), sum(row.waited for row in floor.rows)),
    ]  # fmt: skip
    if floor.till is not None:
        till = floor.till
        unplayed = till.lost + sum(till.kept.values())
        accounts.append(Account("credits sold = played + lost at the door + kept", till.sold, spent + unplayed))
    for account in accounts:
        if not account.balances:
            raise RunError(f"the accounts do not balance: {account.name}: {account.left!r} against {account.right!r}")
    return accounts
