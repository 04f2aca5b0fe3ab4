"""One visit from door to door: choose a machine, wait, play, and in the end leave for a reason."""

from __future__ import annotations

import math
from collections.abc import Generator
from typing import TYPE_CHECKING

import simpy

from venue.floor.contest import NO_RESULT, Seat, contest
from venue.floor.machine_row import IN_PLAY, Cabinet, MachineRow
from venue.floor.walk import Steps, Walk
from venue.players.person import Person, Visit
from venue.units import HOUR

if TYPE_CHECKING:
    from venue.floor.run import Floor


class LoneSeat:
    """A visitor at a two-seat machine who waits for somebody to sit down opposite."""

    __slots__ = ("cabinet", "met", "settled", "visit")

    def __init__(self, visit: Visit, cabinet: Cabinet, env: simpy.Environment) -> None:
        self.visit = visit
        self.cabinet = cabinet
        self.met: simpy.Event = env.event()
        # True once the wait has ended, or somebody is on the way to the other seat.
        self.settled = False

    def called_off(self) -> None:
        """Stop waiting: nobody came in time."""
        if not self.settled:
            self.settled = True
            self.cabinet.row.no_longer_alone(self.cabinet)
            self.met.succeed(None)


def visit_steps(floor: Floor, person: Person) -> Steps:
    """The SimPy process of one visit."""
    env, choosing = floor.env, floor.choosing
    now = env.now
    visit = floor.traits.begin_visit(person, now)
    floor.inside += 1
    avoid: tuple[MachineRow, ...] = ()
    wanted: MachineRow | None = None
    while True:
        if now >= floor.closing:
            reason = "closing time"
            break
        if now - visit.arrived >= visit.stay:
            reason = "time up"
            break
        if wanted is not None and wanted.has_room():
            choice: MachineRow | str = wanted
        else:
            visit.has_promised = False
            visit.rung = 0
            choice = choosing.choose(visit, now, avoid)
        wanted = None
        if isinstance(choice, str):
            if choice == "rest":
                avoid = ()
                yield env.timeout(min(floor.rest_length, floor.closing - now))
                now = env.now
                continue
            reason = choice
            break
        row = choice
        if row.lone:
            cabinet = row.lone[0]
        elif row.free:
            cabinet = row.free.pop()
        else:
            came = now
            found = yield from wait_in_line(floor, row, visit)
            now = env.now
            if found is None:
                # Lines given up in one instant add up, so that nobody runs from line to line for ever.
                avoid = (*avoid, row) if now == came else (row,)
                continue
            cabinet = found
            if now >= floor.closing:
                row.release(cabinet, now)
                continue
        visit.last_no = ""
        # Whoever leaves these machines looks for others next.
        avoid = (row,)
        if row.game is None:
            # One play without a contest; it need not be the last here.
            avoid = ()
            length, price = row.play_time(visit), row.price
            cabinet.turn(IN_PLAY, now)
            visit.wallet -= price
            visit.credits += price
            visit.plays += 1
            row.by_hour[int(now // HOUR)] += price
            yield env.timeout(length)
            began, now = now, now + length
            floor.plays.append(
                (person.number, visit.number, row.number, began, now, price, 1, -1, NO_RESULT, NO_RESULT,
                 NO_RESULT, NO_RESULT, 0, NO_RESULT, NO_RESULT, NO_RESULT)
            )  # fmt: skip
            row.release(cabinet, now)
        elif row.seats == 1:
            # Contests against the computer, one after another until the visitor has enough of the machine.
            while True:
                stopped, margin = yield from contest(floor, row, cabinet, [Seat(visit, 0)])
                now = env.now
                if stopped or not wants_another(floor, row, visit, margin, now):
                    break
            row.release(cabinet, now)
        else:
            again = yield from opposite(floor, row, cabinet, visit)
            wanted = row if again else None
            now = env.now
    leave(floor, visit, now, reason)


def wait_in_line(floor: Floor, row: MachineRow, visit: Visit) -> Generator[simpy.Event, None, Cabinet | None]:
    """Stand in the row's line; a cabinet, or None when patience ran out or the venue closed."""
    began = floor.env.now
    visit.lines += 1
    called = row.join_line(floor.patience(visit)).called
    yield called
    cabinet: Cabinet | None = called.value
    visit.waited += floor.env.now - began
    if cabinet is None and floor.env.now < floor.closing:
        visit.gave_up += 1
        visit.last_no = "waited too long"
    return cabinet


def wants_another(floor: Floor, row: MachineRow, visit: Visit, margin: int, now: float) -> bool:
    """Whether a visitor who has just finished a contest buys into another on the same machine."""
    game = row.game
    if game is None:
        return False
    belief = visit.person.records[game.number].belief
    near = game.scoreboard.closeness[margin]
    visit.offers += 1
    visit.chance_met += belief
    visit.closeness_met += near
    if now >= floor.closing:
        visit.last_no = "closing time"
    elif visit.wallet < row.price:
        visit.last_no = "wallet empty"
    elif now - visit.arrived >= visit.stay:
        visit.last_no = "time up"
    else:
        tired = (now - visit.arrived) / visit.stay
        played, suspicion = visit.plays, visit.suspicion
        draw = next(visit.buy_in or visit.tap("buy_in"))
        if row.accepts_again(belief, near, played, suspicion, tired, draw):
            visit.has_promised = True
            return True
        visit.last_no = floor.excuses.why_not(floor.prior_belief - belief, near, played, suspicion, tired)
    return False


def opposite(floor: Floor, row: MachineRow, cabinet: Cabinet, visit: Visit) -> Generator[simpy.Event, None, bool]:
    """A contest at a two-seat machine; returns whether the visitor wants another there.

    The first to sit down waits for an opponent. If none comes, the computer takes the other seat, or the visitor
    gives up waiting, as the machine says.
    """
    env = floor.env
    lone: LoneSeat | None = cabinet.lone
    if lone is None:
        lone = LoneSeat(visit, cabinet, env)
        began = env.now
        limit: float | None = row.machine.wait_for_opponent
        if row.machine.alone == "wait":
            limit = floor.patience(visit)
        row.seat_alone(cabinet, lone)
        if limit is not None and not lone.settled:
            timeout = env.timeout(limit)
            if timeout.callbacks is not None:
                timeout.callbacks.append(lambda _: lone.called_off())
        yield lone.met
        done: simpy.Event | None = lone.met.value
        visit.waited += env.now - began
        if done is None:
            closed = env.now >= floor.closing
            if row.machine.alone == "wait" or closed:
                visit.last_no = "closing time" if closed else "waited too long"
                row.release(cabinet, env.now)
                return False
            reason, margin = yield from contest(floor, row, cabinet, [Seat(visit, 0)])
            row.release(cabinet, env.now)
            return not reason and wants_another(floor, row, visit, margin, env.now)
        yield done
        margin = _margin(done)
    else:
        lone.settled = True
        row.no_longer_alone(cabinet)
        first, second = env.event(), env.event()
        lone.met.succeed(first)
        seats = [Seat(lone.visit, 0, first), Seat(visit, 1, second)]
        Walk(_duel(floor, row, cabinet, seats))
        yield second
        margin = _margin(second)
    return not visit.last_no and wants_another(floor, row, visit, margin, env.now)


def _margin(done: simpy.Event) -> int:
    margin: int = done.value  # type: ignore[assignment]
    return margin


def _duel(floor: Floor, row: MachineRow, cabinet: Cabinet, seats: list[Seat]) -> Steps:
    yield from contest(floor, row, cabinet, seats)
    row.release(cabinet, floor.env.now)


def leave(floor: Floor, visit: Visit, now: float, reason: str) -> None:
    """Through the door: carry suspicion home, decide about coming back, keep the row."""
    person = visit.person
    person.suspicion = visit.suspicion
    person.suspicion_at = now
    empty = visit.wallet < floor.least_price
    next_visit = math.inf if floor.nobody_returns else floor.expect_again(visit, empty, now)
    offers = max(visit.offers, 1)
    floor.visits.append(
        (
            person.number, visit.number, visit.arrived, now, visit.credits, visit.plays, visit.finished,
            visit.wins, visit.offers, visit.taken, visit.lines, visit.gave_up, visit.waited, visit.chance_met / offers,
            visit.closeness_met / offers, visit.suspicion, empty, floor.reason_number[reason], next_visit,
        )
    )  # fmt: skip
    floor.inside -= 1
    floor.left += 1
