"""`venue report` and `--report`: where the page goes, what it is made from, what is refused."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from tests.page.building import Elements, sensitivity_plain, sweep_folder
from tests.report.building import scenario
from venue.report.folder import Folder
from venue.report.manifest import MANIFEST, Manifest

from .building import Shell

QUICK = ("--replications", "2", "--days", "8", "--workers", "1", "--no-store")


def title_of(file: Path) -> str:
    return str(Elements(file.read_text(encoding="utf-8")).all("title")[0]["text"])


def test_a_folder_becomes_a_page_beside_its_results(shell: Shell) -> None:
    assert shell("run", "small.toml", *QUICK, "--out", "results").code == 0
    outcome = shell("report", "results")
    assert (outcome.code, outcome.out) == (0, "results/report.html\n")
    assert title_of(shell.folder / "results" / "report.html") == "The Kiosk: run report"
    # The JSON names the same folder, and a page of one's own is replaced without asking.
    assert shell("report", "results/result.json").out == "results/report.html\n"
    assert shell("report", "results", "--out", "elsewhere/mine.html").out == "elsewhere/mine.html\n"
    assert (shell.folder / "elsewhere" / "mine.html").read_bytes() == (
        shell.folder / "results" / "report.html"
    ).read_bytes()


@pytest.mark.slow
@pytest.mark.parametrize(("kind", "begins"), [("png", b"\x89PNG"), ("pdf", b"%PDF"), ("svg", b"<?xml")])
def test_charts_as_files(shell: Shell, kind: str, begins: bytes) -> None:
    sweep_folder(shell.folder / "results")
    assert shell("report", "results", "--format", kind).code == 0
    files = {file.name: file for file in (shell.folder / "results" / "report-charts").iterdir()}
    facts = ("trade-off", "credits-per-hour", "fairness", "by-margin", "cohorts")
    assert {f"{fact}.{kind}" for fact in facts} <= set(files)
    assert all(file.read_bytes().startswith(begins) for file in files.values())


@pytest.mark.slow
def test_sensitivity_comes_from_a_folder_of_its_own(shell: Shell) -> None:
    sweep_folder(shell.folder / "results")
    Folder(shell.folder / "what").write(sensitivity_plain(), scenario(), {}, {})
    assert shell("report", "results", "--sensitivity", "what").code == 0
    assert "depends most on" in (shell.folder / "results" / "report.html").read_text(encoding="utf-8")


@pytest.mark.slow
def test_commands_make_their_own_page(shell: Shell) -> None:
    assert shell("run", "small.toml", *QUICK, "--report").code == 0
    assert title_of(shell.folder / "small-run.html") == "The Kiosk: run report"
    # What follows --report is its name only if it can be the name of a page.
    assert shell("sweep", "--report", "small.toml", "--strengths", "0,1", *QUICK, "--out", "results").code == 0
    assert title_of(shell.folder / "results" / "report.html") == "The Kiosk: sweep report"
    assert shell("compare", "small.toml", "--set", "machines.nuts.price=2", *QUICK, "--report", "two.html").code == 0
    assert title_of(shell.folder / "two.html") == "The Kiosk: comparison report"
    assert shell("contest", "small.toml", "--report", "exact.html").code == 0
    assert title_of(shell.folder / "exact.html") == "The Kiosk: title report"


@pytest.mark.slow
def test_a_page_made_at_once_is_the_one_made_from_the_folder(shell: Shell) -> None:
    words = ("small.toml", "--strengths", "0,1", *QUICK)
    assert shell("sweep", *words, "--out", "results", "--report", "now.html", "--quiet").code == 0
    assert shell("report", "results", "--out", "later.html").code == 0
    now, later = (Elements((shell.folder / name).read_text(encoding="utf-8")) for name in ("now.html", "later.html"))
    assert [item["text"] for item in now.all("data")] == [item["text"] for item in later.all("data")]
    assert [item["attributes"] for item in now.all("a")] == [item["attributes"] for item in later.all("a")]


@pytest.mark.slow
def test_the_command_on_the_page_gives_the_same_figures(shell: Shell) -> None:
    over = ("--over", "machines.nuts.price=1,2", "--over", "strength=0,1")
    for words in (("--strengths", "0,1"), over):
        first = shell("sweep", "small.toml", *words, *QUICK, "--seed", "5", "--out", "results", "--report", "--force")
        assert first.code == 0
        page = Elements((shell.folder / "results" / "report.html").read_text(encoding="utf-8"))
        # The last command on the page is the one that gives its figures again.
        command = [item for item in page.all("code") if item["attributes"].get("class") == "command"][-1][
            "text"
        ].split()
        shutil.copy(shell.folder / "results" / "scenario.toml", shell.folder / "scenario.toml")
        assert command[:3] == ["venue", "sweep", "scenario.toml"]
        again = shell(*command[1:], "--no-store", "--workers", "1", "--json").json
        before = json.loads((shell.folder / "results" / "result.json").read_text(encoding="utf-8"))
        assert again["points"] == before["points"] and again["best"] == before["best"]


def test_what_cannot_be_made_into_a_page(shell: Shell) -> None:
    (shell.folder / "empty").mkdir()
    (shell.folder / "text.html").write_text("mine", encoding="utf-8")
    (shell.folder / "other").mkdir()
    (shell.folder / "other" / "result.json").write_text('{"a": 1}', encoding="utf-8")
    sweep_folder(shell.folder / "torn")
    (shell.folder / "torn" / "result.json").write_text("{", encoding="utf-8")
    sweep_folder(shell.folder / "signed")
    (shell.folder / "signed" / "result.json").write_text("{", encoding="utf-8")
    Manifest.of(shell.folder / "signed", but=MANIFEST).write(shell.folder / "signed")
    sweep_folder(shell.folder / "alone")
    (shell.folder / "alone" / "scenario.toml").unlink()
    sweep_folder(shell.folder / "results")
    for words, why in [
        (("nowhere",), "nowhere: cannot be read, there is nothing of that name; name a folder that --out wrote"),
        (("empty",), "empty: cannot be read, it has no result.json; name a folder that --out wrote"),
        (("torn",), "torn: result.json was changed after it was written; run the command again with --out"),
        (("signed",), "signed/result.json: is not JSON"),
        (("other",), "other: has no manifest.json, which tells what was written together"),
        (("alone",), "alone: scenario.toml is not there any more"),
        (("results", "--out", "page.pdf"), "--out page.pdf: must end in .html; write it like --out report.html"),
        (("results", "--out", "text.html"), "--out text.html: already holds something that is no report of venue"),
        (("results", "--sensitivity", "results"), "--sensitivity results: holds a result of venue sweep"),
    ]:
        assert shell.refused("report", *words).startswith(why)
    assert "add --force" in shell.refused("run", "small.toml", "--report", "text.html")
    assert shell.refused("contest", "small.toml", "--watch", "--report").startswith("--watch writes no page")
    assert shell("report", "results", "--out", "text.html", "--force").code == 0
