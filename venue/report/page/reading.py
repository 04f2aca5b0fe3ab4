"""Results read back from plain data: what every chart, table and sentence of the page is made from.

A result comes as JSON has it. What a command does not tell, or an earlier version did not, is absent: an empty
mapping, an empty list, and no section on the page.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from venue.errors import InputError
from venue.report.page.record import Record
from venue.report.weeks import Weeks, weeks_in
from venue.scenario.load import unit_of_key
from venue.study.choose import fairer_tie
from venue.study.intervals import Estimate, estimate_of
from venue.study.measures import MEASURES
from venue.study.point import Place, value_of

Estimates = Mapping[str, Estimate]

TAKE, FAIR = "credits_per_hour", "better_side_wins"
_MOST_OVERLAID = 21


@dataclass(frozen=True)
class SettingView:
    """One setting: what it came to.

    Attributes
    ----------
    place
        Its place among the settings, in the order they were run.
    at
        Keys and values that tell it from the others.
    measures, against
        The venue's measures, and the same less the recommended setting's in pairs.
    machines
        Measures by machine key.
    left
        Share of visits by reason for leaving.
    hours
        Credits per open hour by machine key, 24 values, NaN where never open.
    offers
        By title: a row for each margin at which the next period was offered (see `Offer`).
    plain
        All of it as plain data.
    """

    place: int
    at: Place
    measures: Estimates
    against: Estimates
    machines: Mapping[str, Estimates]
    left: Mapping[str, float]
    hours: Mapping[str, Sequence[float]]
    offers: Mapping[str, Sequence[Offer]]
    plain: Mapping[str, Any] = field(repr=False)

    @property
    def label(self) -> str:
        """Its values, as `0.5` or `3, 0.5`."""
        return ", ".join(value_of(value) for _, value in self.at)

    @property
    def name(self) -> str:
        """Its keys and values, as `strength 0.5`."""
        return ", ".join(f"{key} {value_of(value)}" for key, value in self.at)


@dataclass(frozen=True)
class Offer:
    """Offers of the next period made at one margin, points ahead of whoever is offered it.

    Attributes
    ----------
    count
        How many there were.
    taken, perceived, true
        Share taken; the chance to win that visitors perceived, and the true one.
    """

    margin: float
    count: float
    taken: Estimate | None
    perceived: Estimate | None
    true: Estimate | None


@dataclass(frozen=True)
class Study:
    """All settings of a record, and the one recommended."""

    record: Record
    settings: tuple[SettingView, ...]
    best: int | None

    @property
    def keys(self) -> tuple[str, ...]:
        """What differs between the settings."""
        return tuple(key for key, _ in self.settings[0].at) if self.settings else ()

    @property
    def word(self) -> str:
        """What a setting is called."""
        return "strength" if self.keys == ("strength",) else "setting"

    @property
    def first_shown(self) -> SettingView:
        """The setting that the page opens with: the recommended one, or the first."""
        return self.settings[self.best or 0]

    @property
    def unaided(self) -> SettingView | None:
        """What the recommended setting is set against: strength 0, or the first; None if that is the one itself."""
        off = [item for item in self.settings if dict(item.at).get("strength") == 0]
        base = off[0] if off and len(self.keys) == 1 else self.settings[0]
        return None if base.place == self.best else base

    @cached_property
    def rivals(self) -> tuple[SettingView, ...]:
        """Settings that cannot be told apart from the recommended one."""
        found = self.record.result.get("best", {}).get("not_told_apart") or []
        return tuple(item for item in self.settings if dict(item.at) in found)

    @cached_property
    def fairer_tie(self) -> SettingView | None:
        """Of these the one nearest in take that is surely fairer; None if none is."""
        place = fairer_tie({item.place: (item.against.get(TAKE), item.against.get(FAIR)) for item in self.rivals})
        return None if place is None else self.settings[place]

    @property
    def as_it_stands(self) -> SettingView | None:
        """The strength that the scenario is set to; None where it was not tried, or is the one recommended."""
        stands = self.record.loaded.scenario.study.strength
        if self.keys != ("strength",):
            return None
        return next((item for item in self.settings if item.at[0][1] == stands and item.place != self.best), None)

    @property
    def today(self) -> SettingView | None:
        """The setting that the scenario stands at; None where it was not run, or cannot be told."""
        stands = self.record.loaded.scenario.study.strength
        if self.keys != ("strength",):
            return None
        return next((item for item in self.settings if item.at[0][1] == stands), None)

    @cached_property
    def reference(self) -> SettingView:
        """What differences are drawn against: today's setting where results tell them, or else the one shown first."""
        today = self.today
        told = today is not None and any("against_today" in item.plain for item in self.settings)
        return today if told and today is not None else self.first_shown

    def change(self, item: SettingView, measure: str) -> Estimate | None:
        """A measure at a setting less the same at the reference, in pairs; None where results do not tell."""
        base = self.reference
        if item is base:
            level = item.measures.get(measure)
            return None if level is None else Estimate(0.0, 0.0, 0.0, level.replications)
        if base is self.today and "against_today" in item.plain:
            return estimate_of((item.plain["against_today"] or {}).get(measure))
        return item.against.get(measure)

    @cached_property
    def tied(self) -> tuple[SettingView, ...]:
        """The recommended setting and those that cannot be told apart from it, in the order they were run."""
        places = {item.place for item in self.rivals} | ({self.best} if self.best is not None else set())
        return tuple(item for item in self.settings if item.place in places)

    @property
    def tie_is_a_range(self) -> bool:
        """Whether the ties are neighbours along one axis of numbers."""
        if len(self.keys) != 1 or any(isinstance(item.at[0][1], str) for item in self.tied):
            return False
        order = sorted(self.settings, key=lambda item: float(item.at[0][1]))
        at = [place for place, item in enumerate(order) if item in self.tied]
        return len(at) > 1 and at == list(range(at[0], at[-1] + 1))

    @cached_property
    def overlaid(self) -> tuple[SettingView, ...]:
        """Settings that charts lay over one another: all, or so many as can be told apart."""
        step = max(1, math.ceil(len(self.settings) / _MOST_OVERLAID))
        return tuple(item for item in self.settings if item.place % step == 0 or item.place == self.first_shown.place)

    def weeks(self, item: SettingView) -> Weeks | None:
        """The take of a setting week by week; None where results do not tell."""
        return weeks_in(item.plain.get("weeks") or (), int(self.record.result.get("days", 0)))

    def ever(self, measure: str) -> bool:
        """Whether a measure is anything but nought at any setting."""
        return any(measure in item.measures and item.measures[measure].mean != 0.0 for item in self.settings)

    def unit(self, measure: str) -> str:
        """Unit of a measure, as the results have it."""
        for item in self.settings:
            found = item.plain.get("measures", {}).get(measure)
            if isinstance(found, Mapping) and found.get("unit"):
                return str(found["unit"])
        return MEASURES[measure].unit if measure in MEASURES else ""

    def key_unit(self, place: int = 0) -> str:
        """Unit of a key that differs."""
        key = self.keys[place]
        return unit_of_key(self.record.loaded, "study.strength" if key == "strength" else key)

    def surely(self, measure: str, first: SettingView, second: SettingView) -> bool:
        """Whether a measure surely differs between two settings: paired intervals against the recommended one that do
        not meet, or, without one, the settings' own."""
        items = [self._stand(measure, item) for item in (first, second)]
        if any(item is None or math.isnan(item.low) for item in items):
            return False
        one, other = items
        return one is not None and other is not None and (one.high < other.low or other.high < one.low)

    def _stand(self, measure: str, item: SettingView) -> Estimate | None:
        if self.best is None:
            return item.measures.get(measure)
        best = self.settings[self.best].measures.get(measure)
        if item.place == self.best and best is not None:
            nothing = math.nan if math.isnan(best.low) else 0.0
            return Estimate(0.0, nothing, nothing, best.replications)
        return item.against.get(measure)


