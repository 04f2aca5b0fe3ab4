"""Who meets whom at a title: the line-ups that the machines of a floor can make, and the skill gaps that result.

A side is as strong as its seats on average, and a seat where nobody sits is played by the computer (as on the floor:
`venue.floor.sides`). Skills are those of newcomers, before practice.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from venue.contest.match import Player
from venue.contest.results import MatchUps
from venue.errors import InputError
from venue.scenario.load import Loaded
from venue.scenario.machine import Machine
from venue.scenario.title import Title
from venue.scenario.words import nearest

COMPUTER, VISITOR, TWO = "computer", "visitor", "two a side"
OPPONENTS = (COMPUTER, VISITOR, TWO)
# Widest gap of skills that is studied, in log-odds.
_WIDEST = 20.0


@dataclass(frozen=True)
class Against:
    """Whom a title is studied against, where it is not what its first machines make of it.

    Attributes
    ----------
    gap
        One gap of skills, in log-odds, instead of those that the scenario's people bring.
    opponent
        "computer", "visitor" or "two a side".
    difficulty
        One of the title's difficulties.
    """

    gap: float | None = None
    opponent: str | None = None
    difficulty: str | None = None


NEWCOMERS = Against()


@dataclass(frozen=True)
class LineUp:
    """One way in which a floor fills the seats of a title.

    Attributes
    ----------
    machines
        Keys of the rows of machines where it happens.
    visitors
        Visitors on side A and on side B.
    seats
        Seats of side A and of side B.
    difficulty
        Difficulty of the machines; None where there is none, or it makes no difference.
    match_ups
        The gaps of skills.
    weight
        Share of the title's contests; see `line_ups_of`.
    """

    machines: tuple[str, ...]
    visitors: tuple[int, int]
    seats: tuple[int, int]
    difficulty: str | None
    match_ups: MatchUps
    weight: float

    @property
    def kind(self) -> object:
        """Equal for those that are the same contest."""
        return self.visitors, self.seats, self.difficulty

    @property
    def has_computer(self) -> bool:
        """Whether the computer plays a seat."""
        return self.visitors != self.seats


def line_ups_of(loaded: Loaded, title: str) -> tuple[LineUp, ...]:
    """Every line-up that the floor makes of a title, the fullest of the first machines first.

    Its weight is that of its machines, by cabinets. How often a machine with several seats has which of its line-ups
    depends on who comes and is known from a run only; here they count alike.
    """
    rows = {key: row for key, row in loaded.scenario.machines.items() if row.title == title}
    cabinets = sum(row.count for row in rows.values())
    found: dict[object, LineUp] = {}
    for key, row in rows.items():
        fillings = _fillings(row, company=_has_company(loaded))
        for visitors in fillings:
            share = row.count / cabinets / len(fillings)
            new = _line_up(loaded, title, (key,), visitors, _sides(row), row.difficulty, share)
            known = found.get(new.kind)
            found[new.kind] = new if known is None else replace(
                known, machines=(*known.machines, key), weight=known.weight + share)  # fmt: skip
    return tuple(found.values())


def match_ups_of(loaded: Loaded, title: str, against: Against = NEWCOMERS) -> MatchUps:
    """Skill gaps at a title as newcomers bring them, before practice; or as `against` asks.

    Raises
    ------
    InputError
        If the gap is out of bounds, or there is no such opponent or difficulty.
    """
    line_up = line_up_of(loaded, title, against)
    if against.gap is None:
        return line_up.match_ups
    if not -_WIDEST <= against.gap <= _WIDEST:
        raise InputError(
            f"gap = {against.gap:g}: must lie between -20 and 20 log-odds; 0.4 takes an even chance to 60 %"
        )
    return MatchUps(against.gap, 0.0, line_up.match_ups.side_b)


def design_of(loaded: Loaded, title: str, against: Against = NEWCOMERS) -> Title:
    """The title as it is at the difficulty that is studied: the first machines' own, or as `against` asks."""
    row = next((row for row in loaded.scenario.machines.values() if row.title == title), None)
    return loaded.scenario.titles[title].at(against.difficulty or (None if row is None else row.difficulty))


def line_up_of(loaded: Loaded, title: str, against: Against = NEWCOMERS) -> LineUp:
    """The line-up that is studied: the fullest of the first machines that play a title, or as `against` asks.

    Raises
    ------
    InputError
        If there is no such opponent or difficulty.
    """
    design = loaded.scenario.titles[title]
    row = next(row for row in loaded.scenario.machines.values() if row.title == title)
    if against.difficulty is not None and against.difficulty not in design.difficulties:
        known = nearest(against.difficulty, design.difficulties)
        raise InputError(f'--difficulty "{against.difficulty}": {title} has no such difficulty; {known}')
    difficulty = against.difficulty or row.difficulty
    seats, visitors = _sides(row), _fillings(row, company=False)[0]
    if against.opponent is not None:
        if against.opponent not in OPPONENTS:
            raise InputError(f'--opponent "{against.opponent}": {nearest(against.opponent, OPPONENTS)}')
        seats = (2, 2) if against.opponent == TWO else seats
        visitors = {COMPUTER: (1, 0), VISITOR: (1, 1), TWO: (2, 2)}[against.opponent]
    return _line_up(loaded, title, (), visitors, seats, difficulty, 1.0)


def _sides(row: Machine) -> tuple[int, int]:
    """Seats of side A, which has the odd one, and of side B."""
    return (row.seats + 1) // 2, max(1, row.seats // 2)


def _has_company(loaded: Loaded) -> bool:
    """Whether friends may come together and sit on one side."""
    party = loaded.scenario.people.party
    return party.same_side > 0.0 and any(size > 1 and share > 0.0 for size, share in party.sizes.items())


def _fillings(row: Machine, *, company: bool) -> list[tuple[int, int]]:
    """How many visitors may sit on either side when a contest begins, the most first."""
    room_a, room_b = _sides(row)
    if row.seats == 1:
        return [(1, 0)]
    # One after the other they sit down where fewer sit, side A first.
    found = [((count + 1) // 2, count // 2) for count in range(row.seats, 0, -1)]
    if row.alone == "wait":
        found.remove((1, 0))
    if company and room_a > 1:
        found.append((2, 0))
    return [filling for filling in found if filling[0] <= room_a and filling[1] <= room_b]


def _line_up(
    loaded: Loaded, title: str, machines: tuple[str, ...], visitors: tuple[int, int], seats: tuple[int, int],
    difficulty: str | None, weight: float,
) -> LineUp:  # fmt: skip
    """A line-up with its gaps: means of the seats of each side, one less the other."""
    skill, design = loaded.scenario.people.skill, loaded.scenario.titles[title]
    computer = design.opponent_at(difficulty)
    if visitors == seats and design.at(difficulty) is design:
        difficulty = None  # nobody sits opposite whom it makes stronger, and no rule goes by it
    parts = [sat / room for sat, room in zip(visitors, seats, strict=True)]
    mean = (parts[0] - parts[1]) * skill.mean + (parts[1] - parts[0]) * computer
    spread = skill.sd * math.sqrt(sum(sat / room**2 for sat, room in zip(visitors, seats, strict=True)))
    side_b: Player = "visitor" if visitors[1] else "computer"
    return LineUp(machines, visitors, seats, difficulty, MatchUps(mean, spread, side_b), weight)
