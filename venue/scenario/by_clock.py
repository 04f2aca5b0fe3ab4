"""Numbers that step at times of day, written like `{ "10:00" = 6, "14:00" = 9 }`."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from operator import itemgetter
from typing import Annotated, Any

from pydantic import BeforeValidator, Field, PlainSerializer

from venue import units
from venue.errors import Fault
from venue.scenario.fields import Credits, PerHour


def _table_of(what: str, like: str) -> Callable[[Any], Any]:
    def read(value: Any) -> Any:
        if not isinstance(value, dict):
            raise Fault("must be a table", f"write {what} from each time of day on, like {like}")
        steps = [(units.clock(key), number) for key, number in value.items()]
        steps.sort(key=itemgetter(0))
        for (earlier, _), (later, _) in pairwise(steps):
            if earlier == later:
                raise Fault(f'names "{units.show_clock(later)}" twice', "keep one of the two")
        return dict(steps)

    return read


def _show(value: dict[float, Any]) -> dict[str, Any]:
    return {units.show_clock(start): number for start, number in value.items()}


# As the file writes it; `units.clock` reads it.
TimeOfDay = Annotated[str, Field(pattern=r"^\s*([0-2]?[0-9]|3[0-5]):[0-5][0-9]\s*$|^\s*36:00\s*$")]

HourlyRates = Annotated[
    dict[float, PerHour],
    BeforeValidator(_table_of("visitors per hour", '{ "10:00" = 6 }'), json_schema_input_type=dict[TimeOfDay, PerHour]),
    PlainSerializer(_show, return_type=dict[str, float], when_used="json"),
]
HourlyPrices = Annotated[
    dict[float, Credits],
    BeforeValidator(_table_of("credits", '{ "17:00" = 3 }'), json_schema_input_type=dict[TimeOfDay, Credits]),
    PlainSerializer(_show, return_type=dict[str, int], when_used="json"),
]


def steps_by_clock(path: tuple[Any, ...]) -> bool:
    """Whether the keys of the table at this path are times of day."""
    if len(path) == 3 and path[0] in ("machines", "changes"):
        return path[2] in ("prices", "prices_to_go_on")
    return path == ("venue", "arrivals", "per_hour")
