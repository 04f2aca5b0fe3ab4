"""A title as it stands on the floor: its solved contests and the reading of its scoreboard."""

from __future__ import annotations

from venue.contest.table import TitleTables
from venue.floor.offer_log import Margins
from venue.visitors.perception import Scoreboard


class FloorTitle:
    """One title on the floor.

    Attributes
    ----------
    number
        Its place in the scenario.
    tables
        Its contests, solved at the strength of the run.
    periods, pause, close
        Periods of a contest, seconds between two of them, and the largest final margin in points that counts as close.
    ladder_step, rungs
        Skill (log-odds) that the computer side gains for each win in a row against it, and the most steps it takes.
    perceived, closeness
        How visitors read its scoreboard; see `venue.visitors.perception.Scoreboard`.
    offered
        What was offered at its breaks, by margin: a part of the log of offers.
    """

    # What each break asks for lies here, one look away.
    __slots__ = (
        "close", "closeness", "ladder_step", "number", "offered", "pause", "perceived", "periods", "rungs", "tables",
    )  # fmt: skip

    def __init__(self, number: int, tables: TitleTables, offered: Margins) -> None:
        title = tables.title
        self.number = number
        self.tables = tables
        self.periods = title.periods
        self.pause = title.break_length
        self.close = title.close
        self.ladder_step, self.rungs = (title.ladder.step, title.ladder.rungs) if title.ladder else (0.0, 0)
        scoreboard = Scoreboard(title.periods, tables.spread)
        self.perceived, self.closeness = scoreboard.perceived, scoreboard.closeness
        self.offered = offered
