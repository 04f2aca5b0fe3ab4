"""A title with all that the trade's rules can say at once: what speed and memory are measured on."""

from __future__ import annotations

from typing import Any

from venue.scenario.title import Title

from .building import turns_title

ATTEMPTS = {
    "near": {"share": 0.65, "points": 2, "chance": "48 %"},
    "far": {"share": 0.35, "points": 3, "chance": "34 %"},
}
RULES: dict[str, dict[str, Any]] = {
    "slope": {"kind": "slope", "per_point": "0.6 pp", "cap": 12},
    "far away": {"kind": "table", "shift": [[-20, -0.03], [0, 0.0], [20, 0.05]]},
    "visitors' table": {"kind": "table", "shift": [[0, 0.0], [8, 0.03]], "serves": "visitors"},
    "clock": {
        "kind": "clocked slope",
        "steps": [{"left": "360 s", "per_point": "0.3 pp"}, {"left": "60 s", "per_point": "0.6 pp"}],
    },
    "computer's clock": {
        "kind": "clocked slope",
        "steps": [{"left": "180 s", "per_point": "0.4 pp"}],
        "serves": "computer",
    },
    "to tie": {"kind": "closing chance", "last": "12 s", "when": "would tie", "at_least": "55 %", "periods": [4]},
    "to lead": {"kind": "closing chance", "last": "8 s", "when": "would lead", "at_least": "45 %", "periods": [4]},
    "to come near": {
        "kind": "closing chance", "last": "20 s", "when": "would come within", "points": 3, "at_least": "40 %",
    },
    "far behind": {"kind": "closing chance", "last": "15 s", "when": "behind", "points": 6, "at_least": "60 %"},
    "run": {"kind": "run boost", "after": 3, "gain": "4 pp"},
    "drought": {"kind": "drought", "after": 4, "at_least": "75 %"},
    "least": {"kind": "least chance", "at_least": "20 %", "behind_from": 10},
    "steal": {"kind": "turnover", "shift": [[-10, 0.04], [0, 0.0], [10, -0.05]]},
    "visitors' steal": {"kind": "turnover", "shift": [[-6, 0.03], [0, 0.0]], "serves": "visitors"},
    "last far": {"kind": "slope", "per_point": "0.5 pp", "attempts": ["far"], "periods": [4], "behind_from": 1},
}  # fmt: skip


def full_title(rules: dict[str, dict[str, Any]] | None = None) -> Title:
    """Four periods of three minutes, two kinds of attempt, fifteen rules, runs and droughts counted for both sides."""
    return turns_title(
        "180 s", periods=4, mean_attack="6 s", attempts=ATTEMPTS, turnover=0.12, minimum_chance=0.02,
        maximum_chance=0.95, close=3, rules=RULES if rules is None else rules,
    )  # fmt: skip
