"""Titles drawn small and at random by Hypothesis, always the same ones."""

from __future__ import annotations

from typing import Any

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st

from venue.scenario.title import Title

from .building import Rules, open_title, points_title, race_title, turns_title

few = settings(
    max_examples=25,
    derandomize=True,
    deadline=None,
    database=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)

SHIFTS = st.integers(-15, 15).map(lambda points: f"{points} pp")
PLAIN = ["slope", "table", "clocked slope", "closing chance"]
LIFTS = ["closing chance", "drought", "least chance"]
LESS, MORE = st.integers(-4, 0), st.integers(1, 6)


@st.composite
def rules_of(
    draw: st.DrawFn,
    kinds: list[str],
    periods: int,
    *,
    seconds: int = 0,
    points: int = 0,
    relative: bool = True,
    players: bool = False,
) -> Rules:
    """Up to three rules of some kinds, for a contest by the clock or to so many points."""
    rules = {}
    for name in ("first", "second", "third")[: draw(st.integers(0, 3))]:
        kind = draw(st.sampled_from(kinds))
        rule: dict[str, Any] = {
            "kind": kind,
            "serves": draw(st.sampled_from(["both", "visitors", "computer"])),
            "facing": draw(st.sampled_from(["anyone", "anyone", "visitors", "computer"])),
            "scalable": draw(st.booleans()),
            "overtime": draw(st.sampled_from(["also", "also", "never"])),
            "weight": draw(st.sampled_from([1.0, 1.0, 0.0, 0.5, 1.5])),
        }
        if players and kind in ("run boost", "drought"):
            rule["counts"] = draw(st.sampled_from(["side", "player"]))
        if kind not in (*LIFTS, "lucky draw"):
            rule["relative"] = relative and draw(st.booleans())
        if draw(st.booleans()):
            rule["periods"] = [draw(st.integers(1, periods))]
        if draw(st.booleans()):
            rule["behind_from"] = draw(st.integers(-3, 2))
        if kind == "slope":
            rule |= {"per_point": draw(SHIFTS), "cap": draw(st.none() | st.integers(1, 9))}
        elif kind in ("table", "turnover", "block"):
            rule["shift"] = [[draw(LESS), draw(SHIFTS)], [draw(MORE), draw(SHIFTS)]]
        elif kind == "clocked slope":
            ahead = draw(st.integers(1, points or seconds * periods))
            rule["steps"] = [{"points_left": ahead} if points else {"left": f"{ahead} s"}]
            rule["steps"][0]["per_point"] = draw(SHIFTS)
        elif kind == "run boost":
            rule |= {"after": draw(st.integers(1, 3)), "gain": draw(SHIFTS)}
        elif kind == "drought":
            rule |= {"after": draw(st.integers(1, 3)), "at_least": draw(st.floats(0.2, 0.9))}
        elif kind == "lucky draw":
            odds = st.integers(0, 3).map(float)
            rule |= {
                "every": f"{draw(st.integers(1, 6))} s",
                "prizes": {
                    "little": {"lengths": draw(st.integers(0, 2)), "odds": [[-4, 1.0], [4, draw(odds)]]},
                    "much": {"lengths": draw(st.integers(1, 4)), "odds": [[0, draw(odds)], [6, draw(odds)]]},
                },
            }
        elif kind == "least chance":
            rule["at_least"] = draw(st.floats(0.2, 0.9))
        else:
            when = st.sampled_from(["would tie", "would lead", "would come within", "behind"])
            rule |= {"when": draw(when), "points": draw(st.integers(0, 3))}
            rule[draw(st.sampled_from(["at_least", "at_least", "exactly"]))] = draw(st.floats(0.2, 0.9))
            ahead = draw(st.integers(1, points or seconds))
            rule |= {"last_points": ahead} if points else {"last": f"{ahead} s"}
        rules[name] = rule
    return rules


@st.composite
def titles(draw: st.DrawFn) -> Title:
    """Titles of one to three short periods against the clock without memory; sides are alike but for the rules."""
    turns = draw(st.booleans())
    seconds, periods = draw(st.integers(3, 20)), draw(st.integers(1, 3))
    floor = draw(st.sampled_from([0.0, 0.01, 0.1]))
    first: dict[str, Any] = {"share": 0.6, "points": draw(st.integers(1, 3))}
    second: dict[str, Any] = {"share": 0.4, "points": draw(st.integers(1, 3))}
    keys: dict[str, Any] = {
        "periods": periods,
        "mean_attack": f"{draw(st.sampled_from([1.0, 1.5, 4.0]))} s",
        "minimum_chance": floor,
        "maximum_chance": 1.0 - floor,
        "tie": draw(st.sampled_from(["draw", "next score"])),
        "period_start": draw(st.sampled_from(["toss", "carry on"])),
        "rules": draw(rules_of(PLAIN + ["turnover"] * turns, periods, seconds=seconds)),
    }
    if turns:
        first["chance"], second["chance"] = draw(st.floats(0.2, 0.8)), draw(st.floats(0.2, 0.8))
        keys |= {"scorer_keeps": draw(st.booleans()), "turnover": draw(st.sampled_from([0.0, 0.2]))}
    elif draw(st.booleans()):
        keys["scores_again"] = draw(st.floats(0.2, 0.8))
    build = turns_title if turns else open_title
    return build(f"{seconds} s", attempts={"first": first, "second": second}, **keys)


