"""What each command prints, where, and with which exit code."""

from __future__ import annotations

import csv
import json
import math
import shlex
from pathlib import Path
from typing import Any

import click
import pytest

import venue
from venue import api
from venue.cli.main import cli
from venue.errors import RunError
from venue.scenario.load import load

from .building import ROOT, SMALL, Outcome, Shell

COMMANDS = ("check", "compare", "contest", "new", "report", "run", "sensitivity", "studies", "sweep", "tune")
JARGON = ("pydantic", "traceback", "exception", "DataFrame", "stochastic", "callback", "dict", "regex", "monte carlo",
          "logit", "multiprocessing", "TOML value", "root of every")  # fmt: skip


@pytest.mark.parametrize("command", COMMANDS)
def test_help_of_a_command_has_examples_and_no_jargon(shell: Shell, command: str) -> None:
    outcome = shell(command, "--help")
    assert (outcome.code, outcome.err) == (0, "")
    assert outcome.out.startswith(f"Usage: venue {command} ")
    examples = outcome.out.partition("Examples:")[2].partition("Options:")[0]
    assert examples.count(f"venue {command} ") >= 2
    for word in JARGON:
        assert word.lower() not in outcome.out.lower(), word
    assert shell(command, "-h").out == outcome.out


@pytest.mark.parametrize("command", COMMANDS)
def test_examples_of_the_help_are_commands_that_exist(shell: Shell, command: str) -> None:
    """Each option in an example is an option of the command; each demo scenario named is there."""
    shown = shell(command, "--help").out.partition("Examples:")[2].partition("Options:")[0]
    text = shown.replace("\\\n", " ")
    options = {name for option in cli.commands[command].params for name in option.opts}
    for line in text.strip().split("\n"):
        words = line.split()
        assert {word for word in words if word.startswith("--")} <= options
        for word in words:
            if word.startswith("scenarios/") and command != "new":
                pairs = enumerate(shlex.split(line))
                changes = [
                    part for i, other in pairs if other == "--set" for part in shlex.split(line)[i + 1].split(";")
                ]
                titles = load(ROOT / word, changes).scenario.titles
                if command == "contest":
                    assert words[words.index("--title") + 1] in titles if "--title" in words else len(titles) == 1


def test_help_lists_every_command_in_a_whole_sentence(shell: Shell) -> None:
    text = shell("--help").out
    lines = [line.strip() for line in text.partition("Commands:")[2].strip().split("\n")]
    assert [line.split()[0] for line in lines] == sorted(COMMANDS)
    assert all(line.endswith(".") and "..." not in line for line in lines)
    assert all(len(line) <= 100 for line in text.split("\n"))


def test_no_command_shows_the_help(shell: Shell) -> None:
    outcome = shell()
    assert (outcome.code, outcome.out, outcome.err) == (0, shell("--help").out, "")


def test_version(shell: Shell) -> None:
    assert shell("--version").out == f"{venue.__version__}\n"


def test_new_writes_a_starter_that_passes_check(shell: Shell) -> None:
    assert shell("new", "mine.toml") == Outcome(0, "", "")
    assert shell("check", "mine.toml").code == 0
    assert shell("new", "other.toml", "--json").json == {"written": "other.toml", "version": venue.__version__}
    assert shell.refused("new", "mine.toml") == "mine.toml: already exists and is left as it is; name a new file"
    assert shell.refused("new", "no/where.toml").startswith("no/where.toml: cannot be written")


def test_check_says_what_will_be_run(shell: Shell) -> None:
    outcome = shell("check", "small.toml", "--set", "machines.reeds.price=2")
    assert (outcome.code, outcome.err) == (0, "")
    assert outcome.out.startswith("small.toml: sound\n")
    assert "2 replications of 4 days" in outcome.out


def test_check_json(shell: Shell) -> None:
    outcome = shell("check", "small.toml", "--json")
    assert outcome.err == ""
    assert set(outcome.json) == {"scenario", "version", "resolved", "sources"}
    assert {"key", "value", "from", "note"} == set(outcome.json["sources"][0])
    # A taste of minus infinity, the default of resting, has no word in JSON.
    assert outcome.json["resolved"]["people"]["choice"]["rest"] == "-inf"


