"""One visit from door to door: choose a machine, wait, play, and in the end leave for a reason."""

from __future__ import annotations

import math
from collections.abc import Generator, Sequence
from typing import TYPE_CHECKING

import simpy

from venue.floor.alone import play_alone
from venue.floor.cabinet import IN_PLAY, Cabinet
from venue.floor.group import Group
from venue.floor.machine_row import MachineRow
from venue.floor.offers import keep_start, wants_another
from venue.floor.process import Steps
from venue.floor.refund import refund
from venue.floor.seat import NO_RESULT, Seat
from venue.units import HOUR
from venue.visitors.visit import Leave, Visit, talk

if TYPE_CHECKING:
    from venue.floor.run import Floor


def visit_steps(floor: Floor, visit: Visit) -> Steps:
    """The SimPy process of one visit."""
    env, choosing, keeps = floor.env, floor.choosing, floor.offers.rows is not None
    now = env.now
    avoid: tuple[MachineRow, ...] = ()
    before: MachineRow | None = None
    while True:
        if now >= floor.closing:
            reason = "closing time"
            break
        if now - visit.arrived >= visit.stay:
            reason = "time up"
            break
        if visit.called_home:
            reason = "party left"
            break
        choice = choosing.choose(visit, now, avoid)
        if isinstance(choice, str):
            if choice == "rest":
                avoid = ()
                yield min(floor.rest_length, floor.closing - now)
                now = env.now
                continue
            reason = choice
            break
        row = visit.at = choice
        chosen_at, played = now, visit.plays
        if before is not None and before is not row:
            visit.moved += 1
            because = visit.last_no or "had enough"
            floor.moved[because] = floor.moved.get(because, 0) + 1
        before = row
        place: Cabinet | Seat | None
        if row.lone:
            place = _beside_friends(row, visit).group.sit(visit)
        elif row.free:
            place = row.free.pop()
        else:
            came = now
            place = yield from wait_in_line(floor, row, visit)
            now = env.now
            if place is None:
                if keeps:
                    because = visit.last_no if now < floor.closing else "closing time"
                    keep_start(floor, visit, row, chosen_at, because)
                # Lines given up in one instant add up, so that nobody runs from line to line for ever.
                avoid = (*avoid, row) if now == came else (row,)
                visit.at = None
                continue
            if isinstance(place, Cabinet) and (now >= floor.closing or visit.wallet < row.price):
                row.release(place, now)
                if keeps:
                    keep_start(floor, visit, row, chosen_at, "closing time" if now >= floor.closing else "wallet empty")
                continue
        visit.last_no = ""
        if row.game is None:
            # One play without a contest; it need not be the last here.
            cabinet: Cabinet = place  # type: ignore[assignment]
            length, price, back, wear = row.play_time(visit), row.price, 0, cabinet.wear
            if wear is not None:
                fails_at = max(now, wear.begin(now, length))
                if now + length > fails_at:
                    length, back = fails_at - now, price
                    cabinet.has_failed = True
                    visit.last_no = "machine failed"
            cabinet.turn(IN_PLAY, now)
            visit.wallet -= price
            visit.credits += price
            visit.plays += 1
            row.by_hour[int(now // HOUR)] += price - back
            if floor.offers.rows is not None:
                floor.offers.keep(visit, row.number, now, "start", price=price)
            yield length
            began, now, refunded = now, env.now, 0
            if wear is not None:
                wear.end(now)
                refunded = refund(cabinet, visit, price, price, 1, back)
            floor.plays.append(
                (visit.person.number, visit.number, row.number, -1, began, now, price - back, refunded, 1, -1, 0,
                 NO_RESULT, NO_RESULT, NO_RESULT, NO_RESULT, 0, NO_RESULT, NO_RESULT, NO_RESULT)
            )  # fmt: skip
            row.release(cabinet, now)
        elif row.seats == 1:
            # Contests against the computer, one after another until the visitor has enough of the machine.
            cabinet = place  # type: ignore[assignment]
            seat = Seat(visit, row.price)
            goes_on = True
            while goes_on:
                yield play_alone(floor, row, cabinet, seat, now)
                now = env.now
                # NaN, of a contest that was not played to the end, is unlike itself.
                goes_on = seat.result == seat.result and wants_another(floor, row, seat, now)
            row.release(cabinet, now)
        else:
            yield from _sit_together(floor, row, place, visit)
            now = env.now
        if keeps and visit.plays == played:
            keep_start(floor, visit, row, chosen_at, visit.last_no)
        visit.at = None
        visit.rung = 0
        visit.has_promised = False
        if visit.company is not None and floor.talk:
            visit.company.talk(floor.talk)
        # Whoever leaves these machines for a reason looks for others next.
        avoid = (row,) if visit.last_no else ()
    leave(floor, visit, now, reason)


def _sit_together(floor: Floor, row: MachineRow, place: Cabinet | Seat, visit: Visit) -> Steps:
    """At a machine with several seats: sit down, and stay until the visitor gets up."""
    if isinstance(place, Cabinet):
        group = Group(floor, row, place)
        seat = group.sit(visit)
        group.begin()
    else:
        seat = place
    up: simpy.Event = seat.up  # type: ignore[assignment]
    yield up


def _beside_friends(row: MachineRow, visit: Visit) -> Cabinet:
    """Where people wait for others at a row: with friends, or where they have waited longest."""
    company = visit.company
    if company is not None:
        for cabinet in row.lone:
            if any(seat.visit.company is company for seat in cabinet.group.seats):
                return cabinet
    return row.lone[0]


def wait_in_line(floor: Floor, row: MachineRow, visit: Visit) -> Generator[simpy.Event, None, Cabinet | Seat | None]:
    """Stand in the row's line; a cabinet or a seat, or None when patience ran out or the venue closed."""
    began = floor.env.now
    visit.lines += 1
    ticket = row.join_line(visit, floor.patience(visit))
    yield ticket.called
    place: Cabinet | Seat | None = ticket.called.value
    visit.waited += floor.env.now - began
    if place is None and floor.env.now < floor.closing:
        visit.gave_up += ticket.reason == "waited too long"
        visit.last_no = ticket.reason
    return place


def leave(floor: Floor, visit: Visit, now: float, reason: str) -> None:
    """Through the door: carry suspicion home; the last of a party to go decides with the others about coming back."""
    person = visit.person
    person.suspicion = visit.suspicion
    person.suspicion_at = now
    visit.at = None
    left = visit.wallet if visit.allowance is None else visit.allowance.with_held(visit.wallet)
    empty = left < floor.choosing.least_price
    floor.inside -= 1
    floor.left += 1
    company = visit.company
    if company is None:
        stays_away = floor.nobody_returns
        next_visit = math.inf if stays_away else floor.expect_again([Leave(visit, now, reason, empty)], now)
        _keep_row(floor, visit, now, reason, empty, 1, next_visit)
        return
    if not company.say_goodbye(Leave(visit, now, reason, empty)):
        return
    gone = company.gone
    visit.company = None
    company.gone = []  # or the party and its visits would hold each other
    if floor.talk:
        _talk_on_the_way_home(gone, floor.talk)
    next_visit = math.inf if floor.nobody_returns else floor.expect_again(gone, now)
    for one in gone:
        _keep_row(floor, one.visit, one.now, one.reason, one.empty, len(gone), next_visit)


def _keep_row(floor: Floor, visit: Visit, now: float, reason: str, empty: bool, party: int, next_visit: float) -> None:
    """The row of a visit that is over."""
    offers = visit.offers or 1
    number, credits, allowance, till = visit.person.number, visit.credits, visit.allowance, floor.till
    floor.visits.append(
        (
            number, visit.number, party, visit.arrived, now, credits, visit.refunded,
            credits if till is None else till.settle(number, visit.brought, credits), visit.plays,
            visit.finished, visit.wins, visit.offers, visit.taken, visit.lines, visit.gave_up, visit.moved,
            visit.waited, visit.chance_met / offers, visit.closeness_met / offers, visit.suspicion, empty,
            allowance is not None and allowance.was_reached, floor.reason_number[reason], next_visit,
        )
    )  # fmt: skip


def _talk_on_the_way_home(gone: Sequence[Leave], share: float) -> None:
    """What friends say to each other afterwards: what they think of the place goes into their next outing."""
    talk([one.visit for one in gone], share)
    for one in gone:
        one.visit.person.suspicion = one.visit.suspicion