gaps = st.floats(-1.5, 1.5)


LEVEL = st.integers(0, 8)


@st.composite
def crews(draw: st.DrawFn, attempts: dict[str, Any]) -> dict[str, Any]:
    """Two players for each side, with levels and tables of their own; the kinds of attempt learn who takes them."""
    for kind in attempts.values():
        share = draw(st.sampled_from([0.0, 0.3, 0.5]))
        kind |= {"taken_by": {"one": share, "other": 1.0 - share}, "skill": draw(st.sampled_from(["aim", "reach"]))}
    return {
        "level_table": [[0, -0.5], [4, 0.0], [8, 0.7]],
        "level_tables": {"reach": [[0, -0.2], [8, 0.9]]},
        "defence": "guard",
        "visitor_levels": {"aim": draw(LEVEL), "reach": draw(LEVEL), "guard": draw(LEVEL)},
        "computer_levels": {"aim": draw(LEVEL)},
        "visitor_players": {"one": {"aim": draw(LEVEL)}},
        "computer_players": {"one": {"reach": draw(LEVEL)}, "other": {"reach": draw(LEVEL), "guard": draw(LEVEL)}},
    }


@st.composite
def remembering(draw: st.DrawFn) -> Title:
    """Titles against the clock or to so many points, with rules of every kind; sides are alike but for the rules."""
    turns, to_points = draw(st.booleans()), draw(st.booleans())
    periods = draw(st.integers(1, 2))
    seconds, points = (0, draw(st.integers(4, 7))) if to_points else (draw(st.integers(8, 20)), 0)
    players = turns and draw(st.booleans())
    kinds = ["slope", "closing chance", "run boost", "least chance", "clocked slope"] + [
        "drought",
        "turnover",
        "block",
    ] * turns
    attempts = {name: {"share": share, "points": draw(st.integers(1, 2))} for name, share in (("a", 0.6), ("b", 0.4))}
    keys: dict[str, Any] = {
        "periods": periods,
        "mean_attack": f"{draw(st.sampled_from([1.0, 2.0]))} s",
        "minimum_chance": 0.05,
        "maximum_chance": 0.95,
        "period_start": draw(st.sampled_from(["toss", "carry on"])),
        "attempts": attempts,
        "rules": draw(rules_of(kinds, periods, seconds=seconds, points=points, players=players)),
    }
    if players:
        keys |= draw(crews(attempts))
    if draw(st.booleans()):
        when = (
            {"points_left": draw(st.integers(1, points))} if points else {"left": f"{draw(st.integers(1, seconds))} s"}
        )
        keys["mixes"] = {"end": {"shares": {"b": 1.0}} | when}
    if turns and draw(st.booleans()):
        keys |= {"attack_limit": f"{draw(st.integers(2, 4))} s", "at_limit": draw(st.sampled_from(["lost", "attempt"]))}
        keys["mixes"] = keys.get("mixes", {}) | {"far": {"shares": {"b": 0.8, "a": 0.2}, "behind_from": 2}}
    if turns:
        for kind in attempts.values():
            kind["chance"] = draw(st.floats(0.3, 0.7))
        keys |= {"scorer_keeps": draw(st.booleans()), "turnover": draw(st.sampled_from([0.0, 0.2]))}
        keys |= {"block": draw(st.sampled_from([0.0, 0.15])), "strength": draw(st.sampled_from([1.0, 0.8]))}
    if to_points:
        return points_title(points, draw(st.integers(1, 2)), play="turns" if turns else "open", **keys)
    keys["tie"] = draw(st.sampled_from(["draw", "next score", "overtime"]))
    if keys["tie"] == "overtime":
        keys["overtime"] = {"length": f"{draw(st.integers(2, 9))} s"}
    return (turns_title if turns else open_title)(f"{seconds} s", **keys)


@st.composite
def races(draw: st.DrawFn) -> Title:
    """Short races with rules of every kind that a race knows."""
    seconds, periods = draw(st.integers(8, 30)), draw(st.integers(1, 2))
    rules = draw(rules_of(["slope", "table", "clocked slope", "lucky draw"], periods, seconds=seconds, relative=False))
    return race_title(
        seconds * periods, periods=periods, pace=4.0, wander=draw(st.sampled_from([0.5, 0.8, 1.3])), rules=rules
    )


every_form = st.one_of(remembering(), remembering(), races())
