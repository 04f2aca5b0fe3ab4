"""Changes laid over a scenario, as `--set KEY=VALUE` gives them."""

from __future__ import annotations

from pathlib import Path

import pytest

from venue.errors import ScenarioError
from venue.scenario.load import Loaded, load
from venue.scenario.origin import Origin

from .building import FOLDER, assert_lines

PIER = FOLDER / "pier.toml"


def refused(*changes: str, path: Path = PIER) -> list[str]:
    with pytest.raises(ScenarioError) as caught:
        load(path, changes)
    assert_lines(caught.value, caught.value.source)
    return str(caught.value).replace(str(path), "FILE").split("\n")


def with_changes(*changes: str) -> Loaded:
    return load(PIER, changes)


def test_numbers_words_durations_and_hours_with_or_without_quotes() -> None:
    scenario = with_changes(
        "machines.tug.price=3", "titles.tug.period_length = 50 s", 'titles.tug.break_length="9 s"',
        "venue.hours.monday=closed", "venue.hours.every_day=10:00-20:00", "people.wallet.off=true",
        "venue.name=The Quiet Hall", 'study.switches_off=["tide-help"]', "titles.tug.attempts.haul.chance=60 %",
        "people.choice.rest=-inf",
    ).scenario  # fmt: skip
    assert scenario.machines["tug"].price == 3
    assert (scenario.titles["tug"].period_length, scenario.titles["tug"].break_length) == (50.0, 9.0)
    assert scenario.venue.hours.on(0) is None and scenario.venue.hours.on(1) == (36000.0, 72000.0)
    assert scenario.people.wallet.off and scenario.venue.name == "The Quiet Hall"
    assert scenario.study.switches_off == ("tide-help",)
    assert scenario.titles["tug"].attempts["haul"].chance == 0.6
    assert scenario.people.choice.rest == float("-inf")


def test_a_later_change_wins_over_an_earlier_one() -> None:
    assert with_changes("study.seed=2", "study.seed=3").scenario.study.seed == 3


def test_a_change_keeps_what_it_does_not_name() -> None:
    before, after = load(PIER).scenario, with_changes("people.skill.sd=0.1").scenario
    assert after.people.skill.practice == before.people.skill.practice
    assert after.titles == before.titles


def test_a_changed_value_no_longer_comes_from_where_the_file_says() -> None:
    assert ("people", "skill", "sd") not in with_changes("people.skill.sd=0.1").origins
    stated = with_changes('people.skill.sd={ value = 0.1, from = "assumed" }')
    assert stated.origins[("people", "skill", "sd")] == Origin("assumed")
    assert with_changes("people.skill.sd.value=0.1").origins[("people", "skill", "sd")].source == "fitted"


def test_one_value_of_a_table_that_says_where_it_comes_from() -> None:
    """The other values of the table stay, and the changed one does not pass for measured."""
    loaded = with_changes('venue.arrivals.per_hour."12:00"=9', "venue.arrivals.weekday.monday=0.1")
    noon = 12 * 3600.0
    before, after = load(PIER).scenario.venue.arrivals.per_hour, loaded.scenario.venue.arrivals.per_hour
    assert after == before | {noon: 9.0} != before
    assert loaded.scenario.venue.arrivals.weekday.monday == 0.1
    per_hour = ("venue", "arrivals", "per_hour")
    assert loaded.origins[per_hour].source == "measured"
    assert loaded.origins[(*per_hour, "12:00")] == Origin("assumed", "changed with --set")


