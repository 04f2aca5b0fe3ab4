"""A title on the floor."""

from __future__ import annotations

from venue.contest.table import TitleTables
from venue.visitors.perception import Scoreboard


class Game:
    """A title as the floor uses it: its solved tables at one strength and the reading of its scoreboard."""

    def __init__(self, number: int, tables: TitleTables) -> None:
        title = tables.title
        self.number = number
        self.tables = tables
        self.periods = title.periods
        self.pause = title.break_length
        self.close = title.close
        # How the computer side steps up with each win in a row against it.
        self.ladder_step, self.rungs = (title.ladder.step, title.ladder.rungs) if title.ladder else (0.0, 0)
        self.scoreboard = Scoreboard(title.periods, tables.spread)