def test_check_schema(shell: Shell) -> None:
    outcome = shell("check", "--schema")
    assert (outcome.code, outcome.err) == (0, "")
    assert json.loads(outcome.out) == shell("check", "--schema", "--json").json
    assert json.loads(outcome.out)["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert shell.refused("check", "--schema", "small.toml").startswith("--schema: is the same for every scenario")
    assert shell.refused("check") == "SCENARIO is missing; see venue check --help"


def test_run_json(shell: Shell) -> None:
    outcome = shell("run", "small.toml", "--json", "--workers", "1", "--seed", "3", "--strength", "0.5")
    assert (outcome.code, outcome.err) == (0, "")
    found = outcome.json
    assert {"scenario", "version", "seed", "strength", "days", "replications", "measures", "machines", "left_because",
            "accounts"} <= set(found)  # fmt: skip
    assert (found["scenario"], found["version"], found["seed"]) == ("small.toml", venue.__version__, 3)
    assert (found["strength"], found["days"], found["replications"]) == (0.5, 4, 2)
    for measures in (found["measures"], *(machine["measures"] for machine in found["machines"])):
        for item in measures.values():
            assert set(item) == {"mean", "low", "high", "unit"}
    assert [(machine["name"], machine["title"]) for machine in found["machines"]] == [
        ("reeds", "reeds"),
        ("nuts", None),
    ]
    assert math.isclose(sum(found["left_because"].values()), 1.0)
    assert all(set(account) == {"name", "left", "right"} for account in found["accounts"])


BREAK = ("--set", "titles.reeds.periods=2")


def test_run_says_what_people_did(shell: Shell) -> None:
    found = shell("run", "small.toml", *BREAK, "--json", "--workers", "1").json
    assert {"moved_because", "by_margin", "return_curve", "cohorts", "weeks"} <= set(found)
    for row in found["by_margin"]:
        assert {"title", "margin", "band", "offers", "taken", "perceived", "true"} == set(row)
        assert {"mean", "low", "high"} == set(row["taken"])
    assert found["by_margin"] and found["weeks"][0]["week"] == 1
    # A sweep says it of every point, and `run` of the same setting says the same.
    points = shell("sweep", "small.toml", *BREAK, "--json", "--workers", "1", "--strengths", "0,1").json["points"]
    assert {key: points[1][key] for key in ("by_margin", "weeks", "cohorts")} == {
        key: found[key] for key in ("by_margin", "weeks", "cohorts")
    }


def test_rows_of_a_run(shell: Shell) -> None:
    assert shell("run", "small.toml", *BREAK, "--workers", "1", "--rows", "--out", "rows").code == 0
    with (shell.folder / "rows" / "offers.csv").open(newline="") as file:
        offers = list(csv.DictReader(file))
    with (shell.folder / "rows" / "plays.csv").open(newline="") as file:
        plays = list(csv.DictReader(file))
    assert {"kind", "price_credits", "margin_points", "perceived", "true_chance", "taken", "because"} <= set(offers[0])
    assert {row["kind"] for row in offers} == {"start", "break", "again"}
    assert {row["machine"] for row in plays} == {"reeds", "nuts"}
    # Contests that were left early are there, without a result.
    assert {row["result"] for row in plays if row["finished"] == "False"} == {""}
    assert (shell.folder / "rows" / "visits.csv").read_text().startswith("strength,replication,person,visit,")


def test_rows_need_a_folder(shell: Shell) -> None:
    assert shell.refused("run", "small.toml", "--rows") == ("--rows: writes files, so it needs a folder; add --out DIR")


def test_sweep_json(shell: Shell) -> None:
    outcome = shell("sweep", "small.toml", "--json", "--workers", "1", "--strengths", "0,1")
    assert (outcome.code, outcome.err) == (0, "")
    found = outcome.json
    assert {"scenario", "version", "seed", "points", "best"} <= set(found)
    assert [point["strength"] for point in found["points"]] == [0.0, 1.0]
    assert {"mean", "low", "high", "unit"} == set(found["points"][0]["measures"]["credits_per_hour"])
    assert {"strength", "reason"} <= set(found["best"])


def test_sweep_over_two_keys(shell: Shell) -> None:
    words = ("--over", "machines.reeds.price=1:2:1", "--over", "people.stay.median=30 min,1 h", "--workers", "1")
    found = shell("sweep", "small.toml", *words, "--json").json
    at = [point["at"] for point in found["points"]]
    assert at == [
        {"machines.reeds.price": price, "people.stay.median": stay}
        for price in (1.0, 2.0)
        for stay in ("30 min", "1 h")
    ]
    shell.watched = True
    asked = "--over machines.reeds.price=1,2 --over 'people.stay.median=30 min,1 h' --seed 1 --sure 95%"
    assert shell("sweep", "small.toml", *words, "--seed", "1").err == f"next: venue sweep small.toml {asked}\n"
    outcome = shell("sweep", "small.toml", *words, "--sure", "50%", "--worth", "100", "--out", "o")
    best = json.loads((shell.folder / "o" / "result.json").read_text())["best"]["at"]
    assert f"--set machines.reeds.price={best['machines.reeds.price']:g} --set 'people.stay.median=" in outcome.err
    assert (shell.folder / "o" / "map-credits-per-hour.png").exists()
    header = (shell.folder / "o" / "machines.csv").read_text().splitlines()[0]
    assert header.startswith("machines.reeds.price,people.stay.median,machine,")


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--over", "price"), '--over: "price" is not KEY=VALUES; write it like machines.front.price=1:4:1'),
        (("--over", "people.skill.sd=3:1:1"), '--over: "3:1:1" runs backwards; did you mean 1:3:1?'),
        (("--over", "people.skill.sd=1:2:0"), '--over: step 0 in "1:2:0" must be more than 0; write it like 0:2:0.25'),
        (("--over", "strength=1:2:-1"), "--over: -1 must lie between 0 and 100; 0 is off, 1 as designed"),
        (("--over", "strength=1", "--over", "strength=2"), "--over: names strength twice; give all its values at once"),
        (("--over", "people.stay.median=1 s:2 min:1 s"),
         '--over: "1 s:2 min:1 s" mixes units; write them alike, like 20 s:60 s:20 s'),
        (("--over", "strength=1", "--strengths", "1"),
         "--strengths and --over exclude each other; write --over strength=0:2:0.5; see venue sweep --help"),
        (("--over", "people.skill.dev=1,2"),
         "--over people.skill.dev: unknown key; known: mean, sd, practice, practice_limit"),
    ],
)  # fmt: skip
def test_sweeps_that_cannot_be(shell: Shell, words: tuple[str, ...], told: str) -> None:
    found = shell.refused("sweep", "small.toml", *words)
    assert found.removeprefix("small.toml: ").startswith(told)


