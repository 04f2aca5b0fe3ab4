"""Replications as the store keeps them: a key that says all that their numbers depend on, and bytes that read back to
the same bits."""

from __future__ import annotations

import hashlib
import json
import zlib
from dataclasses import astuple
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


def key_of(scenario: Scenario) -> str:
    """Key of a resolved scenario, its seed and the program's version; the number of a replication completes it.

    What numbers do not depend on is left out: how many replications there are, which floors they are judged by, what
    the scenario says about itself. The order of tables counts, since machines and titles are numbered by it.
    """
    plain = scenario.model_dump(exclude={"about": True, "study": {
        "replications", "keep_better_side_wins", "keep_return_28d",
    }})  # fmt: skip
    # Which weekdays have hours of their own is not among the values.
    text = json.dumps([fingerprint(), plain, to_raw(scenario)["venue"]["hours"]])
    return hashlib.blake2b(text.encode(), digest_size=16).hexdigest()


def packed(replication: Replication) -> bytes:
    """A replication as bytes, without its rows."""
    measured = replication.measured
    plain = {
        "venue": measured.venue,
        "machines": measured.machines,
        "hourly": measured.hourly.tolist(),
        "left_because": measured.left_because,
        "moved_because": measured.moved_because,
        "by_margin": [astuple(item) for item in measured.by_margin],
        "returns": astuple(measured.returns),
        "cohorts": [[cohort.week, cohort.visitors, astuple(cohort.curve)] for cohort in measured.cohorts],
        "weeks": [astuple(item) for item in measured.weeks],
        "accounts": [[account.name, account.left, account.right] for account in replication.accounts],
        "seconds": replication.seconds,
    }
    # Python writes a float with the digits that read back to the same bits.
    return zlib.compress(json.dumps(plain, default=_number).encode(), level=1)


def _number(value: Any) -> Any:
    """A NumPy number as Python's own."""
    return value.item()


def unpacked(kept: bytes, strength: float, number: int) -> Replication:
    """The replication that was packed.

    Raises
    ------
    ValueError, KeyError, TypeError, zlib.error
        If these are not its bytes.
    """
    plain = json.loads(zlib.decompress(kept))
    measured = Measured(
        plain["venue"],
        plain["machines"],
        np.array(plain["hourly"]),
        plain["left_because"],
        plain["moved_because"],
        tuple(OffersAt(*item) for item in plain["by_margin"]),
        _curve(plain["returns"]),
        tuple(Cohort(week, visitors, _curve(curve)) for week, visitors, curve in plain["cohorts"]),
        tuple(Week(*item) for item in plain["weeks"]),
    )
    accounts = [Account(*account) for account in plain["accounts"]]
    return Replication(Task(strength, number), measured, accounts, plain["seconds"])


def _curve(parts: list[list[float]]) -> Curve:
    return Curve(*map(tuple, parts))


def checksum(key: str, number: int, kept: bytes) -> bytes:
    """What tells whether stored bytes are those of this key and number."""
    return hashlib.blake2b(kept, digest_size=8, key=key.encode(), salt=str(number).encode()[:16]).digest()
