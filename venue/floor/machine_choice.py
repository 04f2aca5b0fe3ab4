"""A visitor looks around: to a row of machines, to rest, or out."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from venue.floor.machine import MachineRow
from venue.scenario.people import Choice
from venue.visitors.choices import pick
from venue.visitors.visit import Visit

PassedOver = Callable[[Visit, float, Sequence[MachineRow | str], MachineRow | str], None]


class MachineChoice:
    """The choices of a venue's visitors.

    Parameters
    ----------
    tastes
        What they like.
    rows
        The machines.
    prior_weight
        What the belief about a title that was never played weighs in a decision.
    together
        Utility of each friend at the machines.

    Attributes
    ----------
    least_price
        Credits for which something can be played now.
    passed_over
        Called with each choice, if set: visit, time, options, and which of them it was or why the visitor leaves.
    """

    def __init__(self, tastes: Choice, rows: Sequence[MachineRow], *, prior_weight: float, together: float) -> None:
        self._rows = rows
        self.passed_over: PassedOver | None = None
        self.least_price = min(row.price for row in rows)
        self._together = together
        self._prior_weight = prior_weight
        self._belief, self._waiting, self._suspicion = tastes.belief, tastes.waiting, tastes.suspicion
        self._leave, self._tired, self._rest = tastes.leave, tastes.tired, tastes.rest
        self._may_leave, self._may_rest = self._leave > -math.inf, self._rest > -math.inf
        # Where nobody can leave or rest at will and there is one row, there is nothing to choose.
        self._only_row = rows[0] if len(rows) == 1 and not self._may_leave and not self._may_rest else None

    def follow_prices(self) -> None:
        """Prices have changed."""
        self.least_price = min(row.price for row in self._rows)

    def choose(self, visit: Visit, now: float, avoid: tuple[MachineRow, ...]) -> MachineRow | str:
        """Where to go: a row of machines other than those to avoid, "rest", or a reason to leave."""
        allowance = visit.allowance
        if allowance is not None:
            visit.wallet += allowance.release(now - visit.arrived)
        wallet = visit.wallet
        only_row = self._only_row
        if only_row is not None and not avoid and wallet >= only_row.price:
            return only_row if only_row.has_room() else "no room"
        if wallet < self.least_price and visit.falls_short(self.least_price, now):
            # Another hour may release more: who can rest may wait for it.
            waits = self._may_rest and allowance is not None and allowance.may_yet_cover(wallet, self.least_price)
            if not waits:
                return visit.last_no
        by_belief, wary, records = self._belief, self._suspicion * visit.suspicion, visit.person.records
        prior_weight = self._prior_weight
        company = visit.company
        friends = company.friends_at(visit) if company is not None else None
        options: list[MachineRow | str] = []
        utilities: list[float] = []
        for row in self._rows:
            if wallet < row.price or (avoid and row in avoid):
                continue
            utility = row.attraction
            if not (row.free or row.gathering):
                if row.line_is_full():
                    continue
                utility -= self._waiting * (row.waiting + 1) / row.working
            title = row.title
            if title is not None:
                record = records.get(title.number)
                utility += by_belief * (prior_weight if record is None else record.weight) - wary
            if friends:
                utility += self._together * friends.get(row, 0)
            options.append(row)
            utilities.append(utility)
        no_room = not options
        if no_room and not self._may_rest:
            return visit.last_no or "no room"
        if self._may_leave:
            options.append("leave")
            utilities.append(self._leave + self._tired * (now - visit.arrived) / visit.stay)
        if self._may_rest:
            options.append("rest")
            utilities.append(self._rest)
        if len(options) == 1:
            return options[0]  # needs no draw
        chosen = options[pick(utilities, next(visit.choice or visit.tap("choice")))]
        if chosen == "leave":
            chosen = visit.last_no or ("no room" if no_room else "had enough" if visit.plays else "found nothing")
        if self.passed_over is not None:
            self.passed_over(visit, now, options, chosen)
        return chosen
