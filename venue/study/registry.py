"""Every measure by name: what it is called, its unit, its digits and its meaning, in the order in which it is shown.

Tables, charts, the page, the shell's completion and the documents take their words from here.
"""

from __future__ import annotations

from dataclasses import dataclass

from venue.errors import InputError
from venue.scenario.words import nearest

TAKE, FAIR = "credits_per_hour", "better_side_wins"
"""What settings are ranked by, and what their take is set against."""


FLOWS = frozenset((TAKE, "take_per_week", "operator_share_per_week", "site_share_per_week", "profit_per_week",
                   "visits_per_hour", "utilisation"))  # fmt: skip
"""Measures of how much there is in an hour or a week, which go with how many people chance brings."""


@dataclass(frozen=True)
class Measure:
    """How one measure is shown.

    Attributes
    ----------
    label
        What it is called in a sentence, at a row's head or on an axis.
    short
        The same at the head of a column, at most two lines.
    unit
        Its unit in results; "money" stands for the currency of the venue. People see a "share" or a "ratio" as a
        percentage.
    meaning
        What it says.
    digits
        Decimals of a figure that stands alone, of the percentage where it is one. A mean with its interval has as many
        as the interval deserves, at most one more than this.
    """

    label: str
    short: str
    unit: str
    meaning: str
    digits: int = 1

    @property
    def is_share(self) -> bool:
        """Whether people see it as a percentage."""
        return self.unit in ("share", "ratio")

    def unit_in(self, money: str) -> str:
        """The unit in a venue with this currency, as results have it."""
        first, space, rest = self.unit.partition(" ")
        return f"{money}{space}{rest}" if first == "money" else self.unit

    def unit_shown(self, money: str) -> str:
        """The unit in which people see it."""
        return "%" if self.is_share else self.unit_in(money)


MEASURES: dict[str, Measure] = {
    "credits_per_hour": Measure(
        "credits per open hour", "credits per\nopen hour", "credits per open hour", "take of the venue", 1
    ),
    "credits_per_play": Measure(
        "credits per play", "credits\nper play", "credits", "spent by one visitor on one play", 2
    ),
    "revenue_per_play": Measure(
        "money per play", "money\nper play", "money", "paid for one play, net of bundles and bonus", 2
    ),
    "take_per_week": Measure(
        "take per week", "take\nper week", "money per week", "take in money, net of bundles and bonus", 0
    ),
    "operator_share_per_week": Measure(
        "operator's share per week", "operator's\nshare per week", "money per week", "the operator's part of it", 0
    ),
    "site_share_per_week": Measure(
        "site owner's share per week", "owner's\nshare per week", "money per week", "the site owner's part of it", 0
    ),
    "profit_per_week": Measure(
        "profit per week", "profit\nper week", "money per week", "the operator's part less upkeep and floor cost", 0
    ),
    "plays_per_visit": Measure("plays per visit", "plays\nper visit", "plays", "plays begun in a visit", 2),
    "credits_per_visit": Measure("credits per visit", "credits\nper visit", "credits", "spent in a visit", 1),
    "buy_in_rate": Measure(
        "buy-ins taken", "buy-ins\ntaken", "share", "buy-ins taken of those offered at breaks and after contests"
    ),
    "return_28d": Measure(
        "return within 28 days", "return in\n28 days", "share", "visits followed by another within 28 days"
    ),
    "visits_per_hour": Measure(
        "visits per open hour", "visits per\nopen hour", "visits per open hour", "people coming in", 2
    ),
    "utilisation": Measure("machine time in play", "in play", "share", "machine time in play while open"),
    "availability": Measure(
        "machine time without fault", "without\nfault", "share", "machine time not in fault while open"
    ),
    "wait_minutes": Measure("minutes waited per visit", "minutes\nwaited", "min", "waited in lines in a visit", 1),
    "moves_per_visit": Measure(
        "machine changes per visit", "machine\nchanges", "changes", "changes to other machines in a visit", 2
    ),
    "gave_up_waiting": Measure(
        "lines given up", "lines\ngiven up", "share", "lines left before a machine came free"
    ),
    "better_side_wins": Measure(
        "better side wins", "better side\nwins", "share", "contests won by the side with more skill"
    ),
    "skill_edge": Measure(
        "skill edge kept", "skill edge\nkept", "ratio", "what catch-up leaves of the better side's edge"
    ),
    "close_finishes": Measure("close finishes", "close\nfinishes", "share", "contests that end close"),
    "suspicion": Measure("suspicion", "suspicion", "level", "suspicion at the end of a visit", 3),
    "limit_reached": Measure(
        "stopped by a limit", "stopped by\na limit", "share", "visits kept from a purchase by a limit on spending"
    ),
    "empty_wallets": Measure(
        "empty wallets", "empty\nwallets", "share", "visits that end with nothing left to spend"
    ),
    "spend_p95": Measure(
        "credits of the largest spenders", "largest\nspenders", "credits",
        "credits in a visit that one visitor in twenty exceeds (95th percentile)",
    ),
    "spend_top_tenth": Measure(
        "take from the top tenth", "take from\ntop tenth", "share", "of the take from the top tenth of spenders"
    ),
}  # fmt: skip

