"""Results read back from plain data: what every chart, table and sentence of the page is made from.

A result comes as JSON has it. What a command does not tell, or an earlier version did not, is absent: an empty
mapping, an empty list, and no section on the page.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from venue.report.page.record import Record
from venue.report.sentences.sweeps import Settings
from venue.scenario.load import unit_of_key
from venue.study.findings import CompareFindings, RunFindings, Settling, SweepFindings
from venue.study.intervals import Estimate, estimate_of
from venue.study.judgement import Weeks
from venue.study.point import Place, value_of
from venue.study.records import SweepRecord
from venue.study.registry import MEASURES

Estimates = Mapping[str, Estimate]

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
    measures, against, against_today
        The venue's measures, and the same less the recommended setting's and less today's in pairs.
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
    against_today: Estimates
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
    def view(self) -> Settings | None:
        """What sentences on a sweep are made from; None for anything else."""
        data = self.record.data
        return Settings.of_record(data) if isinstance(data, SweepRecord) else None

    @property
    def findings(self) -> SweepFindings | None:
        """What may be said of a sweep; None for anything else."""
        return None if self.view is None else self.view.findings

    def _at(self, places: Iterable[int | None]) -> tuple[SettingView, ...]:
        return tuple(self.settings[place] for place in places if place is not None)

    @property
    def rivals(self) -> tuple[SettingView, ...]:
        """Settings that cannot be told apart from the recommended one."""
        return tuple(item for item in self.tied if item.place != self.best)

    @property
    def fairer_tie(self) -> SettingView | None:
        """Of these the one nearest in take that is surely fairer; None if none is."""
        return next(iter(self._at([self.findings.fairer] if self.findings else [])), None)

    @property
    def today(self) -> SettingView | None:
        """The setting that the scenario stands at; None where it was not run, or cannot be told."""
        found = self.findings
        return None if found is None or found.today is None else self.settings[found.today.place]

    @property
    def reference(self) -> SettingView:
        """What differences are drawn against: today's setting where it was run, or else the one shown first."""
        return self.today or self.first_shown

    def change(self, item: SettingView, measure: str) -> Estimate | None:
        """A measure at a setting less the same at the reference, in pairs; None where results do not tell."""
        base = self.reference
        if item is base:
            level = item.measures.get(measure)
            return None if level is None else Estimate(0.0, 0.0, 0.0, level.replications)
        return (item.against if self.today is None else item.against_today).get(measure)

    @property
    def tied(self) -> tuple[SettingView, ...]:
        """The recommended setting and those that cannot be told apart from it, in the order they were run."""
        tie = None if self.findings is None else self.findings.tie
        return () if tie is None else self._at(tie.places)

    @property
    def tie_is_a_range(self) -> bool:
        """Whether the ties are neighbours along one axis of numbers."""
        return self.findings is not None and self.findings.tie is not None and self.findings.tie.lowest is not None

    def settled(self, item: SettingView) -> Settling:
        """Whether the take of a setting has settled."""
        found = self.record.data.findings
        if isinstance(found, SweepFindings):
            return found.settled[item.place]
        if isinstance(found, CompareFindings):
            return (found.settled, *(change.settled for change in found.changes))[item.place]
        return found.settled if isinstance(found, RunFindings) else Settling(state="too short")

    def differs(self, measure: str) -> bool:
        """Whether a measure surely differs between settings."""
        if self.findings is None or measure not in self.findings.measures:
            return False
        return bool(self.findings.measures[measure].more or self.findings.measures[measure].less)

    @cached_property
    def overlaid(self) -> tuple[SettingView, ...]:
        """Settings that charts lay over one another: all, or so many as can be told apart."""
        step = max(1, math.ceil(len(self.settings) / _MOST_OVERLAID))
        return tuple(item for item in self.settings if item.place % step == 0 or item.place == self.first_shown.place)

    def weeks(self, item: SettingView) -> Weeks | None:
        """The take of a setting week by week; None where results tell fewer than two weeks."""
        found = Weeks(item.plain.get("weeks") or (), int(self.record.result.get("days", 0)))
        return found if len(found.take) > 1 else None

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


def study_of(record: Record) -> Study:
    """The settings of a record."""
    return Study(record, tuple(_settings(record)), best_of(record))


def _settings(record: Record) -> list[SettingView]:
    result = record.result
    if record.kind == "sweep":
        return [_shown(place, tuple(item["at"].items()), item) for place, item in enumerate(result["points"])]
    if record.kind == "run":
        return [_shown(0, (("strength", result["strength"]),), result)]
    if record.kind == "compare":
        return [_shown(place, (("scenario", item["name"]),), item) for place, item in enumerate(result["scenarios"])]
    return []


def best_of(record: Record) -> int | None:
    """Place of the recommended setting."""
    return record.data.findings.recommended if isinstance(record.data, SweepRecord) else None


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
        estimates_of(item.get("against_today") or {}),
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