def test_one_replication_alone(shell: Shell) -> None:
    alone = shell("run", "small.toml", "--json", "--workers", "1", "--only", "1").json
    both = shell("run", "small.toml", "--json", "--workers", "1").json
    first = shell("run", "small.toml", "--json", "--workers", "1", "--only", "0").json
    means = [item["measures"]["credits_per_hour"]["mean"] for item in (first, alone, both)]
    assert math.isclose((means[0] + means[1]) / 2, means[2])
    assert alone["replications"] == 1


def test_compare_json(shell: Shell) -> None:
    words = ("compare", "small.toml", "--set", "machines.reeds.price=2; people.skill.sd=0.4", "--strength", "0.5")
    outcome = shell(*words, "--workers", "1", "--json", "--out", "o")
    assert (outcome.code, outcome.err) == (0, "")
    found = outcome.json
    assert [item["name"] for item in found["scenarios"]] == ["small", "machines.reeds.price=2; people.skill.sd=0.4"]
    assert found["scenarios"][1]["changes"] == ["machines.reeds.price=2", "people.skill.sd=0.4"]
    assert {item["strength"] for item in found["scenarios"]} == {0.5}
    first = found["comparisons"][0]["differences"][0]
    assert {"measure", "base", "other", "difference", "low", "high", "change", "variance_ratio", "unit"} <= set(first)
    assert {file.name for file in (shell.folder / "o").iterdir()} >= {"differences.csv", "differences.png"}
    text = shell(*words, "--workers", "1").out
    assert "machines.reeds.price=2; people.skill.sd=0.4 against small: " in text and "Caution" in text


