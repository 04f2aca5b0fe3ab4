"""One visit from door to door: choose a machine, wait, play, and in the end leave for a reason."""

from __future__ import annotations

import math
from collections.abc import Generator, Sequence

import simpy

from venue.floor.buy_in import keep_start, wants_another
from venue.floor.context import Context
from venue.floor.door import Door
from venue.floor.ledger import Ledger
from venue.floor.machine import Cabinet, MachineRow, SeatedTogether
from venue.floor.machine_choice import MachineChoice
from venue.floor.pastime import begin_pastime, end_pastime
from venue.floor.process import Steps
from venue.floor.records import REASONS
from venue.floor.seat import Seat
from venue.floor.seating import Seating
from venue.floor.solo_contest import play_alone
from venue.visitors.visit import Leave, Visit, talk

_REASON = {reason: number for number, reason in enumerate(REASONS)}


def visit_steps(context: Context, door: Door, choice: MachineChoice, visit: Visit) -> Steps:
    """The SimPy process of one visit."""
    env, keeps = context.env, context.keeps_offers
    now = env.now
    avoid: tuple[MachineRow, ...] = ()
    before: MachineRow | None = None
    while True:
        if now >= context.closing or now - visit.arrived >= visit.stay or visit.called_home:
            reason = _time_to_go(context, visit, now)
            break
        chosen = choice.choose(visit, now, avoid)
        if isinstance(chosen, str):
            if chosen == "rest":
                avoid = ()
                yield min(context.habits.rest_length, context.closing - now)
                now = env.now
                continue
            reason = chosen
            break
        row = visit.at = chosen
        chosen_at, played = now, visit.plays
        if before is not None and before is not row:
            _note_move(context, visit)
        before = row
        place: Cabinet | Seat | None
        if row.gathering:
            place = _by_friends(row, visit).sit(visit)
        elif row.free:
            place = row.free.pop()
        else:
            place = yield from wait_in_line(context, row, visit)
            now = env.now
            if place is None:
                # Lines given up in one instant add up, so that nobody runs from line to line for ever.
                avoid = (*avoid, row) if now == chosen_at else (row,)
                visit.at = None
                continue
            if isinstance(place, Cabinet) and (now >= context.closing or visit.wallet < row.price):
                _hand_back(context, row, place, visit, now, chosen_at)
                continue
        visit.last_no = ""
        title = row.title
        if isinstance(place, Seat):
            yield _given_up(place)
        elif title is None:
            # One play without a contest; it need not be the last here.
            price = row.price
            length, broken_off = begin_pastime(context, row, place, visit, price, now)
            yield length
            end_pastime(context, row, place, visit, price, broken_off, now)
        elif row.seats == 1:
            # Contests against the computer, one after another until the visitor has enough of the machine.
            seat, goes_on = Seat(visit, row.price), True
            while goes_on:
                yield play_alone(context, row, title, place, seat, now)
                now = env.now
                # NaN, of a contest that was not played to the end, is unlike itself.
                goes_on = seat.result == seat.result and wants_another(context, row, title, seat, now)
            row.release(place, now)
        else:
            seating = Seating(context, row, title, place)
            seat = seating.sit(visit)
            seating.begin()
            yield _given_up(seat)
        now = env.now
        if keeps and visit.plays == played:
            keep_start(context, visit, row, chosen_at, visit.last_no)
        visit.at = None
        visit.rung = 0
        visit.has_promised = False
        if visit.company is not None and context.habits.talk:
            visit.company.talk(context.habits.talk)
        # Those who leave these machines for a reason look for others next.
        avoid = (row,) if visit.last_no else ()
    leave(context, door, visit, now, reason, choice.least_price)


def _time_to_go(context: Context, visit: Visit, now: float) -> str:
    """Which of the three makes a visitor go home: the closing, their time, or their party."""
    if now >= context.closing:
        return "closing time"
    return "time up" if now - visit.arrived >= visit.stay else "party left"


def _note_move(context: Context, visit: Visit) -> None:
    """A visitor changes to other machines, for what made them stop at the last."""
    visit.moved += 1
    because, moved = visit.last_no or "had enough", context.ledger.moved
    moved[because] = moved.get(because, 0) + 1


