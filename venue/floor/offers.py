"""Offers made outside of a running contest: a play to who chooses, another contest to who has just finished one,
an open seat to who waits in line."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from venue.contest.table import Break
from venue.floor.allowance import falls_short
from venue.floor.game import Game
from venue.floor.machine_row import MachineRow
from venue.floor.offer_book import UNKNOWN
from venue.floor.seat import Seat, line_up_alone
from venue.visitors.visit import Visit

if TYPE_CHECKING:
    from venue.floor.run import Floor


def wants_another(floor: Floor, row: MachineRow, seat: Seat, now: float) -> bool:
    """Whether a visitor who has just finished a contest buys into another on the same machine, at what it costs now."""
    game: Game = row.game  # type: ignore[assignment]
    visit = seat.visit
    belief = seat.record.belief
    near = game.scoreboard.closeness[seat.margin]
    price, accepts = row.again_won if seat.result == 1.0 else row.again_lost
    seat.price = price
    visit.offers += 1
    visit.chance_met += belief
    visit.closeness_met += near
    if now >= floor.closing:
        visit.last_no = "closing time"
    elif visit.called_home:
        visit.last_no = "party left"
    elif visit.wallet < price and falls_short(visit, price, now):
        pass
    elif now - visit.arrived >= visit.stay:
        visit.last_no = "time up"
    else:
        tired = (now - visit.arrived) / visit.stay
        played, suspicion = visit.plays, visit.suspicion
        draw = next(visit.buy_in or visit.tap("buy_in"))
        if accepts(belief, near, played, suspicion, tired, draw):
            visit.has_promised = True
        else:
            visit.last_no = floor.excuses.why_not(floor.prior_belief - belief, near, played, suspicion, tired)
    if floor.offers.rows is not None:
        # With several seats nobody knows yet who will sit where.
        true = _chance_alone(row, game, visit, seat.record.skill) if row.seats == 1 else UNKNOWN
        floor.offers.keep(visit, row.number, now, "again", price=price, margin=seat.margin, perceived=belief, true=true,
                          because=visit.last_no)  # fmt: skip
    return visit.has_promised


def passed_over(
    floor: Floor, visit: Visit, now: float, options: Sequence[MachineRow | str], chosen: MachineRow | str
) -> None:
    """Keep as rows what a visitor who chose could have started and did not."""
    because = "rested" if chosen == "rest" else chosen if isinstance(chosen, str) else "chose another machine"
    for row in options:
        if isinstance(row, MachineRow) and row is not chosen:
            keep_start(floor, visit, row, now, because)


def keep_start(floor: Floor, visit: Visit, row: MachineRow, now: float, because: str) -> None:
    """Keep as a row a play that was on offer and not begun; `because` says why."""
    game, perceived, true = row.game, UNKNOWN, UNKNOWN
    if game is not None:
        record = visit.person.records.get(game.number)
        perceived = floor.prior_belief if record is None else record.belief
        skill = floor.traits.skill(visit.person) if record is None else record.skill
        if row.seats == 1:  # with several seats nobody knows yet who will sit where
            true = _chance_alone(row, game, visit, skill)
    floor.offers.keep(visit, row.number, now, "start", price=row.price, perceived=perceived, true=true, because=because)


def _chance_alone(row: MachineRow, game: Game, visit: Visit, skill: float) -> float:
    return line_up_alone(row, game, visit, skill, 0.5)[1].win_chance


def joins(floor: Floor, row: MachineRow, visit: Visit, here: Break, side: int) -> bool:
    """Whether a visitor in line buys into an open seat at a break; `here` is how the contest stands."""
    game: Game = row.game  # type: ignore[assignment]
    if visit.wallet < row.price_to_join and falls_short(visit, row.price_to_join, floor.env.now):
        return False
    lead, win = (-here.margin, 1.0 - here.win) if side else (here.margin, here.win)
    record = visit.person.records.get(game.number) or floor.traits.meet(visit.person, game.number)
    chance = game.scoreboard.perceived(lead, here.period, record.score, win, record.experience)
    near = game.scoreboard.closeness[here.margin]
    tired = (floor.env.now - visit.arrived) / visit.stay
    visit.offers += 1
    visit.chance_met += chance
    visit.closeness_met += near
    draw = next(visit.buy_in or visit.tap("buy_in"))
    accepts = row.accepts_join(chance, near, visit.plays, visit.suspicion, tired, draw)
    visit.has_promised = accepts  # taken when it is paid for
    if floor.offers.rows is not None:
        lost = floor.prior_belief - chance
        no = "" if accepts else floor.excuses.why_not(lost, near, visit.plays, visit.suspicion, tired)
        floor.offers.keep(visit, row.number, floor.env.now, "join", price=row.price_to_join, margin=lead,
                          perceived=chance, true=win, because=no)  # fmt: skip
    return accepts