MACHINE_MEASURES: dict[str, Measure] = {
    "credits_per_hour": Measure(
        "credits per open hour and machine", "credits per\nopen hour", "credits per open hour and machine",
        "take of one machine", 1,
    ),
    "credits_per_play": MEASURES["credits_per_play"],
    "take_per_week": Measure(
        "take per machine-week", "take\nper week", "money per machine-week", "take in money", 0
    ),
    "operator_share_per_week": Measure(
        "operator's share per machine-week", "operator's\nshare per week", "money per machine-week",
        "the operator's part of it", 0,
    ),
    "site_share_per_week": Measure(
        "site owner's share per machine-week", "owner's\nshare per week", "money per machine-week",
        "the site owner's part of it", 0,
    ),
    "profit_per_week": Measure(
        "profit per machine-week", "profit\nper week", "money per machine-week",
        "the operator's part less upkeep and floor cost", 0,
    ),
    "utilisation": Measure("time in play", "in play", "share", "time in play while open"),
    "availability": Measure("time without fault", "without\nfault", "share", "time not in fault while open"),
    "better_side_wins": MEASURES["better_side_wins"],
    "close_finishes": MEASURES["close_finishes"],
}  # fmt: skip

# Exact results of a title, no floor.
TITLE_MEASURES: dict[str, Measure] = {
    "better_side_wins": MEASURES["better_side_wins"],
    "skill_edge": MEASURES["skill_edge"],
    "close_finishes": MEASURES["close_finishes"],
    "level": Measure("level at the end of play", "level\nat end", "share", "contests level at the end of play"),
    "lead_changes": Measure(
        "lead changes", "lead\nchanges", "times", "times the lead goes to the side that did not have it last", 2
    ),
    "comebacks": Measure(
        "comebacks", "come-\nbacks", "share", "contests won by the side that trails at the turn"
    ),
    "side_a_wins": Measure("side A wins", "side A\nwins", "share", "contests won by side A"),
    "margin_mean": Measure("mean margin", "margin\nmean", "points", "side A's points less side B's at the end", 2),
    "margin_sd": Measure(
        "spread of margins", "margin\nspread", "points",
        "standard deviation (typical distance from the mean) of the margin at the end", 2,
    ),
    "assisted": Measure("assisted scores", "assisted\nscores", "scores", "scores a contest owed to the rules", 2),
}  # fmt: skip


def check_measure(option: str, measure: str) -> str:
    """The name of a measure.

    Raises
    ------
    InputError
        If there is none of this name; the message begins with the option.
    """
    if measure not in MEASURES:
        raise InputError(f"{option} {measure}: is no measure; {nearest(measure, MEASURES)}")
    return measure
