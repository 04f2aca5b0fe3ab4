"""What a side is made of: who sits on which side, and how strong the sides are."""

from __future__ import annotations

from collections.abc import Sequence

from venue.contest.match import Player
from venue.contest.table import ContestTable
from venue.floor.floor_title import FloorTitle
from venue.floor.machine import MachineRow
from venue.floor.seat import Seat
from venue.visitors.visit import Visit


def line_up_alone(
    row: MachineRow, title: FloorTitle, visit: Visit, skill: float, draw: float
) -> tuple[float, ContestTable]:
    """Skill gap between a visitor and the computer that fills all other seats, and the solved table for it."""
    gap = skill - row.opponent - title.ladder_step * visit.rung
    return gap, title.tables.near(gap, draw, "visitor", "computer")


def line_up(row: MachineRow, title: FloorTitle, seats: Sequence[Seat], draw: float) -> tuple[float, ContestTable]:
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
        opponent += title.ladder_step * seats[0].visit.rung
    gap = (total_a + empty_a * row.opponent) / room_a - (total_b + empty_b * opponent) / room_b
    return gap, title.tables.near(gap, draw, player_a, player_b)


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
