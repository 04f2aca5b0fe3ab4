"""Skill edge kept, over the match-ups that a floor really produced."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from venue.contest.forms import solve
from venue.contest.match import Match, Player
from venue.contest.results import better_side, edge_kept
from venue.contest.table import TitleTables, grid_of
from venue.floor.run import Floor
from venue.scenario.title import Title


class Unaided:
    """Chance that side A wins each title at catch-up strength 0, by grid node; solved once and kept."""

    def __init__(self, titles: dict[str, Title], switches_off: frozenset[str]) -> None:
        self._titles = titles
        self._switches_off = switches_off
        self._known: dict[tuple[str, int, Player, frozenset[str], str | None], float] = {}

    def win(
        self, title: str, node: int, side_b: Player, off: frozenset[str] | None = None, difficulty: str | None = None
    ) -> float:
        """Chance that side A, a visitor, wins at skill gap `node * grid`; `off` are other switches that are off."""
        off = self._switches_off if off is None else off
        key = (title, node, side_b, off, difficulty)
        if key not in self._known:
            design = self._titles[title].at(difficulty)
            match = Match(0.0, node * grid_of(design), "visitor", side_b, off)
            self._known[key] = solve(design, match).win_chance
        return self._known[key]


def once_a_contest(contests: NDArray[np.void]) -> NDArray[np.float64]:
    """What each row counts for, so that a contest counts once: one between visitors has a row for each of them."""
    _, contest, rows = np.unique(contests["contest"], return_inverse=True, return_counts=True)
    counted: NDArray[np.float64] = 1.0 / rows[contest]
    return counted


def skill_edge(floor: Floor, contests: NDArray[np.void], unaided: Unaided) -> float:
    """(better side wins - 1/2) over the same at strength 0, exact, averaged over the contests played.

    NaN when no contest was between unequal sides, or where skill counts for nothing.
    """
    kept = aided = unequal = 0.0
    for row in floor.rows:
        if row.title is None or row.machine.title is None:
            continue
        mine = contests[contests["machines"] == row.number]
        for place, (since, title) in enumerate(row.settings):
            until = row.settings[place + 1][0] if place + 1 < len(row.settings) else np.inf
            those = mine[(mine["began"] >= since) & (mine["began"] < until)]
            more, less, count = _edge(those, title.tables, row.machine.title, unaided)
            aided, kept, unequal = aided + more, kept + less, unequal + count
    return edge_kept(aided, kept, unequal)


def _edge(mine: NDArray[np.void], tables: TitleTables, title: str, unaided: Unaided) -> tuple[float, float, float]:
    """Sums over contests of one setting: better side wins less 1/2, as it is and at strength 0, and unequal ones."""
    kept = aided = unequal = 0.0
    weights = once_a_contest(mine)
    # How a contest began: who joined one against the computer later met a visitor.
    _, contest = np.unique(mine["contest"], return_inverse=True)
    against = np.full(len(mine), np.iinfo(np.int8).max)
    np.minimum.at(against, contest, mine["against"])
    opponents: tuple[Player, Player] = ("computer", "visitor")
    for opponent, those in zip(opponents, (against[contest] == 0, against[contest] > 0), strict=True):
        nodes = np.rint(mine["grid_gap"][those] / tables.grid).astype(int)
        known, places = np.unique(nodes, return_inverse=True)
        counts = np.bincount(places, weights[those], minlength=len(known))
        for node, count in zip(known.tolist(), counts.tolist(), strict=True):
            if node:
                table = tables.at(node, "visitor", opponent)
                aided += count * (better_side(node, table.win_chance) - 0.5)
                alone = unaided.win(title, node, opponent, tables.switches_off, tables.difficulty)
                kept += count * (better_side(node, alone) - 0.5)
                unequal += count
    return aided, kept, unequal
