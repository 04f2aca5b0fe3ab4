"""The accounts of a run: every total reached by two routes, and an error where they differ."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from venue.errors import RunError
from venue.floor.ledger import Ledger
from venue.floor.machine import IN_PLAY, PLAYED_OUT, STATES, MachineRow
from venue.floor.till import Till


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


def balance(ledger: Ledger, rows: Sequence[MachineRow], till: Till | None, now: float) -> list[Account]:
    """The accounts of a run that has come to its end at `now`, in seconds.

    Raises
    ------
    RunError
        If any does not balance, with its two sides.
    """
    plays, visits = ledger.plays.table(), ledger.visits.table()
    take, refunds = sum(row.coin_box.take for row in rows), sum(row.coin_box.refunded for row in rows)
    spent, given_back = int(visits["credits"].sum()), int(visits["refunded"].sum())
    play_time = sum(row.booked(IN_PLAY) + row.booked(PLAYED_OUT) for row in rows)
    machine_time = sum(sum(row.booked(state) for state in STATES) for row in rows)
    contests = plays[plays["against"] == -1]
    accounts = [
        Account("credits out of wallets = take of all machines + refunds", spent + given_back, take + refunds),
        Account("credits in plays = take of all machines", int(plays["credits"].sum()), take),
        Account("refunds in plays = refunds to visitors", int(plays["refunded"].sum()), given_back),
        Account("visitors in = visitors out + still inside", ledger.entered, ledger.left + ledger.inside),
        Account("contests begun = finished + ended early + in play", ledger.begun - ledger.begun_before,
                ledger.finished + ledger.ended_early + ledger.in_play),
        Account("machine time in play, idle, in fault and closed = machines x time (s)", machine_time,
                sum(row.stood(now) for row in rows)),
        Account("machine time in play = length of contests and plays (s)", play_time,
                ledger.contest_time + float((contests["ended"] - contests["began"]).sum())),
        Account("time in lines by their length = by those who waited (s)",
                sum(row.length_time for row in rows), sum(row.waited for row in rows)),
    ]  # fmt: skip
    if till is not None:
        unplayed = till.lost + sum(till.kept.values())
        accounts.append(
            Account("credits sold = played + lost at the door + kept", till.sold + till.brought, spent + unplayed)
        )
    for account in accounts:
        if not account.balances:
            raise RunError(f"the accounts do not balance: {account.name}: {account.left!r} against {account.right!r}")
    return accounts
