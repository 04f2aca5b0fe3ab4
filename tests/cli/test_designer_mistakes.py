"""Bad input about titles, told by the command: forms, rules, levels and targets; one line, exit 2."""

from __future__ import annotations

from pathlib import Path

import pytest

from .building import SMALL, Shell

RULE = "[titles.reeds.rules.wind]"
CLOCK = 'period_length = "20 s"'
POINTS = "first_to = { points = 9 }"
SLOPE = """kind = "slope"
per_point = "3 pp"
cap = 4"""
ATTEMPT = '''mean_attack = "4 s"

[titles.reeds.attempts.reed]
share = 1.0
points = 1
chance = "50 %"'''
RACE = "race = { distance = 100, pace = 5 }"

# What is changed in a sound scenario, and the line that tells it.
FAULTS = {
    "a period that is not there": (
        {SLOPE: SLOPE + "\nperiods = [3]"},
        "titles.reeds.rules.wind.periods = 3: no such period, must be 1, the title's only one; write another",
    ),
    "an attempt that is not there": (
        {SLOPE: SLOPE + '\nattempts = ["red"]'},
        'titles.reeds.rules.wind.attempts = "red": no such attempt; did you mean "reed"?',
    ),
    "a level beyond the table": (
        {'chance = "50 %"': 'chance = "50 %"\nskill = "aim"',
         CLOCK: CLOCK + "\nlevel_table = [[1, -1.0], [9, 1.0]]\nvisitor_levels = { aim = 12 }"},
        "titles.reeds.visitor_levels.aim = 12: must lie between 1 and 9, as level_table does; change it",
    ),
    "a level without a table": (
        {'chance = "50 %"': 'chance = "50 %"\nskill = "aim"', CLOCK: CLOCK + "\nvisitor_levels = { aim = 2 }"},
        "titles.reeds.visitor_levels.aim = 2: needs a level_table to say what it means; add level_table = "
        "[[1, -1.0], [9, 1.0]]",
    ),
    "a category without a level": (
        {'chance = "50 %"': 'chance = "50 %"\nskill = "aim"',
         CLOCK: CLOCK + '\nlevel_table = [[1, -1.0], [9, 1.0]]\nvisitor_levels = { eye = 2 }\ndefence = "eye"'},
        'titles.reeds.attempts.reed.skill = "aim": no side has a level of it; known: eye',
    ),
    "a race that counts misses": (
        {ATTEMPT: "", CLOCK: RACE, SLOPE: 'kind = "drought"\nafter = 2\nat_least = 0.9'},
        'titles.reeds.rules.wind.kind = "drought": counts attempts, which a race has not; write a slope, table, '
        "clocked slope or lucky draw",
    ),
    "a race that counts scores": (
        {ATTEMPT: "", CLOCK: RACE, SLOPE: 'kind = "run boost"\nafter = 2\ngain = 0.1'},
        'titles.reeds.rules.wind.kind = "run boost": counts scores, which a race has not; write a slope, table, '
        "clocked slope or lucky draw",
    ),
    "seconds in a contest to points": (
        {CLOCK: POINTS, SLOPE: 'kind = "closing chance"\nlast = "5 s"\nwhen = "would tie"\nat_least = 0.9'},
        "titles.reeds.rules.wind.last: needs a clock; this contest ends by points; write last_points = 3",
    ),
    "points left by the clock": (
        {SLOPE: 'kind = "closing chance"\nlast_points = 3\nwhen = "would tie"\nat_least = 0.9'},
        "titles.reeds.rules.wind.last_points: needs a contest to N points; this one has a clock; write "
        'last = "20 s"',
    ),
    "two ways to end": (
        {CLOCK: CLOCK + "\n" + POINTS},
        "titles.reeds.first_to: stands beside period_length, but a contest has one way to end; take one out",
    ),
    "no way to end": (
        {CLOCK: ""}, 'titles.reeds.period_length: is missing; add it, like period_length = "50 s"',
    ),
    "points that nobody can make": (
        {CLOCK: POINTS + "\nminimum_chance = 0.0", 'chance = "50 %"': "chance = 0.0"},
        "titles.reeds.first_to: is never reached, since nobody can score; give an attempt a chance",
    ),
}  # fmt: skip


def written(changes: dict[str, str]) -> str:
    """A scenario file with these changes."""
    text = SMALL
    for old, new in changes.items():
        assert text.count(old) == 1
        text = text.replace(old, new)
    Path("bad.toml").write_text(text, encoding="utf-8")
    return "bad.toml"


@pytest.mark.parametrize("command", ["contest", "check"])
@pytest.mark.parametrize("name", FAULTS)
def test_faults_of_a_title(shell: Shell, name: str, command: str) -> None:
    changes, line = FAULTS[name]
    assert shell.refused(command, written(changes)) == f"bad.toml: {line}"


