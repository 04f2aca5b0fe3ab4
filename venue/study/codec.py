"""Replications as the store keeps them: a key that says all that their numbers depend on, and bytes that read back to
the same bits."""

from __future__ import annotations

import hashlib
import json
import struct
import zlib
from collections.abc import Iterable, Iterator
from itertools import islice
from typing import Any

import numpy as np

from venue.floor.accounts import Account
from venue.scenario.load import to_raw
from venue.scenario.scenario import Scenario
from venue.study.by_margin import OffersAt
from venue.study.fingerprint import fingerprint
from venue.study.measures import Measured
from venue.study.replicate import Replication, Task
from venue.study.retention import Cohort, Curve
from venue.study.weeks import Week

# Bytes of a replication's text: of 500 rows of machines it is half a megabyte.
_LARGEST_TEXT = 1 << 24


def key_of(scenario: Scenario, past_key: str = "") -> str:
    """Key of a resolved scenario, its seed and the program's version; the number of a replication completes it.

    What numbers do not depend on is left out: how many replications there are, which floors they are judged by, what
    the scenario says about itself. The order of tables counts, since machines and titles are numbered by it.

    Parameters
    ----------
    past_key
        Key of what lies behind the venue, if anything does.
    """
    plain = scenario.model_dump(exclude={"about": True, "study": {
        "replications", "keep_better_side_wins", "keep_return_28d", "keep_surely", "maximise", "control_variates",
    }})  # fmt: skip
    # Which weekdays have hours of their own is not among the values.
    text = json.dumps([fingerprint(), plain, to_raw(scenario)["venue"]["hours"], *([past_key] if past_key else [])])
    return hashlib.blake2b(text.encode(), digest_size=16).hexdigest()


def past_key_of(scenario: Scenario) -> str:
    """Key of what lies behind a venue, which is as `scenario` says; number and day complete it."""
    plain = scenario.model_dump(exclude={"about": True, "study": {
        "replications", "keep_better_side_wins", "keep_return_28d", "keep_surely", "maximise", "control_variates",
        "days", "warm_up", "before",
    }})  # fmt: skip
    text = json.dumps(["past", fingerprint(), plain, to_raw(scenario)["venue"]["hours"]])
    return hashlib.blake2b(text.encode(), digest_size=16).hexdigest()


def packed(replication: Replication) -> bytes:
    """A replication as bytes, without its rows: its text and whole numbers as packed JSON, then its floats as they are.

    Columns of nothing but floats stand in the JSON as a count of so many of the floats, in their order.
    """
    floats: list[float] = []

    def column(values: Iterable[Any]) -> list[Any] | int:
        listed = list(values)
        if set(map(type, listed)) != {float}:
            return listed  # Python writes a float among others with the digits that read back to the same bits
        floats.extend(listed)
        return len(listed)

    def named(values: dict[str, float]) -> list[Any]:
        return [list(values), column(values.values())]

    def fields(item: Any) -> list[Any]:
        return list(vars(item).values())  # in the order of the class; ten times as fast as `astuple`

    def curve(found: Curve) -> list[Any]:
        return [column(values) for values in fields(found)]

    def table(items: Iterable[Any]) -> list[Any]:
        return [column(values) for values in zip(*map(fields, items), strict=True)]

    measured = replication.measured
    plain = {
        "venue": named(measured.venue),
        "machines": [[key, named(found)] for key, found in measured.machines.items()],
        "hourly": [column(row) for row in measured.hourly.tolist()],
        "left_because": named(measured.left_because),
        "moved_because": named(measured.moved_because),
        "by_margin": table(measured.by_margin),
        "returns": curve(measured.returns),
        "cohorts": [[cohort.week, cohort.visitors, curve(cohort.curve)] for cohort in measured.cohorts],
        "weeks": table(measured.weeks),
        "control": column([measured.control]),
        "accounts": table(replication.accounts),
        "seconds": replication.seconds,
        "floats": len(floats),
    }
    text = json.dumps(plain, default=_number).encode()
    return zlib.compress(text, level=1) + struct.pack(f"<{len(floats)}d", *floats)


def _number(value: Any) -> Any:
    """A NumPy number as Python's own."""
    return value.item()


def unpacked(kept: bytes, strength: float, number: int) -> Replication:
    """The replication that was packed.

    Raises
    ------
    ValueError, KeyError, TypeError, struct.error, zlib.error
        If these are not its bytes.
    """
    packing = zlib.decompressobj()
    text = packing.decompress(kept, _LARGEST_TEXT)
    if not packing.eof:
        raise ValueError("more is packed into it than any replication has")
    plain = json.loads(text)
    floats = iter(struct.unpack(f"<{plain['floats']}d", packing.unused_data))

    def column(found: list[Any] | int) -> list[Any]:
        return found if isinstance(found, list) else list(islice(floats, found))

    def named(found: list[Any]) -> dict[str, float]:
        names, values = found
        return dict(zip(names, column(values), strict=True))

    def curve(found: list[Any]) -> Curve:
        return Curve(*(tuple(column(values)) for values in found))

    def table(found: list[Any]) -> Iterator[tuple[Any, ...]]:
        return zip(*map(column, found), strict=True)

    # Taken in the order in which they were packed.
    measured = Measured(
        named(plain["venue"]),
        {key: named(found) for key, found in plain["machines"]},
        np.array([column(row) for row in plain["hourly"]]),
        named(plain["left_because"]),
        named(plain["moved_because"]),
        tuple(OffersAt(*item) for item in table(plain["by_margin"])),
        curve(plain["returns"]),
        tuple(Cohort(week, visitors, curve(found)) for week, visitors, found in plain["cohorts"]),
        tuple(Week(*item) for item in table(plain["weeks"])),
        column(plain["control"])[0],
    )
    accounts = [Account(*account) for account in table(plain["accounts"])]
    return Replication(Task(strength, number), measured, accounts, plain["seconds"])


def checksum(key: str, number: int, kept: bytes) -> bytes:
    """What tells whether stored bytes are those of this key and number."""
    return hashlib.blake2b(kept, digest_size=8, key=key.encode(), salt=str(number).encode()[:16]).digest()
