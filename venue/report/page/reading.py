"""Settings as the page has them: what every chart, table and sentence of the page is made from.

All of it comes from a typed record. What a command does not tell is absent: an empty mapping, an empty list, and no
section on the page.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from types import MappingProxyType

from venue.report.page.record import Record
from venue.report.sentences.sweeps import Settings
from venue.scenario.load import unit_of_key
from venue.study.findings import CompareFindings, RunFindings, Settling, SweepFindings
from venue.study.floor_records import CompareRecord, RunRecord, Setting, SweepRecord
from venue.study.intervals import Estimate
from venue.study.judgement import Weeks
from venue.study.plain import Interval, Level
from venue.study.point import Place, value_of
from venue.study.registry import MEASURES

Estimates = Mapping[str, Estimate]
Intervals = Mapping[str, Interval]

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
    units
        Units of the venue's measures.
    setting
        All that the record tells of it; None for a scenario of a comparison.
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
    units: Mapping[str, str]
    setting: Setting | None = field(repr=False, default=None)

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
    """Offers of the next period made at one margin, points ahead of the one who is offered it.

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
        """What the recommended setting is set against; None if that is the one itself."""
        return next(iter(self._at([self.findings.unaided] if self.findings else [])), None)

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
        """The setting that the scenario stands at; None where it was not run, or is unknown."""
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
        if item.setting is None or not isinstance(self.record.data, RunRecord | SweepRecord):
            return None
        found = Weeks([row.plain() for row in item.setting.weeks], self.record.data.days)
        return found if len(found.take) > 1 else None

    def ever(self, measure: str) -> bool:
        """Whether a measure is anything but zero at any setting."""
        return any(measure in item.measures and item.measures[measure].mean != 0.0 for item in self.settings)

    def unit(self, measure: str) -> str:
        """Unit of a measure, as the results have it."""
        found = (item.units[measure] for item in self.settings if measure in item.units)
        return next(found, MEASURES[measure].unit if measure in MEASURES else "")

    def key_unit(self, place: int = 0) -> str:
        """Unit of a key that differs."""
        key = self.keys[place]
        return unit_of_key(self.record.loaded, "study.strength" if key == "strength" else key)


def study_of(record: Record) -> Study:
    """The settings of a record."""
    data = record.data
    best = data.findings.recommended if isinstance(data, SweepRecord) else None
    return Study(record, tuple(_settings(record)), best)


def _settings(record: Record) -> list[SettingView]:
    data = record.data
    if isinstance(data, SweepRecord):
        return [
            _shown(place, tuple(item.at.items()), item, item.against_best, item.against_today)
            for place, item in enumerate(data.points)
        ]
    if isinstance(data, RunRecord):
        return [_shown(0, (("strength", data.strength),), data)]
    if isinstance(data, CompareRecord):
        return [
            SettingView(
                place,
                (("scenario", item.name),),
                _estimates(item.measures),
                {},
                {},
                {},
                {},
                {},
                {},
                _units(item.measures),
            )
            for place, item in enumerate(data.scenarios)
        ]
    return []


def _shown(
    place: int, at: Place, item: Setting, against: Intervals = MappingProxyType({}),
    against_today: Intervals = MappingProxyType({}),
) -> SettingView:  # fmt: skip
    offers: dict[str, list[Offer]] = {}
    for row in item.by_margin:
        figures = (_estimate(found) for found in (row.taken, row.perceived, row.true))
        offers.setdefault(row.title, []).append(Offer(float(row.margin), float(row.offers), *figures))
    return SettingView(
        place, at, _estimates(item.measures), _estimates(against), _estimates(against_today),
        {row.name: _estimates(row.measures) for row in item.machines},
        item.left_because, item.by_hour,
        {title: sorted(rows, key=lambda row: row.margin) for title, rows in offers.items()},
        _units(item.measures), item,
    )  # fmt: skip


def _estimate(item: Interval | None) -> Estimate | None:
    return None if item is None or math.isnan(item.mean) else item.estimate


def _estimates(found: Intervals) -> dict[str, Estimate]:
    """Measures by name, those that are known."""
    return {name: item.estimate for name, item in found.items() if not math.isnan(item.mean)}


def _units(found: Mapping[str, Level]) -> dict[str, str]:
    return {name: item.unit for name, item in found.items()}
