"""How a floor seats visitors: the gaps of skills by drawing seats, and the line-ups by running a floor."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

import venue
from venue.errors import InputError
from venue.scenario.load import Loaded
from venue.study.line_ups import Against, LineUp, line_up_of, line_ups_of, match_ups_of

from ..floor.textbook import run, textbook, walk
from ..scenario.building import FOLDER

MEAN, SD, COMPUTER = 0.3, 0.5, -0.2
DRAWN = 40_000


def floor(seats: int, sizes: dict[str, float] | None = None, count: int = 1, **keys: Any) -> Loaded:
    row = {"title": "walk", "price": 1, "seats": seats, "count": count, "wait_for_opponent": "30 s"} | keys
    people = {"skill": {"mean": MEAN, "sd": SD}, "party": {"sizes": sizes or {"1": 1.0}, "same_side": 1.0}}
    title = walk(20, 0.02, opponent=COMPUTER, difficulties={"hard": 0.4})
    return textbook({"row": row}, 60.0, titles={"walk": title}, people=people)


def seatings(loaded: Loaded) -> set[tuple[int, int]]:
    return {item.visitors for item in line_ups_of(loaded, "walk")}


def test_one_and_two_seats_by_hand() -> None:
    (alone,) = line_ups_of(floor(1, difficulty="hard"), "walk")
    assert (alone.match_ups.mean, alone.match_ups.sd) == (pytest.approx(MEAN - COMPUTER - 0.4), SD)
    both, single = line_ups_of(floor(2), "walk")
    assert (both.match_ups.mean, both.match_ups.sd) == (0.0, pytest.approx(SD * math.sqrt(2.0)))
    assert (single.match_ups.mean, single.match_ups.side_b) == (pytest.approx(MEAN - COMPUTER), "computer")
    assert seatings(floor(2, alone="wait")) == {(1, 1)}


@pytest.mark.parametrize("seats", [2, 3, 4])
def test_gaps_are_those_of_seats_drawn_one_by_one(seats: int) -> None:
    """A side is the mean of its seats, the computer's among them: drawn from the definition."""
    draws = np.random.default_rng(41)
    for item in line_ups_of(floor(seats, {"2": 1.0}), "walk"):
        sides = []
        for sat, room in zip(item.visitors, item.seats, strict=True):
            skills = np.full((DRAWN, room), COMPUTER)
            skills[:, :sat] = draws.normal(MEAN, SD, (DRAWN, sat))
            sides.append(skills.mean(axis=1))
        gaps = sides[0] - sides[1]
        assert abs(gaps.mean() - item.match_ups.mean) < 4 * gaps.std() / math.sqrt(DRAWN)
        assert gaps.std() == pytest.approx(item.match_ups.sd, rel=4 / math.sqrt(2 * DRAWN))
        if item.seats != (1, 1):
            # The control: a visitor's whole gap, as at a machine with one seat.
            with pytest.raises(AssertionError):
                assert gaps.std() == pytest.approx(SD * math.sqrt(sum(item.visitors)), rel=4 / math.sqrt(2 * DRAWN))


@pytest.mark.parametrize("sizes", [{"1": 1.0}, {"1": 0.5, "2": 0.5}], ids=["alone", "in pairs too"])
def test_a_floor_seats_them_so_and_no_other_way(sizes: dict[str, float]) -> None:
    loaded = floor(4, sizes)
    plays = run(loaded, replications=1, seed=11)[0].plays
    first = plays[plays["against"] >= 0].sort_values("began").groupby("contest").first()
    own, other = first["beside"] + 1, first["against"]
    seen = {(max(a, b), min(a, b)) if b else (a, 0) for a, b in zip(own.tolist(), other.tolist(), strict=True)}
    assert seen <= seatings(loaded)
    assert len(seen) >= 3
    assert ((2, 0) in seen) == ((2, 0) in seatings(loaded)) == ("2" in sizes)


def test_weights_go_by_cabinets() -> None:
    loaded = floor(1, count=3)
    raw = loaded.vary(["machines.row.difficulty=hard"])
    assert [item.weight for item in line_ups_of(raw, "walk")] == [1.0]
    machines: dict[str, dict[str, Any]] = {
        "easy": {"count": 3}, "hard": {"difficulty": "hard"}, "pair": {"seats": 2, "count": 2}, "more": {"count": 2},
    }  # fmt: skip
    machines = {key: {"title": "walk", "price": 1} | row for key, row in machines.items()}
    several = textbook(machines, 6.0, titles={"walk": walk(20, difficulties={"hard": 0.4})})
    found: dict[tuple[str, ...], LineUp] = {item.machines: item for item in line_ups_of(several, "walk")}
    assert {key: item.weight for key, item in found.items()} == {
        ("easy", "pair", "more"): pytest.approx(6 / 8), ("hard",): pytest.approx(1 / 8),
        ("pair",): pytest.approx(1 / 8),
    }  # fmt: skip


def test_another_opponent_and_difficulty_can_be_asked_for() -> None:
    four = floor(4)
    assert line_up_of(four, "walk").visitors == (2, 2)
    assert match_ups_of(four, "walk", Against(opponent="computer", difficulty="hard")).mean == pytest.approx(
        (MEAN - COMPUTER - 0.4) / 2
    )
    assert match_ups_of(floor(1), "walk", Against(opponent="two a side")).sd == pytest.approx(SD)
    assert match_ups_of(floor(1), "walk", Against(gap=0.7, opponent="visitor")).side_b == "visitor"
    for against, message in (
        (Against(opponent="nobody"), '--opponent "nobody": known: computer, visitor, two a side'),
        (Against(difficulty="herd"), '--difficulty "herd": walk has no such difficulty; did you mean "hard"?'),
        (Against(gap=30.0), "gap = 30: must lie between -20 and 20 log-odds"),
    ):
        with pytest.raises(InputError) as caught:
            match_ups_of(four, "walk", against)
        assert str(caught.value).startswith(message)


def test_each_has_results_of_its_own() -> None:
    loaded = venue.load(FOLDER / "pier.toml", ['titles.lantern.period_length="10 s"'])
    found = venue.solve(loaded, "lantern", strengths=[1.0])
    rows = found.to_dict()["line_ups"]
    assert [(row["side_a"], row["side_b"], row["weight"]) for row in rows] == [(1, 1, 0.5), (1, 0, 0.5)]
    alone = venue.solve(loaded, "lantern", strengths=[1.0], opponent="computer")
    assert rows[1]["results"]["close_finishes"] == pytest.approx(alone.headlines[0].close_finishes, rel=1e-12)
    assert rows[0]["results"]["close_finishes"] == pytest.approx(found.headlines[0].close_finishes, rel=1e-12)
    assert rows[0]["results"]["close_finishes"] != pytest.approx(rows[1]["results"]["close_finishes"], rel=1e-3)
    assert alone.to_dict()["line_ups"] == []
