"""The occasions on which a visitor is asked to buy in; all of them put the question to `Offer.refusal`.

A visitor is offered the next period at a break, another contest after one, and an open seat while in line. What was
offered is counted and, on request, kept; a play that is chosen from the hall is an offer too, taken by being chosen.
"""

from __future__ import annotations

from collections.abc import Sequence

from venue.contest.table import Break
from venue.floor.context import Context
from venue.floor.floor_title import FloorTitle
from venue.floor.machine import MachineRow
from venue.floor.offer_log import UNKNOWN
from venue.floor.seat import Seat
from venue.floor.sides import line_up_alone
from venue.visitors.visit import Visit


def wants_another(context: Context, row: MachineRow, title: FloorTitle, seat: Seat, now: float) -> bool:
    """Whether a visitor who has just finished a contest buys into another on the same machine, at what it costs now."""
    visit, belief = seat.visit, seat.record.belief
    offer = row.again_won if seat.result == 1.0 else row.again_lost
    near = title.closeness[seat.margin]
    because = offer.refusal(visit, now, context.closing, belief, near, context.habits.prior_belief)
    seat.price = offer.price
    if because:
        visit.last_no = because
    else:
        visit.has_promised = True
    if context.keeps_offers:
        # With several seats nobody knows yet who will sit where.
        true = _chance_alone(row, title, visit, seat.record.skill) if row.seats == 1 else UNKNOWN
        context.ledger.offers.keep(visit, row.number, now, "again", offer.price, margin=seat.margin, perceived=belief,
                                   true=true, because=because)  # fmt: skip
    return not because


def joins(context: Context, row: MachineRow, title: FloorTitle, visit: Visit, here: Break, side: int) -> bool:
    """Whether a visitor in line buys into an open seat at a break; `here` is how the contest stands."""
    offer, now = row.join, context.env.now
    if visit.wallet < offer.price and visit.falls_short(offer.price, now):
        return False
    lead, win = (-here.margin, 1.0 - here.win) if side else (here.margin, here.win)
    record = visit.person.records.get(title.number) or context.habits.traits.meet(visit.person, title.number)
    chance = title.perceived(lead, here.period, record.score, win, record.experience)
    near = title.closeness[lead]
    because = offer.refusal(visit, now, context.closing, chance, near, context.habits.prior_belief)
    visit.has_promised = not because
    if context.keeps_offers:
        context.ledger.offers.keep(visit, row.number, now, "join", offer.price, margin=lead, perceived=chance,
                                   true=win, because=because)  # fmt: skip
    return not because


class PassedOver:
    """Keeps as rows what visitors who chose could have started and did not."""

    def __init__(self, context: Context) -> None:
        self._context = context

    def __call__(
        self, visit: Visit, now: float, options: Sequence[MachineRow | str], chosen: MachineRow | str
    ) -> None:  # fmt: skip
        """Of all options one was chosen, or the reason to leave given."""
        because = "rested" if chosen == "rest" else chosen if isinstance(chosen, str) else "chose another machine"
        for row in options:
            if isinstance(row, MachineRow) and row is not chosen:
                keep_start(self._context, visit, row, now, because)


def keep_start(context: Context, visit: Visit, row: MachineRow, now: float, because: str) -> None:
    """Keep as a row a play that was on offer and not begun; `because` says why."""
    title, perceived, true = row.title, UNKNOWN, UNKNOWN
    if title is not None:
        record = visit.person.records.get(title.number)
        perceived = context.habits.prior_belief if record is None else record.belief
        skill = context.habits.traits.skill(visit.person) if record is None else record.skill
        if row.seats == 1:  # with several seats nobody knows yet who will sit where
            true = _chance_alone(row, title, visit, skill)
    context.ledger.offers.keep(visit, row.number, now, "start", row.price, perceived=perceived, true=true,
                               because=because)  # fmt: skip


def _chance_alone(row: MachineRow, title: FloorTitle, visit: Visit, skill: float) -> float:
    return line_up_alone(row, title, visit, skill, 0.5)[1].win_chance