def study_of(record: Record) -> Study:
    """The settings of a record.

    Raises
    ------
    InputError
        If the results are not such as venue writes.
    """
    try:
        return Study(record, tuple(_settings(record)), _best(record.result))
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise InputError(
            f"{record.source}: is not a result as venue writes it ({type(error).__name__}: {error}); run the command "
            "again with --out"
        ) from None


def _settings(record: Record) -> list[SettingView]:
    result = record.result
    if record.kind == "sweep":
        return [_shown(place, tuple(item["at"].items()), item) for place, item in enumerate(result["points"])]
    if record.kind == "run":
        return [_shown(0, (("strength", result["strength"]),), result)]
    if record.kind == "compare":
        return [_shown(place, (("scenario", item["name"]),), item) for place, item in enumerate(result["scenarios"])]
    return []


def _best(result: Mapping[str, Any]) -> int | None:
    at = result.get("best", {}).get("at")
    if at is None:
        return None
    return next((place for place, item in enumerate(result["points"]) if item["at"] == at), None)


def _shown(place: int, at: Place, item: Mapping[str, Any]) -> SettingView:
    offers: dict[str, list[Offer]] = {}
    for row in item.get("by_margin") or ():
        found = Offer(
            float(row["margin"]),
            float(row["offers"]),
            *(estimate_of(row.get(key)) for key in ("taken", "perceived", "true")),
        )
        offers.setdefault(str(row["title"]), []).append(found)
    return SettingView(
        place, at, estimates_of(item["measures"]), estimates_of(item.get("against_best") or {}),
        {str(row["name"]): estimates_of(row["measures"]) for row in item.get("machines") or ()},
        {str(reason): float(share) for reason, share in (item.get("left_because") or {}).items()},
        {str(key): [math.nan if value is None else float(value) for value in row]
         for key, row in (item.get("by_hour") or {}).items()},
        {title: sorted(rows, key=lambda row: row.margin) for title, rows in offers.items()},
        item,
    )  # fmt: skip


def estimates_of(found: Mapping[str, Any]) -> dict[str, Estimate]:
    """Measures by name, those that could be told."""
    read = {name: estimate_of(item) for name, item in found.items()}
    return {name: item for name, item in read.items() if item is not None}
