"""A visitor in a seat, and what a side is made of: the seats that score together."""

from __future__ import annotations

import math
from collections.abc import Sequence

import simpy

from venue.contest.match import Player
from venue.contest.table import ContestTable
from venue.floor.game import Game
from venue.floor.machine_row import MachineRow
from venue.visitors.person import Record
from venue.visitors.visit import Visit

NO_RESULT = math.nan


# How a visitor's part in a contest began: when (in seconds from the start of the run), after how many periods, and with
# what skill gap and chance to win for side A.
Part = tuple[float, int, float, float]


class Seat:
    """A visitor at a machine.

    Attributes
    ----------
    price
        Credits that the visitor pays first: for the contest that begins, or for the period they join in.
    since
        Where a machine has several seats: since when the visitor has waited in it for others.
    side
        0 for side A, 1 for side B.
    up
        Where a machine has several seats: fires when the visitor gets up.
    record, belief, part
        What the visitor has seen of the title, the chance they believed in, and how things stood when their part began.
    against, beside
        Visitors on the other side then, and others on their own.
    result
        1 won, 0 lost, 0.5 level; NaN if the visitor did not play to the end.
    margin
        Points ahead, for this visitor, when their part ended.
    """

    __slots__ = (
        "against", "belief", "beside", "margin", "part", "price", "record", "result", "side", "since", "up", "visit",
    )  # fmt: skip

    def __init__(self, visit: Visit, price: int, up: simpy.Event | None = None, since: float = 0.0) -> None:
        self.visit = visit
        self.price = price
        self.up = up
        self.since = since
        self.side = self.against = self.beside = 0
        # What is known when their part begins is set by it.
        self.record: Record
        self.belief: float
        self.part: Part
        self.result: float
        self.margin: int

    def get_up(self) -> None:
        """The visitor leaves the seat."""
        if self.up is not None:
            self.up.succeed()


def line_up_alone(row: MachineRow, game: Game, visit: Visit, skill: float, draw: float) -> tuple[float, ContestTable]:
    """Skill gap between a visitor and the computer that fills all other seats, and the solved table for it."""
    gap = skill - row.opponent - game.ladder_step * visit.rung
    return gap, game.tables.near(gap, draw, "visitor", "computer")


def line_up(row: MachineRow, game: Game, seats: Sequence[Seat], draw: float) -> tuple[float, ContestTable]:
    """Skill gap between the sides as they are seated now, and the solved table for it.

    A side is as strong as its seats on average; a seat where nobody sits is played by the computer.
    """
    room_a, room_b = row.sides
    total_a, total_b = 0.0, 0.0
    player_a: Player = "computer"
    player_b: Player = "computer"
    empty_a, empty_b = room_a, room_b
    for seat in seats:
        if seat.side == 0:
            total_a, player_a = total_a + seat.record.skill, "visitor"
            empty_a -= 1
        else:
            total_b, player_b = total_b + seat.record.skill, "visitor"
            empty_b -= 1
    opponent = row.opponent
    if player_b == "computer":
        opponent += game.ladder_step * seats[0].visit.rung
    gap = (total_a + empty_a * row.opponent) / room_a - (total_b + empty_b * opponent) / room_b
    return gap, game.tables.near(gap, draw, player_a, player_b)


def side_for(visit: Visit, seats: Sequence[Seat], sides: tuple[int, int]) -> int:
    """The side a visitor sits down on: by a friend or opposite, as the party likes, else where fewer visitors sit."""
    taken = [0, 0]
    for seat in seats:
        taken[seat.side] += 1
    company = visit.company
    if company is not None:
        for seat in seats:
            if seat.visit.company is company:
                wanted = seat.side if company.same_side else 1 - seat.side
                if taken[wanted] < sides[wanted]:
                    return wanted
                break
    if taken[0] >= sides[0]:
        return 1
    return int(taken[1] < min(taken[0], sides[1]))


def arrange(seats: Sequence[Seat], sides: tuple[int, int]) -> None:
    """Seat the visitors for a new contest, in the order in which they sat down."""
    if len(seats) == 1:
        seats[0].side = 0
        return
    for place, seat in enumerate(seats):
        seat.side = side_for(seat.visit, seats[:place], sides)