def test_two_files_compared(shell: Shell) -> None:
    (shell.folder / "dear.toml").write_text(
        SMALL.replace("price = 1\n\n[machines.nuts]", "price = 2\n\n[machines.nuts]")
    )
    found = shell("compare", "small.toml", "dear.toml", "--workers", "1", "--json").json
    assert [item["name"] for item in found["scenarios"]] == ["small", "dear"]
    assert found["comparisons"][0]["against"] == "small"
    assert shell.refused("compare", "small.toml").startswith("compare: there is one scenario, at least 2 are needed")
    told = shell.refused("compare", "small.toml", "small.toml")
    assert told.startswith('compare: "small" and "small" hold the same scenario')
    assert shell.refused("compare", "small.toml", "--set", "machines.reeds.prise=2") == (
        'small.toml: --set machines.reeds.prise: unknown key; did you mean "price"?'
    )
    assert shell.refused("compare") == "SCENARIO... is missing; see venue compare --help"


def test_contest_json(shell: Shell) -> None:
    outcome = shell("contest", "small.toml", "--json", "--strengths", "0,2", "--gap", "0.4")
    assert (outcome.code, outcome.err) == (0, "")
    assert outcome.json["title"] == "reeds"
    assert [point["strength"] for point in outcome.json["points"]] == [0.0, 2.0]


@pytest.mark.parametrize(
    "words",
    [
        ("run", "small.toml"),
        ("sweep", "small.toml", "--strengths", "0,1"),
        ("contest", "small.toml", "--strengths", "0,1"),
    ],
)
def test_tables_go_to_stdout_and_nothing_to_stderr_without_a_terminal(shell: Shell, words: tuple[str, ...]) -> None:
    workers = () if words[0] == "contest" else ("--workers", "1")
    outcome = shell(*words, *workers)
    assert (outcome.code, outcome.err) == (0, "")
    assert "The Kiosk" in outcome.out
    assert outcome.out == shell(*words, *workers, "--quiet").out


def test_an_option_of_the_study_overrides_the_file(shell: Shell) -> None:
    outcome = shell("run", "small.toml", "--json", "--days", "3", "--replications", "1", "--workers", "1")
    assert (outcome.json["days"], outcome.json["replications"]) == (3, 1)
    assert outcome.json["measures"]["credits_per_hour"]["low"] is None


def test_results_go_to_a_folder_too(shell: Shell) -> None:
    words = ("run", "small.toml", "--workers", "1", "--seed", "5")
    outcome = shell(*words, "--json", "--out", "out")
    assert (outcome.code, outcome.err) == (0, "")
    assert json.loads((shell.folder / "out" / "result.json").read_text()) == outcome.json
    # What is in the folder says all that is needed to run it again.
    again = shell("run", "out/scenario.toml", "--workers", "1", "--json").json
    assert {**again, "scenario": "small.toml"} == outcome.json
    assert shell.refused(*words, "--out", "out") == (
        "--out out: already holds files; add --force to replace the results in it"
    )
    (shell.folder / "out" / "mine.txt").write_text("x")
    assert shell(*words, "--out", "out", "--force", "--quiet").code == 0
    assert (shell.folder / "out" / "mine.txt").read_text() == "x"


def test_contest_and_sweep_write_their_folders(shell: Shell) -> None:
    assert shell("contest", "small.toml", "--strengths", "0,1", "--out", "a").code == 0
    assert shell("sweep", "small.toml", "--strengths", "0,1", "--workers", "1", "--out", "b").code == 0
    assert (shell.folder / "a" / "fairness.png").exists() and (shell.folder / "b" / "credits-per-hour.svg").exists()


def test_a_venue_that_nobody_comes_to(shell: Shell) -> None:
    nobody = ("--set", "venue.arrivals.per_hour={'12:00'=1e-9}", "--workers", "1")
    outcome = shell("run", "small.toml", *nobody, "--out", "run")
    assert (outcome.code, outcome.err) == (0, "")
    assert "Not known: credits_per_play, " in outcome.out and "left because" not in outcome.out
    assert (shell.folder / "run" / "left_because.csv").read_text() == "reason,share_of_visits\n"
    assert shell("sweep", "small.toml", *nobody, "--strengths", "0,1", "--out", "sweep").code == 0
    assert (shell.folder / "sweep" / "left_because.csv").read_text() == "strength,reason,share_of_visits\n"