def test_the_sound_scenario_is_sound(shell: Shell) -> None:
    for changes in ({}, {CLOCK: POINTS}, {ATTEMPT: "", CLOCK: RACE}):
        assert shell("contest", written(changes), "--strengths", "1").code == 0


def test_a_memory_that_does_not_fit(shell: Shell) -> None:
    long = f"""{SLOPE}

[titles.reeds.rules.dry]
kind = "drought"
after = 20
at_least = 0.9

[titles.reeds.rules.flood]
kind = "run boost"
after = 20
gain = 0.1
"""
    line = shell.refused("contest", written({SLOPE: long, 'switch = "help"': ""}))
    assert "states" in line and "the limit is 300000" in line and "shorter runs or droughts" in line


def test_rules_that_contradict_are_told(shell: Shell) -> None:
    meet = f"""{SLOPE}

[titles.reeds.rules.late]
kind = "closing chance"
last = "5 s"
when = "would tie"
at_least = 0.9

[titles.reeds.rules.later]
kind = "least chance"
at_least = 0.8
behind_from = 1
"""
    file = written({SLOPE: meet, 'switch = "help"': ""})
    assert shell("contest", file, "--json").json["apart"]["may_meet"] == [["late", "later"]]
    told = shell("contest", file, "--full").out
    assert "late" in told and "later" in told and "greater" in told
    assert shell("contest", "small.toml", "--json").json["apart"]["may_meet"] == []


TUNE = ("tune", "small.toml", "--reach")
UNREACHABLE = [
    (("close_finishes=1.5",), '--reach close_finishes=1.5: must lie between 0 and 1; did you mean "1.5 %"?'),
    (("close=0.5",), '--reach close: no such result; did you mean "close_finishes"?'),
    (("close_finishes",),
     '--reach "close_finishes": is not of the right form; write it like --reach close_finishes=0.6'),
    (("close_finishes>=0.5",),
     '--reach "close_finishes>=0.5": is not of the right form; write it like --reach close_finishes=0.6'),
    (("close_finishes=much",),
     '--reach close_finishes: "much" is not a number; write it like --reach close_finishes=0.6'),
    (("close_finishes=nan",),
     '--reach close_finishes: "nan" is not a number; write it like --reach close_finishes=0.6'),
    (("level=0.4", "--by", "rules.wnd.per_point"),
     '--by rules.wnd.per_point: titles.reeds.rules has no wnd; did you mean "wind"?'),
    (("level=0.4", "--by", "label"), "--by label: titles.reeds.label is not a number; name one that is"),
    (("level=0.4", "--by", "tie"), "--by tie: titles.reeds.tie is not a number; name one that is"),
    (("level=0.4", "--by", "a b"), '--by "a b": is not a key; write it like rules.NAME.per_point'),
    (("level=0.4", "--keep", "margin_sd=3"),
     '--keep "margin_sd=3": is not MEASURE>=NUMBER; write it like --keep "better_side_wins>=0.65"'),
    (("level=0.4", "--keep", "margin>=3"), '--keep margin: no such result; did you mean "margin_sd"?'),
    (("level=0.4", "--title", "reed"), 'small.toml: titles: has no "reed"; did you mean "reeds"?'),
    (("skill_edge=0.5",),
     "--reach skill_edge=0.5: skill_edge is not defined for any study.strength; choose another result"),
]  # fmt: skip


@pytest.mark.parametrize(("words", "line"), UNREACHABLE, ids=[" ".join(words) for words, _ in UNREACHABLE])
def test_targets_that_are_none(shell: Shell, words: tuple[str, ...], line: str) -> None:
    assert shell.refused(*TUNE, *words) == line


@pytest.mark.parametrize("reach", ["margin_sd=50", "close_finishes=0.01", "lead_changes=-1"])
def test_targets_out_of_reach_say_how_near(shell: Shell, reach: str) -> None:
    line = shell.refused(*TUNE, reach)
    assert line.startswith(f"--reach {reach}: no study.strength from 0 to 10 reaches it; the nearest is ")


def test_a_bound_that_the_solution_breaks(shell: Shell) -> None:
    line = shell.refused(*TUNE, "level=0.4", "--gap", "0.5", "--keep", "better_side_wins>=0.95")
    assert "reaches it, but better_side_wins is 0." in line and line.endswith("there, must be >= 0.95")


def test_what_is_said_can_be_set(shell: Shell) -> None:
    found = shell(*TUNE, "level=0.4", "--json").json
    again = shell("contest", "small.toml", "--json", "--set", found["change"], "--strengths", repr(found["value"])).json
    assert again["points"][0]["level"] == pytest.approx(0.4, abs=1e-9)
