"""A situation read from a text: what it says, and each mistake in one line with key, value, bounds and fix."""

from __future__ import annotations

import pytest

import venue
from venue.contest.situation import Situation
from venue.errors import InputError

from ..scenario.building import FOLDER

PIER, BAR = (venue.load(FOLDER / f"{name}.toml") for name in ("pier", "bar"))


def test_what_is_left_out_has_a_default() -> None:
    found = venue.inspect(PIER, "tug", at="margin=-2")
    assert found.at == Situation(side=0, period=4, left=45, margin=-2)
    assert venue.inspect(PIER, "tug", at=" period = 2 , left=5 s, margin=+1, side=B, missed=3 ").at == Situation(
        side=1, period=2, left=5, margin=1, missed=3
    )
    assert venue.inspect(BAR, "locks", at="score=4:6").at == Situation(0, 3, None, -2, (4, 6))


MISTAKES = [
    ("tug", "", '--at "": is not KEY=VALUE; write it like "period=4, left=5 s, margin=-2"'),
    ("tug", "perod=3", '--at perod=3: this title has no such key; did you mean "period"?'),
    ("tug", "period=4", '--at: margin is missing; write it like "period=4, left=5 s, margin=-2"'),
    ("tug", "period=9, margin=1", "--at period=9: must lie between 1 and 4; write it like"),
    ("tug", "margin=1, margin=2", "--at margin=2: margin is named twice; name it once"),
    ("tug", "margin=two", "--at margin=two: must be a whole number; write it like"),
    ("tug", "margin=1000", "--at margin=1000: must lie between -360 and 360; write it like"),
    ("tug", "margin=1, missed=-1", "--at missed=-1: must lie between 0 and 1000; write it like"),
    ("tug", "margin=1, left=5", '--at left=5: a duration needs its unit; write "5 s" or "5 min"'),
    ("tug", "margin=1, left=90 s", "--at left=90 s: must be whole seconds from 1 s to 45 s, the time of a period"),
    ("tug", "margin=1, side=C", "--at side=C: must be A, B; known: A, B"),
    ("tug", "score=3:1", "--at score=3:1: this title has no such key;"),
    ("locks", "margin=1", "--at margin=1: this title has no such key;"),
    ("locks", "period=1", '--at: score is missing; write it like "score=3:6"'),
    ("locks", "score=3-1", "--at score=3-1: must be own points, a colon, theirs; write it like"),
    ("locks", "score=9:1", "--at score=9:1: play never goes on from there;"),
]


@pytest.mark.parametrize(("title", "text", "message"), MISTAKES, ids=[text for _, text, _ in MISTAKES])
def test_a_mistake_is_refused_in_one_line(title: str, text: str, message: str) -> None:
    with pytest.raises(InputError) as caught:
        venue.inspect(PIER if title == "tug" else BAR, title, at=text)
    assert str(caught.value).startswith(message) and "\n" not in str(caught.value)


def test_all_of_it_is_data() -> None:
    found = venue.inspect(PIER, "tug", at="period=4, left=5 s, margin=-2", gap=0.0).to_dict()
    haul, heave = found["chances"]
    assert (haul["chance"], heave["chance"]) == (pytest.approx(0.55), pytest.approx(0.6))
    assert [part["reason"] for part in heave["parts"]] == ["behind", "would tie"]
    assert found["at"]["side"] == "A" and found["kind"] == "situation"
