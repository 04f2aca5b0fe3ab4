"""A venue at closing time, when nobody is inside: who will come again, what they carry, where the machines stand.

All draws come from streams keyed by what they are for, so that a venue which goes on from its snapshot gives the same
numbers, to the last bit, as one that was never stopped.
"""

from __future__ import annotations

import json
import struct
import zlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from itertools import accumulate
from typing import Any

import numpy as np
from numpy.typing import NDArray

from venue.floor.machine import MOST_CABINETS, RowState
from venue.floor.workshop import WorkshopState
from venue.scenario.faults import Faults
from venue.scenario.hours import Hours
from venue.units import WEEKDAYS
from venue.visitors.person import Person
from venue.visitors.traits import Traits

_OUTINGS = np.dtype([("earliest", "<i4"), ("uniform", "<f8"), ("people", "<i2")])
_PEOPLE = np.dtype(
    [("number", "<i8"), ("visits", "<i4"), ("suspicion", "<f8"), ("suspicion_at", "<f8"), ("kept", "<i4"),
     ("titles", "<i2")]
)  # fmt: skip
_SEEN = np.dtype([("title", "<i2"), ("wins", "<f8"), ("losses", "<f8"), ("contests", "<i4")])
_TABLES = (_OUTINGS, _PEOPLE, _SEEN)


@dataclass(frozen=True)
class Snapshot:
    """Where a venue stands.

    Attributes
    ----------
    day
        The first day that has not begun.
    now
        Its clock, in seconds from the opening for the first time: not before that day begins.
    known
        How many people have been here.
    begun
        Contests begun so far.
    hours
        Opening hours until now.
    titles
        Keys of the titles, in the order in which people's records name them.
    rows
        Machines by key.
    workshop
        The technicians' work; machines go by place of the row x 10,000 + place in it.
    outings, people, seen
        Outings to come; the people of each, one outing after another; what each has seen of titles, person by person.
    """

    day: int
    now: float
    known: int
    begun: int
    hours: Hours
    titles: tuple[str, ...]
    rows: dict[str, RowState]
    workshop: WorkshopState
    outings: NDArray[np.void]
    people: NDArray[np.void]
    seen: NDArray[np.void]

    def packed(self) -> bytes:
        """All of it as bytes."""
        plain = {
            "day": self.day, "now": self.now, "known": self.known, "begun": self.begun,
            "hours": [[self.hours.on(day) for day in range(7)], self.hours.last_entry],
            "titles": self.titles,
            "rows": {
                key: {**vars(row), "wear": list(row.wear.items()), "faults": row.faults.model_dump()}
                for key, row in self.rows.items()
            },
            "workshop": {**asdict(self.workshop), "drawn": list(self.workshop.drawn.items())},
        }  # fmt: skip
        tables = [table.tobytes() for table in (self.outings, self.people, self.seen)]
        text = json.dumps(plain).encode()
        sizes = struct.pack("<4q", len(text), *map(len, tables))
        return zlib.compress(b"".join([sizes, text, *tables]), level=1)

    @staticmethod
    def unpacked(kept: bytes) -> Snapshot:
        """The snapshot that was packed.

        Raises
        ------
        ValueError, KeyError, TypeError, struct.error, zlib.error
            If these are not its bytes.
        """
        whole = zlib.decompress(kept)
        ends = list(accumulate(struct.unpack_from("<4q", whole), initial=struct.calcsize("<4q")))
        text, *parts = (whole[begin:end] for begin, end in zip(ends, ends[1:], strict=False))
        plain = json.loads(text)
        tables = [np.frombuffer(part, dtype=kind) for part, kind in zip(parts, _TABLES, strict=True)]
        rows = {
            key: RowState(
                row["free"],
                row["failed"],
                dict(row["wear"]),
                Faults.model_construct(**row["faults"]),
            )
            for key, row in plain["rows"].items()
        }
        workshop = plain["workshop"]
        return Snapshot(
            plain["day"], plain["now"], plain["known"], plain["begun"], _hours(*plain["hours"]),
            tuple(plain["titles"]), rows,
            WorkshopState([tuple(item) for item in workshop["due"]], workshop["waiting"], dict(workshop["drawn"])),
            *tables,
        )  # fmt: skip

    def machines(self, rows: Mapping[str, Sequence[Any]]) -> dict[int, Any]:
        """The machines of a venue by the numbers that they have in `workshop`; those no longer there are left out."""
        return {
            place * MOST_CABINETS + number: cabinet
            for place, key in enumerate(self.rows)
            for number, cabinet in enumerate(rows.get(key, ()))
        }

    def bring_back(self, traits: Traits, titles: Sequence[str]) -> list[list[Person]]:
        """The parties that will come again, in the order of the diary.

        Parameters
        ----------
        titles
            Keys of the titles as they are now; what was seen of others is forgotten.
        """
        place = {key: titles.index(key) for key in self.titles if key in titles}
        numbers = [place.get(key) for key in self.titles]
        seen = iter(self.seen.tolist())
        everybody = []
        for number, visits, suspicion, suspicion_at, _, count in self.people.tolist():
            person = Person(number)
            person.visits, person.suspicion, person.suspicion_at = visits, suspicion, suspicion_at
            everybody.append((person, [next(seen) for _ in range(count)]))
        # Neighbours share a block of draws, so that the order of their numbers is the quickest.
        for person, records in sorted(everybody, key=lambda item: item[0].number):
            for title, wins, losses, contests in records:
                now = numbers[title]
                if now is not None:
                    traits.recall(person, now, wins, losses, contests)
        people = iter(everybody)
        parties = []
        for earliest, uniform, count in self.outings.tolist():
            party = [next(people)[0] for _ in range(count)]
            party[0].outing = (earliest, uniform)
            parties.append(party)
        return parties

    def kept(self) -> dict[int, int]:
        """Credits that those who will come again have kept, by the number of the person."""
        has = self.people[self.people["kept"] > 0]
        return dict(zip(has["number"].tolist(), has["kept"].tolist(), strict=True))


def laid_out(
    parties: Iterable[Sequence[Person]], kept: Mapping[int, int]
) -> tuple[NDArray[np.void], NDArray[np.void], NDArray[np.void]]:  # fmt: skip
    """Outings to come, their people and what these have seen, as tables; `kept` has their credits by number."""
    outings, people, seen = [], [], []
    for party in parties:
        earliest, uniform = party[0].outing or (0, 0.0)
        outings.append((earliest, uniform, len(party)))
        for person in party:
            people.append(
                (person.number, person.visits, person.suspicion, person.suspicion_at, kept.get(person.number, 0),
                 len(person.records))
            )  # fmt: skip
            seen += [(title, one.wins, one.losses, one.contests) for title, one in person.records.items()]
    return np.array(outings, _OUTINGS), np.array(people, _PEOPLE), np.array(seen, _SEEN)


def _hours(openings: Sequence[Sequence[float] | None], last_entry: float) -> Hours:
    """Hours of a week from those of its days."""
    of_days = {
        name: None if opening is None else tuple(opening) for name, opening in zip(WEEKDAYS, openings, strict=True)
    }
    return Hours.model_construct(_fields_set=set(WEEKDAYS), last_entry=last_entry, **of_days)  # type: ignore[arg-type]