@pytest.mark.parametrize(
    ("change", "line"),
    [
        ("machines.tug.prise=2", 'FILE: --set machines.tug.prise: unknown key; did you mean "price"?'),
        ("studdy.days=3", 'FILE: --set studdy: unknown key; did you mean "study"?'),
        ("machines.tugg.price=2",
         'command line: --set machines.tugg.price=2: machines has no "tugg"; did you mean "tug"?'),
        ("titles.tugg.close=2",
         'command line: --set titles.tugg.close=2: titles has no "tugg"; did you mean "tug"?'),
        ("titles.tug.rules.undertoe.cap=2",
     'command line: --set titles.tug.rules.undertoe.cap=2: titles.tug.rules has no "undertoe"; did '
     'you mean "undertow"?'),
        ("titles.tug.attempts.hawl.points=2",
     'command line: --set titles.tug.attempts.hawl.points=2: titles.tug.attempts has no "hawl"; did '
     'you mean "haul"?'),
        ("machines.zzz={price=1}",
         'command line: --set machines.zzz={price=1}: machines has no "zzz"; known: tug, lantern, shingle'),
        ("machines.tug.price=-1",
         "FILE: --set machines.tug.price = -1: must lie between 0 and 1000000; write 0 or more"),
        ("machines.tug.price=cheap",
         'FILE: --set machines.tug.price = "cheap": must be a whole number, not text; write it like price = 2'),
        ("machines.tug.price.credits=2",
         "command line: --set machines.tug.price.credits=2: machines.tug.price is a value, not a table; "
         "change machines.tug.price itself"),
        ("people.skill.sd.mean=2",
     "command line: --set people.skill.sd.mean=2: people.skill.sd is a value, not a table; change "
     "people.skill.sd itself"),
        ("machines.tug=5", "FILE: --set machines.tug = 5: must be a table, not a number; begin it with [machines.tug]"),
        ("study.warm_up=50",
         "FILE: --set study.warm_up = 50: must be less than study.days = 42, or nothing is left to measure; make days "
         "longer or warm_up shorter"),
        ("titles.lantern.rules.breeze.shift=[[1, 5]]",
     "FILE: --set titles.lantern.rules.breeze.shift[item 1][item 2] = 5: must lie between -1 and 1; "
     "write 1 or less"),
        *[
            (text, f"command line: --set {shown}: is not KEY=VALUE; write it like --set machines.front.price=2")
            for text, shown in [
                ("days", "days"), ("study.days", "study.days"), ("study.days=", "study.days="), ("=3", "=3"),
                (" = 3", " = 3"), ("study days=3", "study days=3"), ("study..days=3", "study..days=3"),
                ("a=1\nb=2", r"a=1\nb=2"), ("", ""), ('"study=3', '"study=3'),
            ]
        ],
    ],
)  # fmt: skip
def test_changes_that_cannot_be_made(change: str, line: str) -> None:
    assert refused(change)[0] == line


def test_changes_that_nest_without_end() -> None:
    refused("venue.deep." + "a." * 3000 + "a=1")
    assert "without end" in refused("venue.deep." + "a." * 1000 + "a=1")[0]
    refused("venue.deep=" + "[" * 5000)
    refused("venue.deep=" + "{a=" * 3000 + "1" + "}" * 3000)


def test_a_new_key_may_be_set_where_the_scenario_knows_it() -> None:
    assert with_changes("machines.shingle.line_limit=2").scenario.machines["shingle"].line_limit == 2
    assert (
        with_changes("titles.lantern.rules.breeze.switch=wind").scenario.titles["lantern"].rules["breeze"].switch
        == "wind"
    )


def test_a_title_called_like_a_table_of_the_scenario_can_be_changed(tmp_path: Path) -> None:
    text = (
        PIER.read_text(encoding="utf-8")
        .replace("titles.tug", "titles.rules")
        .replace('title = "tug"', 'title = "rules"')
    )
    path = tmp_path / "x.toml"
    path.write_text(text, encoding="utf-8")
    assert load(path, ["titles.rules.tie=next score"]).scenario.titles["rules"].tie == "next score"
    assert refused("titles.rules.tye=draw", path=path) == [
        'FILE: --set titles.rules.tye: unknown key; did you mean "tie"?'
    ]


def test_a_key_in_quotes_may_hold_a_sign_of_equality(tmp_path: Path) -> None:
    path = tmp_path / "x.toml"
    path.write_text(PIER.read_text(encoding="utf-8").replace("[machines.shingle", '[machines."a=b"'), encoding="utf-8")
    assert load(path, ['machines."a=b".price=7']).scenario.machines["a=b"].price == 7


def test_changes_and_options_are_checked_together() -> None:
    """Neither is sound alone, in either order."""
    file = FOLDER / "pier.toml"
    assert load(file).scenario.study.days == 42
    found = load(file, ["study.warm_up=60"], {"days": 84, "seed": None}).scenario.study
    assert (found.days, found.warm_up) == (84, 60)
    assert load(file, ["study.warm_up=0"], {"days": 5}).scenario.study.days == 5
    with pytest.raises(ScenarioError, match=r"--set study\.warm_up"):
        load(file, ["study.warm_up=90"], {"days": 84})
    with pytest.raises(ScenarioError, match="--days"):
        load(file, [], {"days": 0})


def test_an_option_of_strength_leaves_the_time_before_as_it_was(tmp_path: Path) -> None:
    file = tmp_path / "pier.toml"
    text = (FOLDER / "pier.toml").read_text(encoding="utf-8")
    file.write_text(text + "\n[study.before]\ndays = 28\n", encoding="utf-8")
    before = load(file, [], {"strength": 0.0}).scenario.study.before
    assert before is not None
    assert before.strength == 1.0
    same = load(file, [], {"strength": 1.0}).scenario.study.before
    assert same is not None
    assert same.strength is None
