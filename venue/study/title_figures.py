"""Figures of a title by name, exact: headline results, effective chances, and what holding back would gain.

What can be reached, kept or traded off when a title is tuned. Only what is asked for is solved.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

from venue.contest.best_play import holding_back
from venue.contest.forms import solve
from venue.contest.realised_rates import by_margin
from venue.contest.results import Field, Headline, field, headline, unaided_edge
from venue.contest.transitions import PACE
from venue.errors import InputError
from venue.scenario.load import Loaded
from venue.scenario.title import Title
from venue.scenario.words import nearest
from venue.study.line_ups import NEWCOMERS, Against, design_of, match_ups_of
from venue.study.registry import TITLE_MEASURES
from venue.study.title import match_of
from venue.threads import one_thread

EFFECTIVE, HOLDING_BACK = "effective", "holding_back"
_SIDES = {"A": (0,), "B": (1,)}
_AIM = re.compile(r"\s*(.+?)\s*(>=|<=|=)\s*([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)\s*(%?)\s*")


@dataclass(frozen=True)
class Aim:
    """A figure and what it is to be: so much, at least (">=") or at most ("<=") so much."""

    name: str
    sign: str
    value: float

    def __str__(self) -> str:
        return f"{self.name}{self.sign}{self.value:g}"

    def missed(self, found: float) -> float:
        """By how much a value misses it, 0 where it does not: found less wanted."""
        off = found - self.value
        return off if self.sign == "=" else min(off, 0.0) if self.sign == ">=" else max(off, 0.0)


def names_of(title: Title) -> list[str]:
    """Every figure that a title has."""
    kinds = list(title.attempts) or [PACE]
    rates = [f"{EFFECTIVE}.{kind}{side}" for kind in kinds for side in ("", ".A", ".B")]
    return [*TITLE_MEASURES, *rates, HOLDING_BACK]


def is_share(name: str) -> bool:
    """Whether people see a figure as a percentage."""
    return TITLE_MEASURES[name].is_share if name in TITLE_MEASURES else True


def label(name: str) -> str:
    """What a figure is called in a row's head."""
    if name in TITLE_MEASURES:
        return TITLE_MEASURES[name].label
    if name == HOLDING_BACK:
        return "gain from holding back"
    kind, side = _attempt(name)
    return f"{kind} in effect" + (f", side {side}" if side else "")


def _attempt(name: str) -> tuple[str, str]:
    kind = name.removeprefix(f"{EFFECTIVE}.")
    return (kind[:-2], kind[-1]) if kind[-2:] in (".A", ".B") else (kind, "")


def aims_of(title: Title, texts: Sequence[str], option: str) -> tuple[Aim, ...]:
    """Aims from texts like "close_finishes=0.6" (`--reach`) or "effective.heave<=25 %" (`--keep`).

    Raises
    ------
    InputError
        If a text is none, or its figure is not one of the title's; the message begins with the option.
    """
    example = "close_finishes=0.6" if option == "--reach" else '"better_side_wins>=0.65"'
    found: list[Aim] = []
    for text in texts:
        match = _AIM.fullmatch(text)
        if match is None or (match[2] == "=") != (option == "--reach"):
            raise InputError(f'{option} "{text}": is not of the right form; write it like {option} {example}')
        name = figure_name(title, match[1], option)
        value = float(match[3]) / (100.0 if match[4] and is_share(name) else 1.0)
        if is_share(name) and name != "skill_edge" and not 0 <= value <= 1:
            raise InputError(f'{option} {text}: must lie between 0 and 1; did you mean "{value:g} %"?')
        if any((item.name, item.sign) == (name, match[2]) for item in found):
            raise InputError(f"{option} {name}: is named twice; give one value")
        found.append(Aim(name, match[2], value))
    return tuple(found)


def figure_name(title: Title, name: str, option: str) -> str:
    """The name of a figure of this title; `InputError` if there is none."""
    known = names_of(title)
    if name not in known:
        raise InputError(f"{option} {name}: no such result; {nearest(name, known)}")
    return name


class Figures:
    """The figures of a title as a scenario has it, each solved when it is first asked for."""

    def __init__(self, loaded: Loaded, title: str, against: Against = NEWCOMERS) -> None:
        self._loaded, self._title, self._against = loaded, title, against
        self._off = frozenset(loaded.scenario.study.switches_off)

    @property
    def design(self) -> Title:
        """The title."""
        return design_of(self._loaded, self._title, self._against)

    @cached_property
    def _field(self) -> Field:
        match_ups = match_ups_of(self._loaded, self._title, self._against)
        return field(self.design, match_ups, self._loaded.scenario.study.strength, self._off)

    @cached_property
    def _edge(self) -> float:
        return unaided_edge(self.design, match_ups_of(self._loaded, self._title, self._against), self._off)

    @cached_property
    def _headline(self) -> Headline:
        return headline(self.design, self._field, 0.0)

    @cached_property
    def _rates(self) -> dict[str, float]:
        tables = by_margin(self.design, self._field)
        found = {}
        for kind in {table.attempt for table in tables}:
            for side, sides in (("", (0, 1)), *((f".{name}", sides) for name, sides in _SIDES.items())):
                mine = [table for table in tables if table.attempt == kind and table.side in sides]
                tried = sum(float(table.tried.sum()) for table in mine)
                made = sum(float(table.made.sum()) for table in mine)
                found[f"{EFFECTIVE}.{kind}{side}"] = made / tried if tried else math.nan
        return found

    @cached_property
    def _held_back(self) -> float:
        with one_thread():
            contest = solve(self.design, match_of(self._loaded, self._title, self._against))
            return max(0.0, holding_back(contest) - contest.win_chance)

    def __getitem__(self, name: str) -> float:
        """A figure by its name."""
        if name == "skill_edge":
            return (self["better_side_wins"] - 0.5) / self._edge if abs(self._edge) > 1e-12 else math.nan
        if name in TITLE_MEASURES:
            return float(getattr(self._headline, name))
        return self._held_back if name == HOLDING_BACK else self._rates[name]

    def items(self, names: Sequence[str]) -> Iterator[tuple[str, float]]:
        """Several figures by name."""
        return ((name, self[name]) for name in names)
