"""The ledger of a run: rows of plays and visits, the log of offers, and counts that the accounts are made from."""

from __future__ import annotations

from venue.floor.offer_log import OfferLog
from venue.floor.records import PLAY_COLUMNS, VISIT_COLUMNS, Records


class Ledger:
    """What has happened in a run so far.

    Parameters
    ----------
    titles
        How many titles there are.
    keep_offers
        Whether to keep a row for each offer.
    begun
        Contests begun before.

    Attributes
    ----------
    plays, visits
        Rows kept; see `venue.floor.records`.
    offers
        What was offered.
    moved
        Changes to other machines since the warm-up, by what made a visitor stop at the last.
    entered, inside, left
        People through the door, and those who are in.
    begun, finished, ended_early, in_play
        Contests. `begun` counts on from `begun_before`, those of the time before the run.
    contest_time
        Seconds of contests that are over.
    """

    __slots__ = (
        "begun", "begun_before", "contest_time", "ended_early", "entered", "finished", "in_play", "inside", "left",
        "moved", "offers", "plays", "visits",
    )  # fmt: skip

    def __init__(self, titles: int, *, keep_offers: bool, begun: int = 0) -> None:
        self.plays, self.visits = Records(PLAY_COLUMNS), Records(VISIT_COLUMNS)
        self.offers = OfferLog(titles, keep=keep_offers)
        self.moved: dict[str, int] = {}
        self.entered = self.inside = self.left = 0
        self.begun = self.begun_before = begun
        self.finished = self.ended_early = self.in_play = 0
        self.contest_time = 0.0

    def forget(self) -> None:
        """The warm-up is over: what is only counted, and not kept as rows, is counted anew."""
        self.offers.forget()
        self.moved.clear()
