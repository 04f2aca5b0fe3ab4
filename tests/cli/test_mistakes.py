"""Bad input to the command: one line with what, where, the bound and the fix; exit 2; nothing half-written."""

from __future__ import annotations

import os
from pathlib import Path

import click
import pytest

from venue.cli.options import parse_strengths

from .building import SMALL, Shell

SCENARIO = [
    (("check", "none.toml"), "none.toml: file: no such file; write one with `venue new FILE`"),
    (("check", "smal.toml"), "smal.toml: file: no such file; did you mean small.toml?"),
    (("run", "."), ".: file: is a folder, must be a TOML file; name a file in it"),
    (("run", ""), ".: file: is a folder, must be a TOML file; name a file in it"),
    (("check", "small.toml", "--set", "machines.reeds.prise=2"),
     'small.toml: --set machines.reeds.prise: unknown key; did you mean "price"?'),
    (("run", "small.toml", "--set", "machines.reed.price=2"),
     'command line: --set machines.reed.price=2: machines has no "reed"; did you mean "reeds"?'),
    (("run", "small.toml", "--set", "study.days"),
     "command line: --set study.days: is not KEY=VALUE; write it like --set machines.front.price=2"),
    (("run", "small.toml", "--strength", "-1"),
     "small.toml: --strength = -1: must lie between 0 and 100; write 0 or more"),
    (("run", "small.toml", "--strength", "nan"), "small.toml: --strength = nan: must be a number; write one"),
    (("run", "small.toml", "--strength", "1e9"),
     "small.toml: --strength = 1000000000.0: must lie between 0 and 100; write 100 or less"),
    (("sweep", "small.toml", "--replications", "0"),
     "small.toml: --replications = 0: must lie between 1 and 1000000; write 1 or more"),
    (("sweep", "small.toml", "--seed", "-1"),
     "small.toml: --seed = -1: must lie between 0 and 4294967295; write 0 or more"),
    (("sweep", "small.toml", "--days", "0"), "small.toml: --days = 0: must lie between 1 and 36500; write 1 or more"),
    (("sweep", "small.toml", "--days", "1"),
     "small.toml: study.warm_up = 1: must be less than study.days = 1, or nothing is left to measure; make days longer "
     "or warm_up shorter"),
]  # fmt: skip
OPTIONS = [
    (("sweep", "small.toml", "--workers", "0"), "--workers: 0 must be at least 1; write it like --workers 2"),
    (("sweep", "small.toml", "--workers", "-2"), "--workers: -2 must be at least 1; write it like --workers 2"),
    (("sweep", "small.toml", "--workers", "two"), '--workers: "two" must be a whole number; write it like --workers 2'),
    (("run", "small.toml", "--seed", "1.5"), '--seed: "1.5" must be a whole number; write it like --seed 7'),
    (("run", "small.toml", "--days", ""), '--days: "" must be a whole number; write it like --days 56'),
    (("run", "small.toml", "--strength", "strong"),
     '--strength: "strong" must be a number; write it like --strength 0.5'),
    (("contest", "small.toml", "--gap", "nan"), "--gap: nan must be within -20 and 20; write it like --gap 0.3"),
    (("contest", "small.toml", "--gap", "50"), "--gap: 50 must be within -20 and 20; write it like --gap 0.3"),
    (("run", "small.toml", "--strenth", "1"),
     "--strenth: no such option; did you mean --strength or --store or --set?"),
    (("run",), "SCENARIO is missing; see venue run --help"),
    (("new",), "FILE is missing; see venue new --help"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("words", "line"), SCENARIO + OPTIONS, ids=[" ".join(words) for words, _ in SCENARIO + OPTIONS]
)
def test_mistakes_are_told_in_a_line(shell: Shell, words: tuple[str, ...], line: str) -> None:
    assert shell.refused(*words) == line


@pytest.mark.parametrize(
    "words", [("swep", "x"), ("run", "small.toml", "more"), ("run", "small.toml", "--seed"), ("--quiet",)]
)
def test_other_slips_are_a_line_too(shell: Shell, words: tuple[str, ...]) -> None:
    assert shell.refused(*words)


STRENGTHS = [
    ("2:0:0.5", '"2:0:0.5" runs backwards; did you mean 0:2:0.5?'),
    ("", "is empty; write it like 0:2:0.25 or 0,0.5,1"),
    (" , ", "is empty; write it like 0:2:0.25 or 0,0.5,1"),
    ("0:2", '"0:2" is not START:STOP:STEP; write it like 0:2:0.25'),
    ("0:2:0", 'step 0 in "0:2:0" must be more than 0; write it like 0:2:0.25'),
    ("0:2:-1", "-1 must lie between 0 and 100; 0 is off, 1 as designed"),
    ("-1:2:1", "-1 must lie between 0 and 100; 0 is off, 1 as designed"),
    ("0:101:1", "101 must lie between 0 and 100; 0 is off, 1 as designed"),
    ("0:2:0.0001", '"0:2:0.0001" names more than 1000 strengths; widen the step'),
    ("0:1:5e-324", '"0:1:5e-324" names more than 1000 strengths; widen the step'),
    ("0:1e-11:1e-12", '"0:1e-11:1e-12" names one twice; widen the step'),
    ("strong", '"strong" in "strong" is not a number; write it like 0:2:0.25'),
    ("0:x:1", '"x" in "0:x:1" is not a number; write it like 0:2:0.25'),
    ("nan", "nan must lie between 0 and 100; 0 is off, 1 as designed"),
    ("inf", "inf must lie between 0 and 100; 0 is off, 1 as designed"),
    ("1,0.5,1", '"1,0.5,1" is not in rising order; did you mean 0.5,1?'),
    ("0,1,1", '"0,1,1" names one twice; did you mean 0,1?'),
    (",".join(map(str, range(100))) + "," + ",".join(f"99.{n:04d}" for n in range(1, 1000)),
     "names more than 1000 strengths; leave some out"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "words"), STRENGTHS, ids=[text[:20] or "empty" for text, _ in STRENGTHS])
def test_strengths_that_cannot_be_studied(text: str, words: str, shell: Shell) -> None:
    with pytest.raises(click.BadParameter) as caught:
        parse_strengths(text)
    assert caught.value.message == words
    assert shell.refused("sweep", "small.toml", f"--strengths={text}") == f"--strengths: {words}"
    assert shell.refused("contest", "small.toml", f"--strengths={text}") == f"--strengths: {words}"


@pytest.mark.parametrize(
    ("text", "values"),
    [("0:2:0.5", [0, 0.5, 1, 1.5, 2]), ("0:0.3:0.1", [0, 0.1, 0.2, 0.3]), ("1:1:1", [1]), ("0:1:0.4", [0, 0.4, 0.8]),
     ("0.5", [0.5]), ("0, 0.5 ,1,", [0, 0.5, 1]), ("0:100:0.1", [round(n / 10, 10) for n in range(1001)])],
)  # fmt: skip
def test_strengths_that_can(text: str, values: list[float]) -> None:
    if len(values) > 1000:
        with pytest.raises(click.BadParameter):
            parse_strengths(text)
    else:
        assert parse_strengths(text) == values


def test_several_faults_of_a_file_are_a_line_each(shell: Shell) -> None:
    Path("bad.toml").write_text(SMALL.replace("price = 1", "prise = 1"), encoding="utf-8")
    outcome = shell("check", "bad.toml")
    assert (outcome.code, outcome.out) == (2, "")
    assert outcome.err.split("\n")[:-1] == [
        "venue: bad.toml: machines.reeds.price: is missing; add it, like price = 2",
        'venue: bad.toml: machines.reeds.prise: unknown key; did you mean "price"?',
        "venue: bad.toml: machines.nuts.price: is missing; add it, like price = 2",
        'venue: bad.toml: machines.nuts.prise: unknown key; did you mean "price"?',
    ]


@pytest.mark.parametrize("content", [b"", b"\xff\xfe\x00", b"a = [", b"a." * 3000 + b"a=1", b"x = 0x" + b"f" * 20_000])
@pytest.mark.parametrize("command", ["check", "run", "sweep", "contest"])
def test_files_that_are_no_scenarios(shell: Shell, command: str, content: bytes) -> None:
    Path("bad.toml").write_bytes(content)
    outcome = shell(command, "bad.toml")
    assert (outcome.code, outcome.out) == (2, "")
    for line in outcome.err.split("\n")[:-1]:
        assert line.startswith("venue: bad.toml: ") and line.isprintable()


def test_places_for_results_that_cannot_be_used(shell: Shell, monkeypatch: pytest.MonkeyPatch) -> None:
    """Found out before anything is run."""
    monkeypatch.setattr("venue.api.run", lambda *args, **kwargs: pytest.fail("was run"))
    run = ("run", "small.toml", "--out")
    assert shell.refused(*run, "small.toml") == "--out small.toml: is a file, must be a folder; name another"
    assert shell.refused(*run, "small.toml/out").startswith("--out small.toml/out: ")
    assert shell.refused(*run, ".") == "--out .: already holds files; add --force to replace the results in it"
    assert shell.refused(*run, "") == "--out: is empty, must be a folder; write it like --out results"
    monkeypatch.setattr(os, "access", lambda path, mode: False)
    assert shell.refused(*run, "new").endswith("is not writable; name a folder of your own")


def test_a_mistake_leaves_no_folder(shell: Shell) -> None:
    shell.refused("run", "small.toml", "--out", "results", "--set", "study.days=0")
    assert not Path("results").exists()


def test_names_that_would_steer_a_terminal_are_shown_as_escapes(shell: Shell) -> None:
    line = shell.refused("check", "no\x1b[2J\nsuch.toml")
    assert line.startswith(r"no\x1b[2J\nsuch.toml: file: no such file")
    assert shell.refused("new", "no\udcff/x.toml").startswith(r"no\udcff/x.toml: cannot be written")
    shell.refused("run", "small.toml", "--set", "a\x1b=\n")
    shell.refused("contest", "small.toml", "--title", "\x1b[31m")
    shell.refused("run", "small.toml", "--out", "small.toml/\x1b")
