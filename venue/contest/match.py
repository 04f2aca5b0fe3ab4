"""Who plays, and how a title is set up for them: the part of a contest that the title's file does not fix."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from venue.scenario.title import Title

Player = Literal["visitor", "computer"]


@dataclass(frozen=True)
class Match:
    """One way to play a title.

    Attributes
    ----------
    strength
        Catch-up strength, the dial that scales all scalable rules: 0 off, 1 as designed.
    gap
        Skill of side A less skill of side B, in log-odds.
    side_a, side_b
        Who plays each side; rules may serve only visitors or only the computer.
    switches_off
        Operator switches that are off; the rules behind them do nothing.
    team_a, team_b
        Teams of the title's roster that the sides play; the title's own for whoever plays the side, if left out.
    """

    strength: float = 1.0
    gap: float = 0.0
    side_a: Player = "visitor"
    side_b: Player = "computer"
    switches_off: frozenset[str] = frozenset()
    team_a: str | None = None
    team_b: str | None = None

    def player(self, side: int) -> Player:
        """Who plays side 0 (A) or side 1 (B)."""
        return self.side_a if side == 0 else self.side_b

    def team(self, title: Title, side: int) -> str | None:
        """Team of the roster that a side plays; None where the title has no roster."""
        if not title.roster:
            return None
        own = title.visitor_team if self.player(side) == "visitor" else title.computer_team
        return (self.team_a if side == 0 else self.team_b) or own or next(iter(title.roster))