def test_a_failed_run_exits_with_one(shell: Shell, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*args: Any, **kwargs: Any) -> Any:
        raise RunError("replication 3 at strength 1, seed 1: the accounts\ndo not balance")

    monkeypatch.setattr(api, "run", fail)
    outcome = shell("run", "small.toml", "--out", "out")
    assert (outcome.code, outcome.out) == (1, "")
    assert outcome.err == r"venue: replication 3 at strength 1, seed 1: the accounts\ndo not balance" + "\n"
    assert not (shell.folder / "out").exists()


@pytest.mark.parametrize("stop", [KeyboardInterrupt, click.Abort])
def test_ctrl_c_exits_with_130(shell: Shell, monkeypatch: pytest.MonkeyPatch, stop: type[BaseException]) -> None:
    def interrupted(*args: Any, **kwargs: Any) -> Any:
        raise stop

    monkeypatch.setattr(api, "sweep", interrupted)
    outcome = shell("sweep", "small.toml", "--out", "out")
    assert (outcome.code, outcome.out) == (130, "")
    assert outcome.err.strip() == "venue: stopped; nothing was kept"
    assert not (shell.folder / "out").exists()


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("new", "my venue.toml"), "wrote my venue.toml\nnext: venue check 'my venue.toml'\n"),
        (("check", "small.toml", "--no-run"), "next: venue sweep small.toml\n"),
        (("check", "small.toml", "--set", "study.days=5"),
         "one short run, to see what the file implies; --no-run leaves it out\n"
         "next: venue sweep small.toml --set study.days=5\n"),
        (("contest", "small.toml", "--strengths", "1"), "next: venue sweep small.toml\n"),
        (("run", "small.toml", "--workers", "1"), "next: venue sweep small.toml\n"),
        (("compare", "small.toml", "--set", "machines.reeds.price=2; study.days=5", "--workers", "1"),
         "next: venue sweep small.toml --set machines.reeds.price=2 --set study.days=5\n"),
        (("sweep", "small.toml", "--strengths", "0", "--workers", "1", "--out", "o"),
         "written to o\nnext: venue run small.toml --strength 0\n"),
    ],
)  # fmt: skip
def test_whoever_watches_is_told_the_next_command(shell: Shell, words: tuple[str, ...], told: str) -> None:
    shell.watched = True
    outcome = shell(*words)
    assert (outcome.code, outcome.err) == (0, told)


@pytest.mark.parametrize("silence", ["--quiet", "--json"])
def test_whoever_watches_may_ask_for_silence(shell: Shell, silence: str) -> None:
    shell.watched = True
    assert shell("check", "small.toml", silence).err == ""
    assert shell("run", "small.toml", "--workers", "1", "--out", f"out{silence}", silence).err == ""
    assert shell("new", "x.toml", "--quiet").err == ""


def test_the_demo_scenarios_pass_check(shell: Shell) -> None:
    for file in sorted((ROOT / "scenarios").glob("*.toml")):
        assert shell("check", str(file), "--no-run").code == 0


def test_a_scenario_without_titles_or_with_several(shell: Shell) -> None:
    text = SMALL.partition("[titles.reeds]")[0] + '[machines.nuts]\nplay_time = "30 s"\nprice = 1\n'
    Path("plain.toml").write_text(text, encoding="utf-8")
    assert shell("run", "plain.toml", "--workers", "1", "--days", "9").code == 0
    # From here on files stay as they are.
    assert (
        shell.refused("contest", "plain.toml") == "plain.toml: titles: there is none; a contest needs a [titles.NAME]"
    )
    several = shell.refused("contest", str(ROOT / "scenarios" / "pier.toml"))
    assert several.endswith("titles: there are 2; name one with --title tug or lantern")
    assert shell.refused("contest", "small.toml", "--title", "reed").endswith('has no "reed"; did you mean "reeds"?')
