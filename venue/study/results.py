"""What a study hands back: figures with intervals, as DataFrames, as rows, and as plain data for JSON."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass
from functools import cached_property
from typing import Any

import pandas as pd

from venue import __version__
from venue.scenario.load import Loaded, unit_of_key
from venue.study.display import Displayed
from venue.study.findings import RunFindings, SweepFindings
from venue.study.floor_records import RunRecord, SweepRecord
from venue.study.front import FrontPoint, front
from venue.study.intervals import Estimate, finite_or_none
from venue.study.judgement import settling_of, sweep_findings
from venue.study.point import Point, Value, difference
from venue.study.precision import Reached
from venue.study.ranking_selection import Selection
from venue.study.recommendation import Best
from venue.study.registry import MACHINE_MEASURES, MEASURES, Measure
from venue.study.requirements import Requirement, Requirements
from venue.study.rows import rows_of
from venue.study.title_rules import titles_taken_apart


def measures_of(found: dict[str, Estimate], known: dict[str, Measure], money: str) -> dict[str, dict[str, Any]]:
    """Measures as plain data: mean, low, high and unit by name."""
    return {
        name: {
            **item.to_dict(),
            "unit": known[name].unit_in(money),
        }
        for name, item in found.items()
    }


def at_one_setting(loaded: Loaded, point: Point) -> dict[str, Any]:
    """What a setting came to beyond the venue's measures, as plain data: machines, reasons for leaving, the take by
    machine and hour of day (24 values, None where never open)."""
    money, machines = loaded.scenario.venue.money, loaded.scenario.machines
    return {
        "machines": [
            {
                "name": key,
                "title": machine.title,
                "count": machine.count,
                "measures": measures_of(point.machine_measures(key), MACHINE_MEASURES, money),
            }
            for key, machine in machines.items()
        ],
        "left_because": point.left_because(),
        **point.people(),
        "by_hour": {
            key: [finite_or_none(value) for value in row]
            for key, row in zip(machines, point.hourly().tolist(), strict=True)
        },
    }


def _frame(found: dict[str, dict[str, Any]]) -> pd.DataFrame:
    frame = pd.DataFrame.from_dict(found, orient="index", columns=["mean", "low", "high", "unit"])
    frame.index.name = "measure"
    return frame


class _Rows:
    """Access to the rows of a result, those of the warm-up marked as such; units are in `venue.floor.records`."""

    loaded: Loaded
    points: tuple[Point, ...]

    @property
    def plays(self) -> pd.DataFrame:
        """One row a play, if the study kept rows; one that was left early has no `result`."""
        return rows_of(self.loaded, self.points, "plays")

    @property
    def visits(self) -> pd.DataFrame:
        """One row a visit, if the study kept rows."""
        return rows_of(self.loaded, self.points, "visits")

    @property
    def offers(self) -> pd.DataFrame:
        """One row an offer, taken or not, if the study kept rows."""
        return rows_of(self.loaded, self.points, "offers")


@dataclass(frozen=True)
class RunResult(Displayed, _Rows):
    """A venue at one catch-up strength.

    Attributes
    ----------
    loaded
        The resolved scenario that was run.
    point
        Its replications.
    reached
        What came of the precisions asked for.
    """

    loaded: Loaded
    point: Point
    reached: tuple[Reached, ...] = ()

    @cached_property
    def points(self) -> tuple[Point, ...]:  # type: ignore[override]
        """The one point of a run."""
        return (self.point,)

    @cached_property
    def measures(self) -> pd.DataFrame:
        """Measures of the venue: mean, 95 % interval (low, high) and unit, by name."""
        return _frame(self.to_dict()["measures"])

    @cached_property
    def machines(self) -> pd.DataFrame:
        """Measures by machine key: mean, 95 % interval and unit."""
        found = {item["name"]: _frame(item["measures"]) for item in self.to_dict()["machines"]}
        frame: pd.DataFrame = pd.concat(found, names=["machine"])
        return frame

    @cached_property
    def findings(self) -> RunFindings:
        """What may be said of it."""
        return RunFindings(settled=settling_of(self.point, self.loaded.scenario.study.days))

    @cached_property
    def record(self) -> RunRecord:
        """All of it as plain data, typed."""
        study, money = self.loaded.scenario.study, self.loaded.scenario.venue.money
        plain = {
            "kind": "run",
            "scenario": self.loaded.source,
            "version": __version__,
            "seed": study.seed,
            "strength": self.point.strength,
            "before": study.days_before or 0,
            "days": study.days,
            "warm_up": study.warm_up,
            "replications": len(self.point.replications),
            "precision": [item.to_dict() for item in self.reached],
            "measures": measures_of(self.point.measures(), MEASURES, money),
            **at_one_setting(self.loaded, self.point),
            "titles": titles_taken_apart(self.loaded, [{"strength": self.point.strength}]),
            "accounts": [asdict(account) for account in self.point.accounts()],
            "findings": self.findings,
        }
        return RunRecord.model_validate(plain)

    def to_dict(self) -> dict[str, Any]:
        """Plain data, as `venue run --json` prints it."""
        return self.record.plain()


@dataclass(frozen=True)
class SweepResult(Displayed, _Rows):
    """A venue in several settings, on the same visitors.

    Attributes
    ----------
    loaded
        The resolved scenario that was run.
    points
        One for each setting, in the order asked for.
    best
        The recommendation.
    others
        Requirements beyond those of the scenario.
    reached
        What came of the precisions asked for.
    selection
        What came of an assurance asked for.
    stands_at
        Place of the setting that the scenario stands at, if it was run; a strength is found without it.
    """

    loaded: Loaded
    points: tuple[Point, ...]
    best: Best
    others: tuple[Requirement, ...] = ()
    reached: tuple[Reached, ...] = ()
    selection: Selection | None = None
    stands_at: int | None = None

    @cached_property
    def front(self) -> tuple[FrontPoint, ...]:
        """The trade-off of take and fairness, the fairest setting first; empty where fairness is unknown."""
        return front(self.points, self.loaded.scenario.study.seed)

    @cached_property
    def trade_off(self) -> pd.DataFrame:
        """The same as a table: a row a setting, with the chance that it is on the front and the price of fairness."""
        rows = [
            dict(self.points[item.place].where)
            | {key: value for key, value in item.to_dict().items() if key not in ("place", "price_of_a_point")}
            | dict(zip(("price", "price_low", "price_high"), item.price or (math.nan,) * 3, strict=True))
            for item in self.front
        ]
        return pd.DataFrame(rows)

    @property
    def requirements(self) -> Requirements:
        """What a setting had to keep."""
        study = self.loaded.scenario.study
        return Requirements.of(study, self.others)

    @property
    def keys(self) -> tuple[str, ...]:
        """What was swept: `strength`, or key paths of the scenario."""
        return tuple(key for key, _ in self.points[0].where)

    @property
    def best_point(self) -> Point | None:
        """The recommended setting; None when there is none."""
        return None if self.best.place is None else self.points[self.best.place]

    @cached_property
    def today(self) -> int | None:
        """Place of the setting that the scenario stands at; None where it was not run, or is not known."""
        if self.stands_at is not None or self.keys != ("strength",):
            return self.stands_at
        stands = self.loaded.scenario.study.strength
        return next((place for place, point in enumerate(self.points) if point.where[0][1] == stands), None)

    @cached_property
    def findings(self) -> SweepFindings:
        """What may be said of it."""
        front = [item.place for item in self.front if item.on_front]
        study = self.loaded.scenario.study
        return sweep_findings(
            self.points, self.best, today=self.today, days=study.days, front=front, surely=study.keep_surely,
            before=study.days_before or 0, aim=study.maximise,
        )  # fmt: skip

    def _against(self, point: Point, base: int | None) -> dict[str, dict[str, float | None]]:
        """Every measure less another setting's, in pairs: mean, low and high; empty where there is nothing to set it
        against."""
        if base is None or point is self.points[base]:
            return {}
        found = {name: difference(point, self.points[base], name) for name in MEASURES}
        return {name: item.to_dict() for name, item in found.items() if item is not None}

    def settings(self, place: int = 0) -> list[Value]:
        """The different values of one of the swept keys, in the order asked for."""
        return list(dict.fromkeys(point.where[place][1] for point in self.points))

    def unit(self, place: int = 0) -> str:
        """Unit of a swept key, as the scenario's reference has it; empty if it has none."""
        key = self.keys[place]
        return unit_of_key(self.loaded, "study.strength" if key == "strength" else key)

    @cached_property
    def measures(self) -> pd.DataFrame:
        """Measures of the venue by setting: mean, 95 % interval (low, high) and unit."""
        money = self.loaded.scenario.venue.money
        found = {
            tuple(value for _, value in point.where): _frame(measures_of(point.measures(), MEASURES, money))
            for point in self.points
        }
        frame: pd.DataFrame = pd.concat(found, names=list(self.keys))
        return frame

    def _shown(self) -> list[dict[str, Value]]:
        """Settings at which a report takes titles apart: the recommended one, or the first, and today's."""
        places = dict.fromkeys((self.best.place or 0, *(() if self.today is None else (self.today,))))
        return [dict(self.points[place].where) for place in places]

    @cached_property
    def record(self) -> SweepRecord:
        """All of it as plain data, typed."""
        study, money = self.loaded.scenario.study, self.loaded.scenario.venue.money
        plain = {
            "kind": "sweep",
            "scenario": self.loaded.source,
            "version": __version__,
            "seed": study.seed,
            "before": study.days_before or 0,
            "days": study.days,
            "warm_up": study.warm_up,
            "replications": study.replications,
            "precision": [item.to_dict() for item in self.reached],
            "requirements": self.requirements.to_dict(),
            "points": [
                {
                    "strength": point.strength,
                    "at": dict(point.where),
                    "replications": len(point.replications),
                    "measures": measures_of(point.measures(), MEASURES, money),
                    "against_best": self._against(point, self.best.place),
                    "against_today": self._against(point, self.today),
                    **at_one_setting(self.loaded, point),
                }
                for point in self.points
            ],
            "best": {
                "strength": self.best.strength,
                "at": None if self.best_point is None else dict(self.best_point.where),
                "chance_right": self.best.chance_right,
                "reason": self.best.reason,
                "not_told_apart": [dict(self.points[place].where) for place in self.best.rivals],
            },
            "selection": None if self.selection is None else self.selection.to_dict(),
            "titles": titles_taken_apart(self.loaded, self._shown()),
            "trade_off": [
                {"at": dict(self.points[item.place].where)}
                | {key: value for key, value in item.to_dict().items() if key != "place"}
                for item in self.front
            ],
            "findings": self.findings,
        }
        return SweepRecord.model_validate(plain)

    def to_dict(self) -> dict[str, Any]:
        """Plain data, as `venue sweep --json` prints it."""
        return self.record.plain()
