"""What the documents say is so: commands run, Python runs, links lead somewhere, the reference is the program's own."""

from __future__ import annotations

import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from venue.cli.main import cli

from .blocks import DOCUMENTS, ROOT, blocks, commands, is_setup
from .reference import TARGET, render

_SIMULATE = ("sweep", "run", "compare")
_SHORT = " --replications 1 --days 5 --workers 1 --set study.warm_up=1"


@pytest.fixture
def workplace(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder that holds the demo scenarios, as a clone does."""
    shutil.copytree(ROOT / "scenarios", tmp_path / "scenarios")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def short(command: str) -> str:
    """The command small: one replication of few days. It is run as it stands too."""
    name = command.split()[1]
    if name == "sensitivity":
        return f"{command} --set study.warm_up=1".replace("--days 16", "--days 3")
    if name not in _SIMULATE:
        return command
    # To `compare` a change is one more scenario.
    end = _SHORT.partition(" --set")[0].replace("5", "16") if name == "compare" else _SHORT
    return re.sub(r" --(replications|workers|days|precision|at-most|sure|worth) \S+", "", command) + end


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda path: path.name)
def test_commands_of_a_document_are_understood(document: Path, workplace: Path) -> None:
    """Every command of a document exists with its options, and the values given to them are of the right form."""
    for command in commands(document):
        name, *words = shlex.split(command)[1:] or [""]
        if not is_setup(command) and name:
            cli.commands[name].make_context(name, words, resilient_parsing=False)


@pytest.mark.slow
@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda path: path.name)
def test_commands_of_a_document_run(document: Path, workplace: Path) -> None:
    for command in commands(document):
        if not is_setup(command):
            result = CliRunner().invoke(cli, shlex.split(short(command))[1:], standalone_mode=False)
            assert result.exception is None, f"{command}: {result.exception}"


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda path: path.name)
def test_python_of_a_document_runs(document: Path, workplace: Path) -> None:
    for text in blocks(document, "python"):
        exec(compile(text, document.name, "exec"), {"__name__": "document"})


@pytest.mark.slow
@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda path: path.name)
def test_commands_of_a_document_run_as_they_stand(document: Path, workplace: Path) -> None:
    for command in commands(document):
        if not is_setup(command):
            line = command.replace("venue ", f'"{sys.executable}" -m venue ', 1)
            result = subprocess.run(["bash", "-c", line], capture_output=True, text=True, check=False)
            assert result.returncode == 0, f"{command}: {result.stderr}"


@pytest.mark.slow
def test_the_first_command_of_the_readme_works_in_an_empty_clone(tmp_path: Path) -> None:
    setup = [command for command in commands(ROOT / "README.md") if command.startswith("python3 -m venv")]
    assert len(setup) == 2, "the README shows two commands that do all the set-up"
    subprocess.run(["git", "clone", "-q", str(ROOT), str(tmp_path / "venue")], check=True)
    result = subprocess.run(
        ["bash", "-c", setup[0]], cwd=tmp_path / "venue", capture_output=True, text=True, check=False
    )
    assert result.returncode == 0, result.stderr
    assert "Recommended: strength" in result.stdout


def test_ci_runs_the_test_command_of_the_readme() -> None:
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    assert "README.md" in script and "python3 -m venv" in script


def test_the_scenario_page_is_the_programs_own() -> None:
    assert TARGET.read_text(encoding="utf-8") == render(), "run `python -m tests.docs.reference`"


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda path: path.name)
def test_links_lead_to_files(document: Path) -> None:
    for target in re.findall(r"\]\(([^)#]+)(?:#[^)]*)?\)", document.read_text(encoding="utf-8")):
        if "://" not in target:
            assert (document.parent / target).exists(), f"{document.name} links to {target}"
