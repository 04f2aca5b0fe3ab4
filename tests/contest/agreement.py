"""Exact contests held against contests played out at random: cases, and what must agree.

Simulations: 4 standard errors, seeded; each contest is a replication.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pytest

from tests.checking import Disagrees, check_equal
from venue.contest.forms import solve
from venue.contest.match import Match
from venue.scenario.title import Title

from .building import MIXED, MIXED_OPEN, Rules, follow
from .sampler import Numbers, Sampled, play_by_play


@dataclass
class Case:
    """A title for a match; `wrong` is what the control changes of either."""

    build: Callable[..., Title]
    keys: dict[str, Any]
    wrong: dict[str, Any]
    match: dict[str, Any] = field(default_factory=dict)
    wrong_setting: dict[str, Any] = field(default_factory=dict)

    def right(self) -> tuple[Title, Match]:
        return self.build(**self.keys), Match(**({"gap": 0.15} | self.match))

    def control(self) -> tuple[Title, Match]:
        match = {"gap": 0.15} | self.match | self.wrong_setting
        return self.build(**(self.keys | self.wrong)), Match(**match)


def by_turns(rules: Rules | None = None, **keys: Any) -> dict[str, Any]:
    plain = {
        "length": "30 s",
        "periods": 3,
        "mean_attack": "2.5 s",
        "attempts": MIXED,
        "minimum_chance": 0.05,
        "maximum_chance": 0.9,
        "turnover": 0.1,
    }
    return plain | {"rules": rules or {}} | keys


def in_the_open(rules: Rules | None = None, **keys: Any) -> dict[str, Any]:
    plain = {
        "length": "30 s",
        "periods": 3,
        "mean_attack": "2.5 s",
        "attempts": MIXED_OPEN,
        "minimum_chance": 0.1,
        "maximum_chance": 0.9,
    }
    return plain | {"rules": rules or {}} | keys


def mean_within(name: str, values: Numbers, exact: float) -> str | None:
    """What is wrong when the mean of a sample is off by more than 4 standard errors."""
    # What was never seen may yet happen now and then.
    error = max(float(values.std(ddof=1)) / np.sqrt(len(values)), 1.0 / len(values))
    mean = float(values.mean())
    return None if abs(mean - exact) <= 4 * error + 1e-12 else f"{name}: {mean:.5f} ± {error:.5f}, exact {exact:.5f}"


def disagreements(title: Title, match: Match, sample: Sampled) -> list[str]:
    """Measures in which the exact contest and the sample differ by more than 4 standard errors."""
    contest = solve(title, match)
    course = follow(title, match)
    exact, margin = contest.final_margin, sample.margin.astype(float)
    mean = float(exact @ contest.margins)
    points, assisted = contest.expected("points"), contest.expected("assisted")
    near = np.abs(contest.margins) <= title.close
    trailed, came_back = course.comebacks
    found = [
        mean_within("side A wins", sample.won, contest.win_chance),
        mean_within("margin", margin, mean),
        # The mean square about the exact mean has the exact variance for its mean.
        mean_within("variance", (margin - mean) ** 2, float(exact @ (contest.margins - mean) ** 2)),
        mean_within("ties", (margin == 0).astype(float), float(exact[contest.zero])),
        mean_within("close", (np.abs(margin) <= title.close).astype(float), float(exact[near].sum())),
        mean_within("lead changes", sample.lead_changes.astype(float), course.lead_changes),
        mean_within("behind at the turn", sample.trailed, trailed),
        mean_within("comebacks", sample.came_back, came_back),
    ]
    for side, name in enumerate("AB"):
        found.append(mean_within(f"points of {name}", sample.points[side], float(points[side])))
        found.append(mean_within(f"assisted {name}", sample.assisted[side], float(assisted[side])))
    # Followed forward from the start, or back from the end: one contest.
    if not math.isclose(course.win, contest.win_chance, abs_tol=1e-8):
        found.append(f"side A wins: {course.win} forward, {contest.win_chance} back")
    found += [
        f"{measure}: {course.total(measure)} forward, {contest.expected(measure)} back"
        for measure in ("points", "assisted")
        if not np.allclose(course.total(measure), contest.expected(measure), rtol=1e-7, atol=1e-7)
    ]
    return [line for line in found if line]


def check_agreement(title: Title, match: Match, sample: Sampled) -> None:
    check_equal(disagreements(title, match, sample), [])


def check_case(case: Case, contests: int) -> None:
    """The exact contest agrees with one played out, and the control does not."""
    sample = play_by_play(*case.right(), contests, seed=20250)
    check_agreement(*case.right(), sample)
    with pytest.raises(Disagrees):
        check_agreement(*case.control(), sample)
