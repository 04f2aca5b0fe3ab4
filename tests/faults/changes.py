"""Plain data made wrong: parts taken out, doubled, moved, or replaced by what nobody should write."""

from __future__ import annotations

import copy
import math
from collections.abc import Iterator
from typing import Any

from hypothesis import strategies as st

HOSTILE = (
    None, True, -1, 0, 1, 2**63, 10**400, -0.0, 1e-15, 1e308, math.inf, -math.inf, math.nan, "", " ", "0", "-1 s",
    "50 %", "1e9", "nan", "10:00-10:00", "x" * 300, "\x1b[2J", "\u202e", "=1+1", "a;=1+1", "<script>", "\ud800",
    [], {}, [[]], [[1, 2], [1, 2]], {"value": 1}, {"value": 1, "from": "measured"}, {"from": "assumed"}, ["x"] * 50,
)  # fmt: skip

Place = tuple[Any, ...]


def places(item: Any, here: Place = ()) -> Iterator[Place]:
    """Every place in nested tables and lists."""
    if here:
        yield here
    inner = item.items() if isinstance(item, dict) else enumerate(item) if isinstance(item, list) else ()
    for key, value in inner:
        yield from places(value, (*here, key))


def _holder(raw: Any, place: Place) -> Any:
    for key in place[:-1]:
        raw = raw[key]
    return raw


@st.composite
def changed(draw: st.DrawFn, raw: Any, most: int = 4) -> Any:
    """Data with one to `most` changes."""
    raw = copy.deepcopy(raw)
    for _ in range(draw(st.integers(1, most))):
        known = list(places(raw))
        if not known:
            return raw
        place = draw(st.sampled_from(known))
        holder, key = _holder(raw, place), place[-1]
        what = draw(st.sampled_from(["replace", "take out", "rename", "swap", "number"]))
        if what == "take out":
            del holder[key]
        elif what == "rename" and isinstance(holder, dict):
            holder[draw(st.sampled_from(["", "x", "from", "value", "a.b", "\u202e", "x" * 201]))] = holder.pop(key)
        elif what == "swap":
            other = draw(st.sampled_from(known))
            holder[key] = copy.deepcopy(_holder(raw, (*other, None)))
        elif what == "number" and isinstance(holder[key], int | float) and not isinstance(holder[key], bool):
            holder[key] = draw(st.sampled_from([-holder[key], holder[key] * 1000, holder[key] + 1, 0, 0.5]))
        else:
            holder[key] = copy.deepcopy(draw(st.sampled_from(HOSTILE)))
    return raw