def _hand_back(
    context: Context, row: MachineRow, cabinet: Cabinet, visit: Visit, now: float, chosen_at: float
) -> None:  # fmt: skip
    """Somebody is called to a machine too late: the venue has closed, or the price has risen above their wallet."""
    row.release(cabinet, now)
    if context.keeps_offers:
        keep_start(context, visit, row, chosen_at, "closing time" if now >= context.closing else "wallet empty")


def _given_up(seat: Seat) -> simpy.Event:
    """The event that a visitor at a machine with several seats stays for."""
    event: simpy.Event = seat.given_up  # type: ignore[assignment]
    return event


def _by_friends(row: MachineRow, visit: Visit) -> SeatedTogether:
    """Those who wait for others at a row: with friends among them, or who have waited longest."""
    company = visit.company
    if company is not None:
        for seated in row.gathering:
            if any(seat.visit.company is company for seat in seated.seats):
                return seated
    return row.gathering[0]


def wait_in_line(
    context: Context, row: MachineRow, visit: Visit
) -> Generator[simpy.Event, None, Cabinet | Seat | None]:  # fmt: skip
    """Stand in the row's line; a cabinet or a seat, or None when patience ran out or the venue closed."""
    env = context.env
    began = env.now
    visit.lines += 1
    ticket = row.join_line(visit, context.habits.patience(visit))
    yield ticket.called
    place: Cabinet | Seat | None = ticket.called.value
    now = env.now
    visit.waited += now - began
    if place is None:
        if now < context.closing:
            visit.gave_up += ticket.reason == "waited too long"
            visit.last_no = ticket.reason
        if context.keeps_offers:
            keep_start(context, visit, row, began, visit.last_no if now < context.closing else "closing time")
    return place


def leave(context: Context, door: Door, visit: Visit, now: float, reason: str, least_price: int) -> None:
    """Through the door: carry suspicion home; the last of a party to go decides with the others about coming back.

    `least_price` is what the cheapest play costs: a wallet that does not hold it is empty.
    """
    ledger, person = context.ledger, visit.person
    person.suspicion = visit.suspicion
    person.suspicion_at = now
    visit.at = None
    left = visit.wallet if visit.allowance is None else visit.allowance.with_held(visit.wallet)
    empty = left < least_price
    ledger.inside -= 1
    ledger.left += 1
    company = visit.company
    if company is None:
        next_visit = math.inf if door.nobody_returns else door.expect_again([Leave(visit, now, reason, empty)], now)
        _keep_row(ledger, door, visit, now, reason, empty, 1, next_visit)
        return
    if not company.say_goodbye(Leave(visit, now, reason, empty)):
        return
    gone = company.gone
    visit.company = None
    company.gone = []  # or the party and its visits would hold each other
    if context.habits.talk:
        _talk_on_the_way_home(gone, context.habits.talk)
    next_visit = math.inf if door.nobody_returns else door.expect_again(gone, now)
    for one in gone:
        _keep_row(ledger, door, one.visit, one.now, one.reason, one.empty, len(gone), next_visit)


def _keep_row(
    ledger: Ledger, door: Door, visit: Visit, now: float, reason: str, empty: bool, party: int, next_visit: float
) -> None:
    """The row of a visit that is over."""
    offers = visit.offers or 1
    number, credits, allowance, till = visit.person.number, visit.credits, visit.allowance, door.till
    ledger.visits.append(
        (
            number, visit.number, party, visit.arrived, now, credits, visit.refunded,
            credits if till is None else till.settle(number, visit.brought, credits), visit.plays,
            visit.finished, visit.wins, visit.offers, visit.taken, visit.lines, visit.gave_up, visit.moved,
            visit.waited, visit.chance_met / offers, visit.closeness_met / offers, visit.suspicion, empty,
            allowance is not None and allowance.was_reached, _REASON[reason], next_visit,
        )
    )  # fmt: skip


def _talk_on_the_way_home(gone: Sequence[Leave], share: float) -> None:
    """What friends say to each other afterwards: what they think of the place goes into their next outing."""
    talk([one.visit for one in gone], share)
    for one in gone:
        one.visit.person.suspicion = one.visit.suspicion
